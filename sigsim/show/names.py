"""Boards by names that tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING

from sigsim.show.render.text import in_the_middle, plain

if TYPE_CHECKING:
    from sigsim.board.model import Board


def told_apart(boards: Sequence[Board], longest: int) -> list[str]:
    """Return a name for each board: its title, or where two have the same, its file's name.

    Long titles that begin alike are shortened in their middle, so that what differs is shown.

    Parameters
    ----------
    boards : from different files
    longest : how many characters are shown of a title; of a path as many as tell it apart
    """
    titles = shortened([board.name for board in boards], longest)
    files = [PurePath(board.file).name for board in boards]
    tails = path_tails([board.file for board in boards], longest)
    found = []
    for title, file, tail in zip(titles, files, tails, strict=True):
        by_file = plain(file, 1 + len(file)) if files.count(file) == 1 else tail
        found.append(title if titles.count(title) == 1 else by_file)
    return found


def shortened(titles: Sequence[str], longest: int) -> list[str]:
    """Return titles no longer than that many columns; those that then read alike keep their ends.

    Parameters
    ----------
    titles : of boards
    longest : how many columns are shown of one
    """
    ends_cut = [plain(title, longest) for title in titles]
    return [
        cut if ends_cut.count(cut) == 1 else in_the_middle(title, longest)
        for title, cut in zip(titles, ends_cut, strict=True)
    ]


def path_tails(paths: Sequence[str], longest: int) -> list[str]:
    """Return the ends of paths, where files differ, as long as tells them apart.

    Parameters
    ----------
    paths : of different files
    longest : how many characters are enough if they already differ
    """
    clean = [plain(path, 1 + 2 * len(path)) for path in paths]
    most = max(map(len, clean), default=0)
    while True:
        tails = [path if len(path) <= longest else f"…{path[1 - longest :]}" for path in clean]
        if len(set(tails)) == len(tails) or longest >= most:
            return tails
        longest += 10
