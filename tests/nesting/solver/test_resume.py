"""Going on from a layout: what is locked stays, what is avoided stays clear, and nothing gets worse."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.core.errors import FileProblems, NestError
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.nesting.hide.types import Face, Hide
from strapwright.nesting.layout.avoided_zone import zone_to_avoid
from strapwright.nesting.layout.file import (
    ResumePoint,
    layout_from_json,
    layout_to_json,
    resume_point_from_json,
)
from strapwright.nesting.layout.types import Clearance, PlacedPart
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest
from strapwright.nesting.solver.resume import resume

if TYPE_CHECKING:
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.solver.nest import NestProgress

pytestmark = pytest.mark.usefixtures("without_height_bound")

BEND = Hide("bend", np.array([(0, 0), (1300, 0), (1300, 700), (0, 700)]), thickness=3.6, digest="b")


@cache
def six_laid() -> Layout:
    """Six belts on a side, laid by sixty steps."""
    return nest(order(6), [side()], steps=60)


def written(layout: Any, **changes: Any) -> Any:
    return json.loads(json.dumps(layout_to_json(layout, "d"))) | changes


@pytest.mark.slow
@pytest.mark.parametrize(
    ("hide", "clearance"),
    [
        (side(), Clearance(6.0, 1.0)),
        (side(), Clearance(0, 0)),
        (replace(side(), face_up=Face.FLESH), Clearance()),
        (side(0.4), Clearance(0.0, 3.0)),
        (side(0.4), Clearance(6.0, 1.0)),
    ],
)
def test_locked_parts_stay_to_the_last_bit_and_the_rest_keeps_clear_of_them(
    hide: Hide, clearance: Clearance
) -> None:
    parts = order(4)
    first = nest(parts, [hide], clearance, steps=2)
    data = written(first, locked=["b2/strap", "b3/keeper"])
    start = resume_point_from_json(data, parts, [hide], job_digest="d")
    assert [placed.part.id for placed in start.locked] == ["b2/strap", "b3/keeper"]
    more = [*parts, strap("new"), keeper("new")]
    made = resume(more, [hide], clearance, start=replace(start, layout=None), steps=2)
    before = {placed.part.id: placed.placement for placed in first.placed}
    after = {placed.part.id: placed.placement for placed in made.placed}
    assert [placed.part.id for placed in made.placed] == [part.id for part in more]
    for id_ in ("b2/strap", "b3/keeper"):
        assert after[id_] == before[id_]
        assert after[id_].mirror == before[id_].mirror
    assert made.locked == ("b2/strap", "b3/keeper")
    assert made.hides == (hide,)
    verify(made, [part.id for part in more])
    assert "parts-locked" in {finding.code for finding in made.findings}
    assert written(made)["locked"] == ["b2/strap", "b3/keeper"]


def test_a_part_moved_by_hand_and_locked_pushes_the_others_aside() -> None:
    parts = order(3)
    first = nest(parts, [BEND], steps=1)
    data = written(first, locked=["b1/strap"])
    moved = next(one for one in data["placed"] if one["id"] == "b1/strap")
    moved["y_mm"] = 60.0
    start = resume_point_from_json(data, parts, [BEND], job_digest="d")
    assert start.layout is None  # as it stands the file could not be cut
    made = resume(parts, [BEND], Clearance(), start=start, steps=1)
    assert not made.unplaced
    assert next(p for p in made.placed if p.part.id == "b1/strap").placement.y == 60.0


def test_without_a_lock_the_layout_is_kept_unless_it_is_bettered() -> None:
    parts = order(6)
    good = six_laid()
    start = resume_point_from_json(written(good), parts, [side()], job_digest="d")
    assert start.layout is not None
    made = resume(parts, [side()], Clearance(), start=start, steps=1, seed=5)
    assert made.used_height_of("side 7") <= good.used_height_of("side 7")
    poor = nest(parts, [side()], steps=1)
    start = resume_point_from_json(written(poor), parts, [side()], job_digest="d")
    better = resume(parts, [side()], Clearance(), start=start, steps=60)
    assert better.used_height_of("side 7") <= poor.used_height_of("side 7")


@pytest.mark.parametrize("aim", ["value", "least"])
def test_a_layout_on_fewer_hides_or_on_less_leather_is_kept(aim: str) -> None:
    narrow, wide = (Hide(name, BEND.outline * [1, high / 700]) for name, high in (("a", 90), ("b", 400)))
    straps = [strap(f"b{n}") for n in range(3)]
    on_one = nest(straps, [wide], steps=1)
    before = replace(on_one, hides=(narrow, wide))
    start = ResumePoint((), before, job_changed=False)
    made = resume(straps, [narrow, wide], Clearance(), start=start, aim=aim, steps=1)
    assert {one.hide for one in made.placed} == {"b"}


def test_while_it_goes_on_what_stays_and_the_layout_before_are_in_what_is_shown() -> None:
    parts = order(6)
    good = six_laid()
    data = written(good, locked=["b1/strap"])
    start = resume_point_from_json(data, parts, [side()], job_digest="d")
    seen: list[Layout] = []

    def look(how_far: NestProgress) -> None:
        assert how_far.layout is not None
        seen.append(how_far.layout())

    made = resume(parts, [side()], Clearance(), start=start, steps=3, seed=5, progress=look)
    assert seen
    for one in (*seen, made):
        verify(one, [part.id for part in parts])
        assert one.used_height_of("side 7") <= good.used_height_of("side 7")
        assert one.locked == ("b1/strap",)


def test_all_parts_locked_leave_nothing_to_lay() -> None:
    parts = order(1)
    first = nest(parts, [BEND], steps=1)
    locked = tuple(first.placed)
    made = resume(parts, [BEND], Clearance(), start=ResumePoint(locked, None, job_changed=False))
    assert made.placed == first.placed
    assert made.unplaced == ()


def test_a_changed_job_keeps_only_what_is_locked_and_says_so() -> None:
    parts = order(2)
    data = written(nest(parts, [BEND], steps=1), locked=["b1/strap"])
    start = resume_point_from_json(data, parts[:1] + parts[2:], [BEND], job_digest="other")
    assert start.job_changed
    made = resume(parts[:1] + parts[2:], [BEND], Clearance(), start=start, steps=1)
    assert [finding.code for finding in made.findings][:2] == ["job-changed-since", "parts-locked"]


def test_a_lock_that_cannot_be_kept_is_refused_by_name() -> None:
    parts = order(2)
    data = written(nest(parts, [BEND], steps=1), locked=["b1/strapp", "b2/strap"])
    with pytest.raises(FileProblems) as caught:
        resume_point_from_json(
            data, [part for part in parts if part.id != "b2/strap"], [BEND], job_digest="d"
        )
    assert caught.value.problems == (
        'layout.json: locked: b1/strapp is not placed in this layout; did you mean "b1/strap"?',
        "layout.json: locked: b2/strap is not in the job; take it out of locked",
    )
    data["locked"] = ["b1/strap"]
    with pytest.raises(FileProblems, match="hide bend has changed since this layout was made"):
        resume_point_from_json(data, parts, [replace(BEND, digest="c")], job_digest="d")
    with pytest.raises(FileProblems, match="uses hide bend, which was not given"):
        resume_point_from_json(data, parts, [side()], job_digest="d")


def test_locked_parts_in_each_others_way_are_refused() -> None:
    one = PlacedPart(strap("a"), "bend", Placement(0.0, 90.0, 21.0))
    other = PlacedPart(strap("b"), "bend", Placement(0.0, 90.0, 30.0))
    start = ResumePoint((one, other), None, job_changed=False)
    said = r"a/strap and b/strap: 0\.0000 mm apart.*; move these parts in the layout file, or take them out"
    with pytest.raises(NestError, match=said):
        resume([one.part, other.part], [BEND], Clearance(), start=start)


def test_a_layout_clear_of_a_zone_is_kept_with_it_unless_it_is_bettered() -> None:
    parts = order(6)
    good = six_laid()
    start = resume_point_from_json(written(good), parts, [side()], job_digest="d")
    name, far = zone_to_avoid("1900, 600, 40", [side()])  # where nothing lies
    made = resume(parts, [side()], Clearance(), start=start, avoid={name: [far]}, steps=1, seed=5)
    assert made.used_height_of("side 7") <= good.used_height_of("side 7")
    assert len(made.avoided) == 1
    one = good.placed[0]
    x, y = one.placement.apply_to_point(60.0, 0.0)
    name, under = zone_to_avoid(f"{x}, {y}, 5", [side()])
    made = resume(parts, [side()], Clearance(), start=start, avoid={name: [under]}, steps=1, seed=5)
    verify(made, [part.id for part in parts])
    assert len(made.avoided) == 1


@pytest.mark.parametrize("text", ["640, 30, 80", "side 7: 600,0 700,0 700,60 600,60"])
def test_a_zone_to_avoid_is_kept_clear_this_once(text: str) -> None:
    parts = order(3)
    name, zone = zone_to_avoid(text, [side()])
    assert name == "side 7"
    made = resume(parts, [side()], Clearance(), avoid={name: [zone]}, steps=2)
    shape = shapely.Polygon(zone.polygon)
    for placed in made.placed:
        outline = shapely.Polygon(to_polygon(placed.placement.apply(placed.part.outline), 1e-3, "outward"))
        assert outline.distance(shape) >= 2 - 1e-4
    assert "zones-avoided" in {finding.code for finding in made.findings}
    assert len(made.hides[0].flaws) == len(side().flaws)
    (kept,) = made.avoided
    assert kept.hide == name
    assert kept.polygon.tolist() == zone.polygon.tolist()


def test_a_zone_kept_clear_goes_with_the_layouts_file_and_still_holds_there() -> None:
    parts = order(3)
    name, zone = zone_to_avoid("640, 30, 80", [side()])
    data = written(resume(parts, [side()], Clearance(), avoid={name: [zone]}, steps=2))
    assert [one["hide"] for one in data["avoided"]] == ["side 7"]
    back = layout_from_json(data, parts, [side()], job_digest="d")
    assert written(back) == data
    there = next(one for one in data["placed"] if one["id"] == "b1/keeper")
    there |= {"turn_rad": 0.0, "x_mm": 600.0, "y_mm": 30.0}
    with pytest.raises(NestError, match="b1/keeper: is in a zone of side 7 kept clear for this layout"):
        layout_from_json(data, parts, [side()], job_digest="d")
    for points, told in (([[0, 0], [9, 9], [9, 0], [0, 9]], "crosses or touches itself"), ([[0, 0]], "")):
        data["avoided"] = [{"hide": name, "points_mm": points}]
        with pytest.raises(FileProblems, match=rf"layout.json: avoided\[1\].*{told}"):
            layout_from_json(data, parts, [side()], job_digest="d")


def test_a_layout_kept_as_it_was_no_longer_keeps_the_zones_of_its_own_nest_clear() -> None:
    parts = order(3)
    name, zone = zone_to_avoid("1900, 600, 40", [side()])  # where nothing would lie anyhow
    first = resume(parts, [side()], Clearance(), avoid={name: [zone]}, steps=60)
    assert first.avoided
    start = resume_point_from_json(written(first), parts, [side()], job_digest="d")
    made = resume(parts, [side()], Clearance(), start=start, steps=1)
    assert made.placed == first.placed
    assert made.avoided == ()
    assert "avoided" not in written(made)


BAD = {
    "words": ("here", 'zone to avoid: found "here", expected "x,y,size" for a round zone, or its corners'),
    "two": ("5,5 9,9", "found 2 points, expected at least 3"),
    "wound": ("0,0 9,9 9,0 0,9", "crosses or touches itself near (4.5, 4.5) mm"),
    "no size": ("5,5,0", "a size of 0 mm; expected more than 0 mm, up to 10000 mm"),
    "odd": ("5,5 6,6 7", "expected"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_zone_that_cannot_be_read_is_told(name: str) -> None:
    text, message = BAD[name]
    with pytest.raises(NestError) as caught:
        zone_to_avoid(text, [BEND])
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_zone_must_say_which_hide_and_lie_on_it_clear_of_what_is_locked() -> None:
    with pytest.raises(NestError, match='2 hides, expected the hide\'s name before it: "bend: 5,5,5"'):
        zone_to_avoid("5,5,5", [BEND, side()])
    name, zone = zone_to_avoid("bent: 5,5,5", [BEND])
    with pytest.raises(NestError, match="no hide named bent; there are: bend"):
        resume(order(1), [BEND], Clearance(), avoid={name: [zone]})
    with pytest.raises(NestError, match="is not on bend"):
        resume(order(1), [BEND], Clearance(), avoid={"bend": [zone_to_avoid("5000,5,5", [BEND])[1]]})
    one = PlacedPart(strap("a"), "bend", Placement(0.0, 90.0, 21.0))
    start = ResumePoint((one,), None, job_changed=False)
    name, zone = zone_to_avoid("90,21,5", [BEND])
    with pytest.raises(NestError, match="a/strap is locked there on bend"):
        resume([one.part], [BEND], Clearance(), start=start, avoid={name: [zone]})


def test_a_strap_turned_by_hand_stays_within_the_hides_tolerance_or_is_refused() -> None:
    askew = PlacedPart(strap("a"), "bend", Placement(0.02, 90.0, 60.0))
    start = ResumePoint((askew,), None, job_changed=False)
    with pytest.raises(NestError, match=r"a/strap: is 1\.146 deg off; must be along bend's strap direction"):
        resume([askew.part], [BEND], Clearance(), start=start)
    loose = replace(BEND, tolerance=0.03)
    made = resume([askew.part, strap("b")], [loose], Clearance(), start=start, steps=1)
    assert made.placed[0].placement == askew.placement
    # The other finds room beside it along the same direction.
    assert made.placed[1].placement.turn == pytest.approx(0.02)
