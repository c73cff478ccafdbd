"""What the tests of the command line share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.cli.forked import Forks
from tests.cli.made_once import once

from strapwright.drawing import png
from strapwright.drawing.layout import picture
from strapwright.nesting.solver import nest

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture(autouse=True)
def made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lay a job by steps, and draw the layout, only the first time."""
    for module, name in ((nest, "nest"), (picture, "picture"), (png, "png_of")):
        monkeypatch.setattr(module, name, once(getattr(module, name)))


@pytest.fixture(scope="session")
def forks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Forks]:
    """What runs commands as processes of their own."""
    made = Forks(tmp_path_factory.mktemp("forks"))
    yield made
    made.close()
