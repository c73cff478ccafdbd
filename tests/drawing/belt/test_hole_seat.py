"""The closed buckle from the side: the drawing says what the draft says, its strap clear of the bars."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from strapwright import api
from strapwright.core.errors import PartError
from strapwright.drawing.belt.hole_seat import SCALE, draw_seat
from strapwright.drawing.svg import svg
from strapwright.drawing.title_block import MARGIN, document, new_board

EXAMPLES = Path(__file__).parents[3] / "examples"
SPACE = "{http://www.w3.org/2000/svg}"


def drawn(belt):
    board = new_board()
    return ET.fromstring(svg(document(board, draw_seat(board, belt, MARGIN, MARGIN, "mm"), belt.id)))


@pytest.fixture(scope="module")
def halvard():
    return api.draft(api.read_job(EXAMPLES / "one-belt.toml")).belts[0]


def test_it_shows_where_the_hole_bears_and_the_climb(halvard):
    told = [text.text for text in drawn(halvard).iter(f"{SPACE}text")]
    assert "f 34" in told  # frame depth 38 − prong 4
    assert f"climb c = {halvard.figures.climb:.1f}: this way, less its way along" in told
    assert "this edge of the hole bears" in told


def test_the_strap_lies_clear_of_both_bars_and_begins_again_f_before_the_bar(halvard):
    svg = drawn(halvard)
    bars = [circle for circle in svg.iter(f"{SPACE}circle") if circle.get("class") == "hole mark"]
    (bx, by), (fx, fy) = ((float(bar.get("cx")), float(bar.get("cy"))) for bar in bars)
    assert bx - fx == pytest.approx(SCALE * (38 + 2.5), abs=0.01)
    layers = [path.get("d") for path in svg.iter(f"{SPACE}path") if path.get("class") == "layer cut"]
    runs = [[tuple(map(float, one.split(","))) for one in d[1:-1].split("L")] for d in layers]
    _, before, after = runs
    for x, y in (*before, *after):
        assert math.dist((x, y), (fx, fy)) >= SCALE * 2.5
    edge = (bx - SCALE * 34, by - SCALE * (2.5 + 4))
    # the hole's tip-side edge stands square to the strap through the bearing place
    (x0, y0), (x1, y1) = after[0], after[-1]
    assert math.dist(edge, (x0, y0)) + math.dist(edge, (x1, y1)) == pytest.approx(
        math.dist((x0, y0), (x1, y1)), abs=0.05
    )


def test_a_hook_buckle_is_not_drawn_closed():
    belt = api.draft(api.read_job(EXAMPLES / "one-belt.toml")).belts[0]
    hook = belt.buckle.model_copy(update={"prongs": 0, "hook_depth": 30})
    with pytest.raises(PartError, match="a belt with a hook buckle is only drawn flat"):
        drawn(replace(belt, spec=belt.spec.model_copy(update={"buckle": hook})))
