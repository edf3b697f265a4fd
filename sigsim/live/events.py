"""Server-sent events: what all windows hear, and how many of them are open."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any, Final

# A browser opens six connections to one place; windows may not take all of them.
MOST_OPEN: Final = 4
# A line that says nothing, after so many seconds, finds out who is gone.
_BEAT: Final = 15.0


class Events:
    """The windows that listen.

    Attributes
    ----------
    windows : how many have been opened so far
    """

    def __init__(self) -> None:
        self.windows = 0
        self._loop = asyncio.get_running_loop()
        self._open: dict[asyncio.Queue[dict[str, Any] | None], None] = {}
        self._last_left = self._loop.time()

    def tell(self, event: dict[str, Any]) -> None:
        """Tell all windows; may be called from any thread."""
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._tell, event)

    def alone(self) -> float:
        """Return for how long no window has been open [s]; 0 also before the first."""
        if self._open or not self.windows:
            return 0.0
        return self._loop.time() - self._last_left

    def close(self) -> None:
        """End all streams."""
        for queue in self._open:
            queue.put_nowait(None)

    async def stream(self, greeting: dict[str, Any]) -> AsyncIterator[bytes]:
        """Yield what one window hears until it leaves, the greeting first."""
        queue: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()
        self._make_room()
        self._open[queue] = None
        self.windows += 1
        try:
            yield _written(greeting)
            while True:
                try:
                    event = await asyncio.wait_for(queue.get(), _BEAT)
                except TimeoutError:
                    yield b": \n\n"
                    continue
                if event is None:
                    return
                yield _written(event)
                if "rest" in event:
                    return
        finally:
            self._open.pop(queue, None)
            self._last_left = self._loop.time()

    def _make_room(self) -> None:
        """Let the window that has been open for longest rest until it is looked at again."""
        if len(self._open) >= MOST_OPEN:
            next(iter(self._open)).put_nowait({"rest": True})

    def _tell(self, event: dict[str, Any]) -> None:
        for queue in self._open:
            queue.put_nowait(event)


def _written(event: dict[str, Any]) -> bytes:
    return f"data: {json.dumps(event)}\n\n".encode()
