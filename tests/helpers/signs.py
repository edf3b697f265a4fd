"""The minus: people read U+2212 on the page, the program prints a hyphen."""

from __future__ import annotations


def plain_signs(text: str) -> str:
    """Return what the page says with the minus that the program prints."""
    return text.replace("\N{MINUS SIGN}", "-")
