"""A browser's connection: given up where what it asks does not come, so that nobody keeps others out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    import asyncio

HEAD_SECONDS: Final = 15.0
"""So long one may take to say what one asks for."""

BODY_SECONDS: Final = 300.0
"""So long what is sent with it may take: a photograph over a weak network in the house."""

MOST_WAITING: Final = 200
"""So many connections may be open that have asked for nothing yet; the oldest go first."""


class Connection(H11Protocol):
    """A connection that waits for a request only so long."""

    _timer: asyncio.TimerHandle | None = None
    _waits = False

    def connection_made(self, transport: Any) -> None:
        """Begin to wait; of too many that do, end the one that has waited longest."""
        super().connection_made(transport)
        self._wait(HEAD_SECONDS)
        waiting = [one for one in self._all() if one._waits]
        if len(waiting) > MOST_WAITING:
            min(waiting, key=lambda one: one._timer.when() if one._timer else 0.0).give_up()

    def data_received(self, data: bytes) -> None:
        """Take what has come, and wait for what is missing."""
        before = self.conn.their_state
        super().data_received(data)
        now = self.conn.their_state
        if now is not before and now is not h11.IDLE:
            self._wait(BODY_SECONDS if now is h11.SEND_BODY else None)

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        if self.conn.their_state is h11.IDLE:
            self._wait(HEAD_SECONDS)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._wait(None)
        super().connection_lost(exc)

    def give_up(self) -> None:
        """End the connection, with a line where nothing has been answered yet."""
        self._wait(None)
        if self.conn.our_state is h11.IDLE and not self.transport.is_closing():
            words = b"Nothing was asked for in time.\n"
            head = b"HTTP/1.1 408 Request Timeout\r\nconnection: close\r\ncontent-type: text/plain\r\n"
            self.transport.write(head + b"content-length: %d\r\n\r\n" % len(words) + words)
        self.transport.close()

    def _all(self) -> list[Connection]:
        return [one for one in self.connections if isinstance(one, Connection)]

    def _wait(self, seconds: float | None) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._waits = seconds == HEAD_SECONDS
        self._timer = None if seconds is None else self.loop.call_later(seconds, self.give_up)
