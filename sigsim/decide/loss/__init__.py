"""The main question: what a chain loses, state by state and at worst."""
