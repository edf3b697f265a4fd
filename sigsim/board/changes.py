"""What is changed of a board file while it is read: variants that it has, and single values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

# What a title has room for.
_LONGEST: Final = 24
_MOST_NAMED: Final = 3


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

    @property
    def said(self) -> str:
        """What a title says of them, empty for nothing."""
        names = [n if len(n) <= _LONGEST else f"{n[: _LONGEST - 1]}…" for n in self.variants]
        more = f" + {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
        word = "variant" if len(names) == 1 else "variants"
        number = len(self.values)
        said = [f"{word} {' + '.join(names[:_MOST_NAMED])}{more}"] if names else []
        if number:
            said.append(f"{number} value{'s' if number > 1 else ''} set")
        return ", ".join(said)


NO_CHANGES: Final = Changes()


@dataclass(frozen=True)
class Altered:
    """One thing that a variant changes.

    Attributes
    ----------
    name : as the variant names it: a stage, `instrument`, `cables.lead`
    kind : "stage", "loop", "split", "tap", "pickup", or the section it is in
    now : its new name, empty where it keeps its own
    keys : what is given for it, each with its value as the file has it
    """

    name: str
    kind: str
    now: str
    keys: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Version:
    """What one variant makes of its file.

    Attributes
    ----------
    name : of the variant
    altered : what it changes
    out : the names that it leaves out
    joined : pairs of cables that lie end to end because what stood between them is out
    """

    name: str
    altered: tuple[Altered, ...] = ()
    out: tuple[str, ...] = ()
    joined: tuple[tuple[str, str], ...] = ()
