"""Which cable where, and how long it may be."""
