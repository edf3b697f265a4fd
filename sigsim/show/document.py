"""What there is to say, before it is known where: the one model of all output.

A module of `show/` turns a result into a `Document`; a module of `render/` turns any document into
what a terminal prints, a page shows or a file holds. Names from files stand in here as they are:
what is markup, a formula or a control character in some place, only its renderer knows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal, TypeAlias

from sigsim.show.kinds import Kind

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sigsim.decide.layout.report import Standing

# The renderers by name. A terminal is narrow, all others are wide.
Place: TypeAlias = Literal["terminal", "browser", "html", "markdown", "csv"]
WIDE: Final[tuple[Place, ...]] = ("browser", "html", "markdown")


@dataclass(frozen=True)
class Heading:
    """The heading of what follows, up to the next."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """Sentences.

    Attributes
    ----------
    lines : each begins a new line
    quiet : whether this explains rather than answers
    apart : whether a terminal leaves an empty line behind it
    """

    lines: tuple[str, ...]
    quiet: bool = False
    apart: bool = False


@dataclass(frozen=True)
class Items:
    """A list of sentences."""

    lines: tuple[str, ...]


@dataclass(frozen=True)
class Drawing:
    """A figure, which goes to a file of its own.

    Attributes
    ----------
    draw : draws it into an empty figure
    alternative : says it in words
    title : its answer, which stands over it
    """

    draw: Callable[[Figure], object]
    alternative: str
    title: str


@dataclass(frozen=True)
class Fields:
    """Places of a printed sheet to fill in by hand, each with its name."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class Room:
    """Empty lines of a printed sheet to write on."""

    title: str
    lines: int


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    heading : where there is little room
    kind : how its cells are written
    wide : the heading where there is room; None for the narrow one with the unit of the kind
    key : the heading in CSV; a column without one is not in there
    once : whether a person is spared a cell that repeats the one above
    only : the places that show this column, empty for all
    rank : how early it is left out where there is no room for all, the highest first, 0 never;
        None for what holds for most: names stay, of all else what stands further right goes
    """

    heading: str
    kind: Kind
    wide: str | None = None
    key: str | None = None
    once: bool = False
    only: tuple[Place, ...] = ()
    rank: int | None = None

    @property
    def title(self) -> str:
        """The heading where there is room."""
        if self.wide is not None:
            return self.wide
        unit = f" ({self.kind.unit})" if self.kind.unit else ""
        return f"{self.heading.strip()}{unit}"


# What a cell holds: a number in SI units, a name, a `Resonance`, None … as its column's kind says.
Cell: TypeAlias = Any


@dataclass(frozen=True)
class Group:
    """A row that names what the rows below it belong to, up to the next group."""

    title: Cell


@dataclass(frozen=True)
class Total:
    """A row of sums over rows above; data are complete without it."""

    cells: tuple[Cell, ...]


Row: TypeAlias = tuple[Cell, ...] | Group | Total


@dataclass(frozen=True)
class Table:
    """A table.

    Attributes
    ----------
    caption : what it shows
    columns : of every row
    rows : of values, one for each column
    captioned : whether a terminal prints the caption as well
    most : how many columns beside the first a person is shown side by side; more stand below
    only : the places that show this table, empty for all

    Raises
    ------
    ValueError : a row with more or fewer cells than there are columns
    """

    caption: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    captioned: bool = field(default=True, kw_only=True)
    most: int | None = field(default=None, kw_only=True)
    only: tuple[Place, ...] = field(default=(), kw_only=True)

    def __post_init__(self) -> None:
        for row in self.rows:
            cells = row.cells if isinstance(row, Total) else row
            if not isinstance(cells, Group) and len(cells) != len(self.columns):
                raise ValueError(f"{len(cells)} cells in {len(self.columns)} columns: {cells}")

    @property
    def title(self) -> str:
        """The caption as a heading."""
        return self.caption.removesuffix(":")


@dataclass(frozen=True)
class FromAbove:
    """A layout from above, which a printed page shows to scale.

    Attributes
    ----------
    standing : the layout
    title : what it shows
    """

    standing: Standing
    title: str


Block: TypeAlias = Heading | Paragraph | Items | Table | Fields | Room | FromAbove


@dataclass(frozen=True)
class Document:
    """All there is to say in answer to one question.

    Attributes
    ----------
    title : of a page or file; a terminal does not print it
    blocks : one below the other
    subject : the name of the board, where the title is to say it
    """

    title: str
    blocks: tuple[Block, ...]
    subject: str = ""
