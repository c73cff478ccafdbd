"""A hide of many corners made in Python is searched thinned out, and its layout checked on the true one."""

from __future__ import annotations

import numpy as np
import shapely
from tests.nesting.workshop import keeper

from strapwright.nesting.hide.repair import MOST_CORNERS, THINNED, thinned
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.solver.resume import resume

ANGLES = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
WAVES = 1 + 2e-3 * np.sin(700 * ANGLES)
RIM = np.column_stack([1100 * np.cos(ANGLES), 400 * np.sin(ANGLES)]) * WAVES[:, None]
MIDDLE = np.array([(-9.0, -9.0), (9.0, -9.0), (0.0, 9.0)])


def crowded() -> Hide:
    highest = RIM[np.argmax(RIM[:, 1])]
    nick = highest + np.array([(-0.01, -0.02), (0.01, -0.02), (0.0, 0.1)])
    return Hide("round", RIM, (Flaw(FlawKind.HOLE, MIDDLE), Flaw(FlawKind.HOLE, nick)))


def test_it_keeps_within_the_outline_and_what_lay_in_the_rim_is_left_out():
    hide, fewer = crowded(), thinned(crowded())
    assert len(fewer.outline) <= MOST_CORNERS
    assert shapely.Polygon(hide.outline).covers(shapely.Polygon(fewer.outline))
    assert [flaw.polygon.tolist() for flaw in fewer.flaws] == [MIDDLE.tolist()]
    assert thinned(fewer) is fewer


def test_the_loss_is_told_and_the_layout_keeps_the_hide_as_given():
    hide = crowded()
    layout = resume([keeper("ines"), keeper("per")], [hide], Clearance(), steps=1)
    assert len(layout.placed) == 2
    assert len(layout.hides[0].outline) == len(RIM)
    (told,) = [one for one in layout.findings if one.code == THINNED]
    assert told.subject == "round"
    assert 0 < told.numbers["lost_mm2"] < 0.01 * hide.area
