"""What tests of the nesting share."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest

from strapwright.nesting.bound.runner import Prover

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def hears_ctrl_c() -> Iterator[None]:
    """Let Ctrl-C raise KeyboardInterrupt, also where the tests were begun in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def without_height_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare a layout the bound on its height, which takes longer than laying a few parts by a few steps.

    For tests that look at where parts lie and not at what is proven of it.
    """
    monkeypatch.setattr(Prover, "height_bound", lambda *_, **__: 0.0)
