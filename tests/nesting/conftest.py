"""What tests of the nesting share."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def hears_ctrl_c() -> Iterator[None]:
    """Let Ctrl-C raise KeyboardInterrupt, also where the tests were begun in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
