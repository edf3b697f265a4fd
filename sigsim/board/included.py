"""A board file inside another one: what stands in a loop's table in place of its path."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass
class Included:
    """A board file that a loop holds, read and parsed, with those that it holds itself.

    Attributes
    ----------
    path : as the loop's table gives it
    file : what messages call it
    text : of the file
    data : parsed; a loop's `board` in it is an `Included` again
    prefix : what stands before every name of it outside
    """

    path: str
    file: str
    text: str
    data: dict[str, Any]
    prefix: str = ""
