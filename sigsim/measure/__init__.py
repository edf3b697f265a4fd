"""Measuring: recordings of a sweep become responses, and responses figures of a board file."""
