"""The page's socket: on this machine alone, and sending at once."""

from __future__ import annotations

import socket

import pytest

from strapwright.core.errors import OutputError
from strapwright.page.serve import listening_socket


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
