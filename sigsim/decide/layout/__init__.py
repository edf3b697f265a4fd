"""Where things stand: every run, the lengths to take, what to buy, and rows with shorter runs."""
