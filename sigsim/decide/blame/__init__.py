"""What costs the most in one state."""
