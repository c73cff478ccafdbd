"""What tests of the nesting share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.nesting.workshop import keeper, side, strap

from strapwright.nesting.bound.runner import Prover
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import build_problem
from strapwright.nesting.solver.warm_up import compile_search

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(scope="session", autouse=True)
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The search compiled once, however many processes run tests: the others wait, and load it."""
    try:
        from fcntl import LOCK_EX, flock
    except ImportError:  # where there is none, each compiles what it needs
        yield
        return
    with (tmp_path_factory.getbasetemp().parent / "compiled").open("w") as lock:
        flock(lock, LOCK_EX)
        compile_search(build_problem([strap("a"), keeper("a")], [side()], Clearance()).pieces)
    yield


@pytest.fixture
def without_height_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Spare a layout the bound on its height, which takes longer than laying a few parts by a few steps.

    For tests that look at where parts lie and not at what is proven of it.
    """
    monkeypatch.setattr(Prover, "height_bound", lambda *_, **__: 0.0)
