"""A run on one drawing: what it says, that nothing lies on anything else, and that it is one scale."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, strategies as st
from tests.drawing.belt.test_job_drawing import (
    KINDS,
    SPACE,
    TIPS,
    UNITS,
    belt,
    clashes,
    drafted,
    leather,
    parsed,
    texts,
)
from tests.drawing.rendered import drawing_svg

from strapwright.drawing.belt.grading import spread


def graded(name, width=38.0, kind="single", sizes="30-46/2", **more):
    asked = belt(name, width, kind, **more)
    asked.pop("size")
    return asked | {"sizes": sizes}


RUNS = [
    "30-46/2",
    "32-34/2",
    "30-31/0.1",
    "20-70/2",
    "80 cm-119 cm/1 cm",
    "32.5 in-52 in/0.5 in",
    "250 mm-400 mm/50 mm",
    [46, 30, 38],
    ["1000 mm", "1002 mm", "2900 mm"],
]


@pytest.mark.slow
@pytest.mark.parametrize("sizes", RUNS, ids=str)
def test_no_label_lies_on_another_whatever_the_run(sizes):
    few = {"count": 3, "spacing": 12.0, "last_to_tip": 60.0}
    turn = RUNS.index(sizes)
    for n, units in enumerate(UNITS):  # each tip in either unit in every fifth run
        tip = TIPS[(turn + 2 * n) % 5]
        found = drafted(graded("run", 25.0, sizes=sizes, tip=tip, holes=few))
        assert clashes(drawing_svg(found, units=units)) == [], (tip, units)


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "width"), KINDS)
def test_no_label_lies_on_another_whatever_the_strap(kind, width):
    turn = KINDS.index((kind, width))  # each tip on every third strap, with the short run and the long one
    for n, sizes in enumerate(("30-46/2", "80 cm-119 cm/1 cm")):
        tip = ("spear", "round", "square")[(turn + n) % 3]
        found = drafted(graded("run", float(width), kind, sizes=sizes, tip=tip, crease={"distance": 3.0}))
        assert clashes(drawing_svg(found)) == [], (sizes, tip)


def test_a_run_and_other_belts_keep_clear():
    found = drafted(belt("one"), graded("run"), graded("longer", sizes="80 cm-119 cm/1 cm"), belt("two"))
    assert clashes(drawing_svg(found)) == []


def test_the_run_is_told_as_a_whole():
    told = texts(parsed(drawing_svg(drafted(graded("crew", quantity=2)))))
    assert "crew" in told
    assert "make 2 of each · 9 sizes, 30 to 46 · strap 38 mm wide · leather 3.2 mm" in told
    assert "What all sizes share, and size 30 in full" in told
    assert "keeper, make 18, butt join" in told
    assert not [text for text in told if text.startswith("Fits girths")]
    assert sum(text.startswith("blank ") for text in told) == 1


@pytest.mark.parametrize("count", [2, 14, 15, 40])
def test_the_table_tells_every_size(count):
    found = drafted(graded("crew", sizes=f"80 cm-{79 + count} cm/1 cm"))
    told = texts(parsed(drawing_svg(found)))
    assert told.count("waist or girth") == (2 if count > 14 else 1)
    for one in found.belts:
        got = one.figures
        row = [
            one.run_size,
            f"{round(one.blank_length, 1):g}",
            f"{round(got.hole_in_use, 1):g}",
            f"{got.girths[0]:.0f}–{got.girths[1]:.0f}",
        ]
        starts = [k for k, text in enumerate(told) if told[k : k + 4] == row]
        assert len(starts) == 1, row
        assert told.count(one.run_size) == 3  # hole, tip and table


def test_tips_and_holes_stand_on_one_scale_from_the_fold():
    found = drafted(graded("crew", 40.0, tip="square"))
    root = parsed(drawing_svg(found))
    end, tip = list(leather(root))[2:4]
    scale = (end.y1 - end.y0) / 40.0
    longest = found.belts[-1]
    tips = [
        max(float(x) for x in re.findall(r"(-?[\d.]+),-?[\d.]+(?=[LAZ]|$)", e.get("d")))
        for e in root.iter(SPACE + "path")
        if e.get("class") == "cut" and e.get("d").count("L") > 1  # not the legend's
    ]
    assert len(tips) == 8
    behind = [(tip.x1 - x) / scale for x in tips]
    assert behind == pytest.approx(
        [longest.blank_length - one.blank_length for one in found.belts[:-1]], abs=0.05
    )
    holes = [one for one in root.iter(SPACE + "circle") if one.get("class") == "hole cut"]
    assert len(holes) == 9
    for hole, one in zip(holes, found.belts, strict=True):
        from_tip = (tip.x1 - float(hole.get("cx"))) / scale
        assert from_tip == pytest.approx(longest.strap.span - one.figures.hole_in_use, abs=0.05)
        assert 2 * float(hole.get("r")) / scale == pytest.approx(one.strap.holes.diameter, abs=0.05)


def test_a_label_s_line_ends_at_its_own_tip_and_hole():
    found = drafted(graded("crew", 40.0, sizes="30-69/1", tip="spear"))
    root = parsed(drawing_svg(found))
    drawn = [
        tuple(float(e.get(k)) for k in ("x1", "y1", "x2", "y2"))
        for e in root.iter(SPACE + "line")
        if e.get("class") == "thin"
    ]
    slanted = [line for line in drawn if line[0] != line[2] and line[1] != line[3]]
    for one, other in itertools.combinations(slanted, 2):
        if {one[1], one[3]} == {other[1], other[3]}:  # of one fan: in the same order at both ends
            assert (one[0] - other[0]) * (one[2] - other[2]) > 0
    assert len(slanted) >= 2 * 35


def test_a_list_of_one_size_is_drawn_like_any_belt():
    told = texts(parsed(drawing_svg(drafted(graded("crew", sizes=[36])))))
    assert "crew-36" in told
    assert not [text for text in told if "All sizes" in text]


@given(st.lists(st.floats(0.0, 500.0), min_size=1, max_size=40), st.floats(1.0, 20.0))
def test_labels_are_spread_in_order_apart_and_within(xs, pitch):
    xs = sorted(xs)
    found = spread(xs, pitch, -10.0, 1000.0)
    assert all(b - a >= pitch - 1e-9 for a, b in itertools.pairwise(found))
    assert found[0] >= -10.0 - 1e-9
    assert found[-1] <= 1000.0 + 1e-9
    if all(b - a >= pitch for a, b in itertools.pairwise(xs)):
        assert found == pytest.approx(xs)
