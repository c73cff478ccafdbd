"""What tests of the nesting share."""

from __future__ import annotations

import pytest

from strapwright.nesting.bound.runner import Prover


@pytest.fixture
def without_height_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare a layout the bound on its height, which takes longer than laying a few parts by a few steps.

    For tests that look at where parts lie and not at what is proven of it.
    """
    monkeypatch.setattr(Prover, "height_bound", lambda *_, **__: 0.0)
