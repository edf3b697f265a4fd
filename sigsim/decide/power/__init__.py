"""What feeds a board: which pedal on which output, what is left, and for how long."""
