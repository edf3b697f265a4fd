"""Netlists of a board for SPICE simulators, and running one of them as a second opinion."""
