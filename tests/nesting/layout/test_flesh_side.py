"""A hide that lies flesh side up: its parts mirrored, all the way to the cut plan."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.drawing.rendered import picture_svg
from tests.nesting.workshop import order, side, strap

from strapwright.core.errors import NestError
from strapwright.geometry.contour import Contour
from strapwright.geometry.polygon import to_polygon
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import read_machine
from strapwright.nesting.hide.types import Face, Hide
from strapwright.nesting.layout.file import layout_from_json, layout_to_json
from strapwright.nesting.layout.flesh_side import grain_up
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest
from strapwright.parts.part import Feature, Operation

pytestmark = pytest.mark.usefixtures("without_height_bound")

FLESH = replace(side(), face_up=Face.FLESH)


def lopsided(belt: str):
    """A strap with one hole off its centre line, so that its mirror image is another part."""
    plain = strap(belt)
    return replace(plain, features=(Feature("maker's hole", Operation.PUNCH, Contour.circle(400, 10, 4)),))


@pytest.mark.parametrize("turn", [0.0, 0.4, -math.pi / 2])
def test_parts_on_a_flesh_side_up_hide_are_those_of_the_grain_seen_from_behind(turn: float) -> None:
    matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    hide = replace(FLESH, outline=FLESH.outline @ matrix, flaws=(), strap_direction=turn)
    parts = order(5)
    behind = nest(parts, [grain_up(hide)], steps=3)
    lying = nest(parts, [hide], steps=3)
    assert lying.hides == (hide,)
    assert len(lying.placed) == len(behind.placed)
    for one, other in zip(lying.placed, behind.placed, strict=True):
        assert one.placement.mirror
        assert not other.placement.mirror
        seen = to_polygon(other.placement.apply(other.part.outline), 0.01) * (-1, 1)
        same = shapely.Polygon(to_polygon(one.placement.apply(one.part.outline), 0.01))
        assert shapely.Polygon(seen).symmetric_difference(same).area < 1e-6 * same.area


def test_a_hole_to_the_left_of_the_centre_line_comes_to_lie_to_its_right() -> None:
    (placed,) = nest([lopsided("a")], [FLESH], steps=1).placed
    x, y = placed.placement.apply_to_point(400, 10)
    cx, cy = placed.placement.apply_to_point(400, 0)
    tx, ty = placed.placement.apply_to_point(500, 0)
    assert (tx - cx) * (y - cy) - (ty - cy) * (x - cx) == pytest.approx(-1000)  # right of the way to the tip


def test_the_cut_plan_and_the_picture_follow() -> None:
    layout = nest([lopsided("a")], [FLESH], steps=1)
    (sheet,) = plan(layout, read_machine("wide-laser"), kerf=0.2).sheets
    hole = next(path for path in sheet.paths if path.name == "maker's hole")
    x0, y0, x1, y1 = hole.contour.bounding_box  # of a mark at the hole's centre
    centre = layout.placed[0].placement.apply_to_point(400, 10)
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx(centre)
    assert "flesh side up" in picture_svg(layout, title="a")
    assert "grain side up" in picture_svg(nest([strap("a")], [side()], steps=1), title="a")


def test_a_layout_that_mirrors_the_wrong_parts_is_refused() -> None:
    good = nest([strap("a")], [FLESH], steps=1)
    (placed,) = good.placed
    unmirrored = replace(placed, placement=replace(placed.placement, mirror=False))
    with pytest.raises(NestError, match=r"a/strap: must be mirrored, because side 7 is flesh side up"):
        verify(replace(good, placed=(unmirrored,)))
    turned = replace(good, hides=(side(),))
    with pytest.raises(NestError, match=r"must be as drawn, not mirrored, because side 7 is grain"):
        verify(turned)


def test_the_layout_file_keeps_what_is_mirrored() -> None:
    parts = order(2)
    for hide in (FLESH, side()):
        layout = nest(parts, [hide], steps=1)
        data = json.loads(json.dumps(layout_to_json(layout, "d")))
        assert all(one.get("mirror", False) is (hide is FLESH) for one in data["placed"])
        again = layout_from_json(data, parts, [hide], job_digest="d")
        assert [p.placement.mirror for p in again.placed] == [p.placement.mirror for p in layout.placed]


def test_a_hide_made_in_memory_lies_grain_up() -> None:
    assert Hide("a", np.array([(0, 0), (500, 0), (500, 300)])).face_up is Face.GRAIN
