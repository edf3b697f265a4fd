"""Where things stand: boxes seen from above, their jacks, and the ways of cables between them."""
