"""Open the page: one server a folder, on this machine alone, or for a phone in the same house too."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import secrets
import socket
from typing import TYPE_CHECKING, Final

import uvicorn

from strapwright.core.errors import OutputError
from strapwright.files.journal import try_lock
from strapwright.page.app import app
from strapwright.page.server.bench import Bench
from strapwright.page.server.connection import Connection
from strapwright.page.server.door import Entrance
from strapwright.page.sheet.shop import Shop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path
    from types import FrameType

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
