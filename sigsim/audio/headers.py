"""What the header of a recording claims, held against the file; the library reads on in silence.

RIFF and its relatives: a name of four letters, a size, and that many bytes, chunk after chunk
(Multimedia Programming Interface and Data Specifications 1.0, 1991; for the large form EBU
Tech 3306; AIFF is the same with the large byte first).
"""

from __future__ import annotations

import os
import struct
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from collections.abc import Iterator

_ORDER: Final = {b"RIFF": "<", b"RF64": "<", b"RIFX": ">", b"FORM": ">"}
_SOUND: Final = (b"data", b"SSND")
# Whole numbers, floating point, and either with a longer header.
_PLAIN: Final = (1, 3, 0xFFFE)
_UNSAID: Final = 0xFFFFFFFF
# What some writers add to the size of the whole: their own header, or a byte that fills up.
_SLACK: Final = 8
_MOST_CHUNKS: Final = 10_000


def check_whole(path: Path) -> None:
    """See that a WAV or AIFF file is as long as its header says; other kinds are left alone.

    Raises
    ------
    SigsimError : it is not
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(12)
        order = _ORDER.get(head[:4])
        if order is None or len(head) < 12:
            return
        (claimed,) = struct.unpack(f"{order}I", head[4:8])
        large = head[:4] == b"RF64"
        if not large and claimed + 8 > size + _SLACK:
            raise _ends_early(path, claimed + 8, size)
        frame = 1
        for name, start, length in _chunks(file, order, large):
            if name == b"fmt ":
                frame = _frame(path, file, order)
            elif name in _SOUND and start + length > size:
                raise _ends_early(path, start + length, size)
            elif name in _SOUND and length % frame:
                what = "the recording ends in the middle of a sample"
                raise SigsimError(what, where=shown_path(path), found=f"{length:,} bytes")


def _frame(path: Path, file: BinaryIO, order: str) -> int:
    """Return the bytes of a frame of plain samples, 1 for others."""
    if len(head := file.read(16)) < 16:
        return 1
    kind, channels, _, _, frame, bits = struct.unpack(f"{order}HHIIHH", head)
    if kind not in _PLAIN:
        return 1
    if frame != channels * -(-bits // 8):
        raise SigsimError(
            "the header of this recording contradicts itself",
            where=shown_path(path),
            found=f"{channels} channels of {bits} bits in {frame} bytes",
        )
    return frame or 1


def _chunks(file: BinaryIO, order: str, large: bool) -> Iterator[tuple[bytes, int, int]]:
    """Yield the name of each chunk, where it starts and how long it says it is."""
    sound = _UNSAID
    for _ in range(_MOST_CHUNKS):
        head = file.read(8)
        if len(head) < 8:
            return
        name, length = head[:4], struct.unpack(f"{order}I", head[4:])[0]
        if large and name == b"ds64" and length >= 16:
            more = file.read(16)
            sound = struct.unpack("<Q", more[8:])[0] if len(more) == 16 else 0
            file.seek(-len(more), os.SEEK_CUR)
        if large and name in _SOUND and length == _UNSAID:
            length = sound
        start = file.tell()
        yield name, start, length
        file.seek(start + length + length % 2)


def _ends_early(path: Path, claimed: int, size: int) -> SigsimError:
    return SigsimError(
        "the recording ends before its header says",
        where=shown_path(path),
        found=f"{size:,} of {claimed:,} bytes",
        accepted="a whole file; a recorder that was cut off can leave such a one",
    )
