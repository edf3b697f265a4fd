"""Circuit physics on arrays: no files, no units as text, no board items."""
