"""What tolerances make of the losses, and which figures matter."""
