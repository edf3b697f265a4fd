"""In which order the boxes of one level stand best."""
