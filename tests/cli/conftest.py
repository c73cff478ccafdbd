"""What the tests of the command line share."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.cli.forked import Forks
from tests.cli.made_once import as_it_is, once

from strapwright.drawing import png
from strapwright.drawing.layout import picture
from strapwright.nesting.solver import nest
from strapwright.solid import model

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.drawing.canvas import Canvas


@pytest.fixture(autouse=True)
def made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lay a job by steps, draw the layout and model a belt only the first time; PNGs in few pixels."""

    def png_of(canvas: Canvas, density: float = png.DENSITY) -> bytes:
        return fine(canvas, density / 8)

    fine = png.png_of
    monkeypatch.setattr(png, "png_of", once(png_of))
    model_belt = once(model.model_belt, as_it_is, as_it_is)  # solids are in no pickle
    monkeypatch.setattr(model, "model_belt", model_belt)
    for module, name in ((nest, "nest"), (picture, "picture")):
        monkeypatch.setattr(module, name, once(getattr(module, name)))


@pytest.fixture(scope="session")
def forks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Forks]:
    """What runs commands as processes of their own."""
    made = Forks(tmp_path_factory.mktemp("forks"))
    yield made
    made.close()
