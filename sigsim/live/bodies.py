"""What requests bring along: counted while it is read, and JSON of one kind."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from starlette.requests import Request

MOST_BYTES: Final = 2_000_000
MOST_RECORDED: Final = 60_000_000


class TooLargeError(SigsimError):
    """A request with more in it than is taken."""


async def body(request: Request, most: int) -> bytes:
    """Return the body of a request.

    Parameters
    ----------
    request : whose body is read
    most : how long it may be [byte], whatever the request says of its length

    Raises
    ------
    TooLargeError : it is longer; the rest is not read
    """
    told = request.headers.get("content-length", "")
    if told.isdecimal() and int(told[:12]) > most:
        raise _too_large(most)
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            raise _too_large(most)
        parts.append(part)
    return b"".join(parts)


async def given(request: Request) -> dict[str, Any]:
    """Return the JSON object that a request brings.

    Raises
    ------
    SigsimError : it brings none
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        raise SigsimError("this request is not JSON", accepted="application/json")
    try:
        found = json.loads(await body(request, MOST_BYTES))
    except (ValueError, RecursionError):
        raise SigsimError("this request is no JSON that can be read") from None
    if not isinstance(found, dict):
        raise SigsimError("this request is no JSON object", accepted="{…}")
    return found


def _too_large(most: int) -> TooLargeError:
    return TooLargeError("this is too large", accepted=f"at most {most // 10**6} MB")
