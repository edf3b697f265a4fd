"""What was understood of a board, and what an experienced player would ask."""
