"""Lengths as a person writes them."""

from __future__ import annotations


def metres(length: float) -> str:
    """Return a length [m] as `20 cm` or `6 m`."""
    return f"{length * 100:.3g} cm" if 0 < length < 0.995 else f"{length:.4g} m"
