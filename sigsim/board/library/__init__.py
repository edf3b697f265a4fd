"""Data files of the parts library."""
