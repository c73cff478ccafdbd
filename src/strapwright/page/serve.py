"""Open the page: one server a folder, on this machine alone, or for a phone in the same house too.

A connection is given up where what it asks does not come, so that nobody keeps others out.
"""

from __future__ import annotations

import contextlib
import ipaddress
import os
import secrets
import socket
from typing import TYPE_CHECKING, Any, Final

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from strapwright.core.errors import OutputError
from strapwright.files.journal import try_lock
from strapwright.page.app import app
from strapwright.page.server.access import Entrance
from strapwright.page.server.bench import Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    import asyncio
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from types import FrameType

HEAD_SECONDS: Final = 15.0
"""So long one may take to say what one asks for."""

BODY_SECONDS: Final = 300.0
"""So long what is sent with it may take: a photograph over a weak network in the house."""

MOST_WAITING: Final = 200
"""So many connections may be open that have asked for nothing yet; the oldest go first."""

USUAL_PORT: Final = 80

LOCK: Final = ".strapwright-bench"
"""Held in a shop's folder while its page is open."""


def serve(folder: Path, port: int, opened: Callable[[str, str], None], *, phone: bool = False) -> None:
    """Serve a shop's page until it is ended.

    Args:
        folder: the shop's.
        port: to answer at; 0 takes a free one.
        opened: called with the address, which holds the key, and that for a phone, once the page answers.
        phone: whether it answers another device of the local network too.

    Raises:
        OutputError: the folder is open already, the port is taken, or there is no local network.
    """
    if not folder.is_dir():
        raise OutputError(
            f"{folder}: no such folder; make it first, or begin with: strapwright start {folder}"
        )
    with contextlib.ExitStack() as held:
        held.enter_context(_locked(folder))
        listening = [held.enter_context(listening_socket(port))]
        own, address = listening[0].getsockname()[1], ""
        key, entrance = secrets.token_urlsafe(24), None
        if phone:
            address = local_address()
            listening.append(held.enter_context(listening_socket(own, address)))
            entrance = Entrance(_with_port((address,), own), secrets.token_urlsafe(24), address)
        hosts = _with_port(("127.0.0.1", "localhost"), own)
        bench = Bench(Shop(folder))
        config = uvicorn.Config(
            app(bench, hosts, key, entrance),
            log_level="error",
            access_log=False,
            timeout_graceful_shutdown=1,
            server_header=False,
            http=Connection,
            ws="none",
            proxy_headers=False,
        )
        server = _Server(config, bench)
        from_phone = f"http://{address}:{own}/?key={entrance.key}" if entrance is not None else ""
        opened(f"http://127.0.0.1:{own}/?key={key}", from_phone)
        with contextlib.suppress(KeyboardInterrupt):  # the usual way to end it
            server.run(sockets=listening)


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the folder's lock, which ends with the process."""
    path = folder / LOCK
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if not try_lock(handle):
            raise OutputError(f"{folder}: its page is open already, in another window")
        yield
        path.unlink(missing_ok=True)
    finally:
        os.close(handle)


def _with_port(names: tuple[str, ...], port: int) -> frozenset[str]:
    """Return what a browser may call this page by; it leaves the usual port out."""
    return frozenset(f"{name}:{port}" for name in names) | frozenset(names if port == USUAL_PORT else ())


class _Server(uvicorn.Server):
    """A server that ends its streams when it is asked to stop, so that no open tab keeps it."""

    def __init__(self, config: uvicorn.Config, bench: Bench) -> None:
        super().__init__(config)
        self._bench = bench

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to end."""
        self._bench.events.close()
        super().handle_exit(sig, frame)


@contextlib.contextmanager
def listening_socket(port: int, address: str = "127.0.0.1") -> Iterator[socket.socket]:
    """Hold a socket that listens at one address of this machine.

    Args:
        port: to answer at; 0 takes a free one.
        address: to answer at; as it is, nobody but this machine itself is heard.

    Raises:
        OutputError: another program has the port.
    """
    # Its protocol is named, so that the server sends at once: else an answer waits 40 ms to be acknowledged.
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
    except OSError as error:
        listening.close()
        raise OutputError(f"--port {port}: is taken by another program; take another, or none") from error
    with listening:
        listening.listen()  # whoever opens the address at once waits for the server instead of being refused
        yield listening


def local_address() -> str:
    """Return this machine's address in the local network.

    Raises:
        OutputError: it is in none, or what it is in is no private one.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            # Nothing is sent: the system only says from where it would. The address is kept for examples.
            asking.connect(("192.0.2.1", 9))
        except OSError as error:
            raise OutputError("--phone: this machine is in no network; connect it to yours first") from error
        found: str = asking.getsockname()[0]
    about = ipaddress.ip_address(found)
    if about.is_loopback or about.is_link_local or not about.is_private:
        raise OutputError(
            f"--phone: this machine's address is {found}, which is none of a house's own network; "
            "connect it to such a one first"
        )
    return found


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
