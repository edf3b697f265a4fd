"""States: which things are on, what the chain then does, and which of all states is worst."""
