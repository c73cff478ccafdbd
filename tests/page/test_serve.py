"""The page's socket: on this machine alone, and sending at once; nobody keeps others out by being slow."""

from __future__ import annotations

import socket
import threading
import time
from typing import TYPE_CHECKING

import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from strapwright.core.errors import OutputError
from strapwright.page import serve as connection
from strapwright.page.serve import _with_port, listening_socket
from strapwright.page.server.respond import HANDLERS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.requests import Request


def test_it_listens_to_this_machine_alone_and_sends_what_it_has_at_once():
    with listening_socket(0) as listening:
        host, port = listening.getsockname()
        assert host == "127.0.0.1"
        assert listening.proto == socket.IPPROTO_TCP  # asyncio turns waiting off only where this is named
        with socket.create_connection((host, port), 5):
            taken, _ = listening.accept()
            taken.close()


def test_a_port_that_is_taken_is_refused_in_words():
    with listening_socket(0) as listening:
        port = listening.getsockname()[1]
        with pytest.raises(OutputError, match=f"--port {port}: is taken"), listening_socket(port):
            pass


def test_the_usual_port_is_left_out_as_browsers_do():
    assert _with_port(("localhost",), 8100) == {"localhost:8100"}
    assert _with_port(("localhost",), 80) == {"localhost:80", "localhost"}


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, int]]:
    """Of a server that waits only shortly."""
    monkeypatch.setattr(connection, "HEAD_SECONDS", 1.0)
    monkeypatch.setattr(connection, "BODY_SECONDS", 1.5)
    monkeypatch.setattr(connection, "MOST_WAITING", 5)

    async def answer(request: Request) -> Response:
        return PlainTextResponse(f"{len(await request.body())} bytes")

    app = Starlette(routes=[Route("/", answer, methods=["GET", "POST"])], exception_handlers=HANDLERS)
    config = uvicorn.Config(app, http=connection.Connection, log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    with listening_socket(0) as listening:
        running = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        running.start()
        yield listening.getsockname()
        server.should_exit = True
        running.join()


def said(one: socket.socket) -> str:
    """All that is answered until the connection is closed."""
    found = b""
    while more := one.recv(65536):
        found += more
    return found.decode()


@pytest.mark.parametrize(
    "begun", [b"", b"GET / HTTP/1.1\r\nHost: a\r\n", b"GET / HTTP/1.1\r\nHost: a\r\n\r\nGET"]
)
def test_who_does_not_say_what_is_wanted_is_told_so_and_let_go(address: tuple[str, int], begun: bytes):
    with socket.create_connection(address, 20) as one:
        one.sendall(begun)
        answer = said(one)
    assert answer.endswith("Nothing was asked for in time.\n")
    assert answer.startswith("HTTP/1.1 408" if not begun.endswith(b"GET") else "HTTP/1.1 200")


def test_what_is_not_sent_whole_is_let_go_without_a_word_in_the_terminal(
    address: tuple[str, int], capfd: pytest.CaptureFixture[str]
):
    with socket.create_connection(address, 20) as one:
        one.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 10\r\n\r\nhalf")
        assert said(one) == ""
    time.sleep(0.2)
    assert capfd.readouterr().err == ""


def test_many_that_ask_for_nothing_keep_nobody_out(address: tuple[str, int]):
    waiting = [socket.create_connection(address, 20) for _ in range(12)]
    with socket.create_connection(address, 20) as one:
        one.sendall(b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
        assert said(one).endswith("0 bytes")
    assert said(waiting[0]).startswith("HTTP/1.1 408")
    for other in waiting:
        other.close()
