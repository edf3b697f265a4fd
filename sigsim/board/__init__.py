"""The board: what a file says, checked; and the library of parts."""
