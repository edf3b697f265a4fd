"""All that the page shows, gathered; and the board as coefficients that the page computes with."""
