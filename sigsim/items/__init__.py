"""What a chain is made of: each item knows its fields and how a source walks through it."""
