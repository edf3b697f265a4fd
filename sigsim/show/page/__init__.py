"""The interactive page: its data, its sections, and the files that a browser runs."""
