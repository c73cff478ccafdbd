"""Open the page: one server a folder, on this machine alone."""

from __future__ import annotations

import contextlib
import os
import secrets
import socket
from typing import TYPE_CHECKING, Final

import uvicorn

from strapwright.core.errors import OutputError
from strapwright.files.journal import try_lock
from strapwright.page.app import app
from strapwright.page.server.bench import Bench
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from types import FrameType

LOCK: Final = ".strapwright-bench"
"""Held in a shop's folder while its page is open."""


def serve(folder: Path, port: int, opened: Callable[[str], None]) -> None:
    """Serve a shop's page until it is ended.

    Args:
        folder: the shop's.
        port: to answer at; 0 takes a free one.
        opened: called with the address, which holds the key, once the page answers.

    Raises:
        OutputError: the folder is open already, or the port is taken.
    """
    if not folder.is_dir():
        raise OutputError(
            f"{folder}: no such folder; make it first, or begin with: strapwright start {folder}"
        )
    with _locked(folder), listening_socket(port) as listening:
        own = listening.getsockname()[1]
        key = secrets.token_urlsafe(24)
        hosts = frozenset({f"127.0.0.1:{own}", f"localhost:{own}"})
        bench = Bench(Shop(folder))
        config = uvicorn.Config(
            app(bench, hosts, key),
            log_level="warning",
            access_log=False,
            timeout_graceful_shutdown=1,
            server_header=False,
        )
        server = _Server(config, bench)
        opened(f"http://127.0.0.1:{own}/?key={key}")
        with contextlib.suppress(KeyboardInterrupt):  # the usual way to end it
            server.run(sockets=[listening])


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
def listening_socket(port: int) -> Iterator[socket.socket]:
    """Hold a socket that listens to this machine alone.

    Args:
        port: to answer at; 0 takes a free one.

    Raises:
        OutputError: another program has the port.
    """
    # Its protocol is named, so that the server sends at once: else an answer waits 40 ms to be acknowledged.
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port))
    except OSError as error:
        listening.close()
        raise OutputError(f"--port {port}: is taken by another program; take another, or none") from error
    with listening:
        listening.listen()  # whoever opens the address at once waits for the server instead of being refused
        yield listening


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
