"""What is changed of a board file while it is read: variants that it has, and single values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Changes:
    """Variants in the order in which they are applied, then single values.

    Attributes
    ----------
    variants : names under `[variants]` of the file
    values : each as `NAME.KEY=VALUE`
    """

    variants: tuple[str, ...] = ()
    values: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        """Whether anything is changed."""
        return bool(self.variants or self.values)


NO_CHANGES: Final = Changes()
