"""A recording through the difference of two circuits: filter, files, a phrase of our own."""
