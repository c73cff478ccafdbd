"""A pattern of a layout: what lies there with its hide's name, and what does not is left out and told."""

from __future__ import annotations

from pathlib import Path

import pytest

from strapwright import api
from strapwright.core.errors import PaperError
from strapwright.geometry.transform import Placement
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart, UnplacedPart

EXAMPLES = Path(__file__).parents[3] / "examples"


def layout_without(drafted, belt_id, hides):
    """A layout with every part somewhere but one belt's."""
    placed = tuple(
        PlacedPart(part, hides[0].name, Placement(0.0, 0.0, 0.0))
        for part in drafted.parts
        if part.belt_id != belt_id
    )
    left = tuple(UnplacedPart(part, "no room") for part in drafted.parts if part.belt_id == belt_id)
    return Layout(hides, placed, left, Clearance(), (), 0, 1)


def test_a_belt_without_a_place_is_left_out_and_told():
    drafted = api.draft(api.read_job(EXAMPLES / "autumn-batch.toml"))
    hides = api.read_hides([EXAMPLES / "side.toml"])
    made = api.pattern(drafted, "a4", layout=layout_without(drafted, "wren", hides))
    printed = {order for sheet in made.sheets for order in sheet.orders}
    assert printed == {belt.id for belt in drafted.belts} - {"wren"}
    (told,) = [finding for finding in made.findings if finding.code == "not-on-layout"]
    assert told.subject == "wren"


def test_a_pattern_of_nothing_is_refused():
    drafted = api.draft(api.read_job(EXAMPLES / "one-belt.toml"))
    hides = api.read_hides([EXAMPLES / "side.toml"])
    with pytest.raises(PaperError, match="halvard is not printed"):
        api.pattern(drafted, "a4", layout=layout_without(drafted, "halvard", hides))
