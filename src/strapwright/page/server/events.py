"""What has happened, to every open tab: one numbered stream, so that a reload catches up."""

from __future__ import annotations

import asyncio
import json
from collections import deque
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

KEPT: Final = 200
"""So many messages are kept for tabs that come back."""

MOST_TABS: Final = 100
"""Most streams that are open at once."""

_BEAT: Final = 15.0
"""Seconds of silence after which a comment is sent, so that a closed tab is noticed."""


class Events:
    """Messages for all open tabs."""

    def __init__(self) -> None:
        self._kept: deque[tuple[int, str]] = deque(maxlen=KEPT)
        self._number = 0
        self._waiting: set[asyncio.Event] = set()
        self._closed = False

    @property
    def is_full(self) -> bool:
        """Whether as many tabs listen as may."""
        return len(self._waiting) >= MOST_TABS

    @property
    def number(self) -> int:
        """How many messages there have been."""
        return self._number

    def say(self, kind: str, **data: Any) -> None:
        """Send a message to every tab.

        Args:
            kind: what it is about.
            data: what JSON holds.
        """
        self._number += 1
        text = json.dumps({"kind": kind, **data}, ensure_ascii=False)
        self._kept.append((self._number, text))
        for one in self._waiting:
            one.set()

    def close(self) -> None:
        """End all streams."""
        self._closed = True
        for one in self._waiting:
            one.set()

    async def stream(self, last: int | None) -> AsyncIterator[str]:
        """Yield messages as server-sent events.

        Args:
            last: number of the last one a tab has seen, or of the last there was when its page was asked for;
                None for one that has missed nothing.
        """
        seen = self._number if last is None else min(last, self._number)
        ready = asyncio.Event()
        self._waiting.add(ready)
        try:
            yield ": open\n\n"
            while not self._closed:
                ready.clear()
                for number, text in [one for one in self._kept if one[0] > seen]:
                    seen = number
                    yield f"id: {number}\ndata: {text}\n\n"
                try:
                    await asyncio.wait_for(ready.wait(), _BEAT)
                except TimeoutError:
                    yield ": still here\n\n"
        finally:
            self._waiting.discard(ready)
