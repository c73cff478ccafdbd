"""Nesting: sound on whatever is thrown at it, repeatable, and plain about what has no place."""

from __future__ import annotations

import math
import os
import signal
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.core.errors import NestError
from strapwright.core.findings import Finding, Severity
from strapwright.geometry.contour import Contour
from strapwright.nesting.bound.area import bound_area, bound_sentence
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, disc
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.shape_search.bottom_left import bottom_left_fill
from strapwright.nesting.solver.nest import NestProgress, nest
from strapwright.parts.part import PartKind

if TYPE_CHECKING:
    from strapwright.nesting.layout.types import Layout


def board(name: str, length: float, width: float, thickness: float | None = 3.6) -> Hide:
    corners = np.array([(0, 0), (length, 0), (length, width), (0, width)])
    return Hide(name, corners, thickness=thickness)


def places(layout: Layout) -> list[tuple[str, str, float, float, float]]:
    return [(p.part.id, p.hide, p.placement.turn, p.placement.x, p.placement.y) for p in layout.placed]


def test_a_batch_of_eight_belts_finds_its_place_on_a_side_with_flaws() -> None:
    parts = order(8)
    layout = nest(parts, [side()], steps=30)
    assert [p.part.id for p in layout.placed] == [part.id for part in parts]
    assert bound_sentence(layout) == "Everything asked for is placed."
    # Seven 38 or 32 mm rows would do for the straps alone, one after another: pairs must share rows.
    assert layout.used_height_of("side 7") < 205


def test_the_same_seed_and_steps_give_the_same_layout_whatever_the_time() -> None:
    parts = order(14)
    first = nest(parts, [side()], steps=40, seed=5, time_limit=0.0)
    again = nest(parts, [side()], steps=40, seed=5, time_limit=60.0)
    assert places(first) == places(again)
    assert first.steps == again.steps == 40


def test_straps_lie_along_a_slanting_strap_direction_and_keepers_square_to_it() -> None:
    direction = math.radians(-17)
    layout = nest(order(4), [side(direction)], steps=3)
    assert not layout.unplaced
    for placed in layout.placed:
        step = math.pi if placed.part.kind is PartKind.STRAP else math.pi / 2
        assert math.remainder(placed.placement.turn - direction, step) == pytest.approx(0, abs=1e-12)


def test_the_first_hide_is_filled_before_the_next_is_begun() -> None:
    straps = [strap(f"b{n}") for n in range(5)]
    layout = nest(straps, [board("one", 1300, 130), board("two", 1300, 130)], steps=5)
    assert [len(layout.placed_on(name)) for name in ("one", "two")] == [3, 2]


def test_a_strap_longer_than_the_hide_is_told_with_the_longest_row() -> None:
    layout = nest([strap("a", 1232.0)], [board("off-cut", 984, 300)], steps=1)
    assert not layout.placed
    assert layout.unplaced[0].reason == (
        "no row is long enough: needs 1232 mm by 38 mm; the longest free space is 980 mm"
    )


def test_a_hide_narrower_than_the_strap_is_told() -> None:
    layout = nest([strap("a")], [board("lace", 2000, 30)], steps=1)
    # 30 mm less a margin of 2 mm on both sides.
    assert layout.unplaced[0].reason == (
        "no row is long enough: needs 1180 mm by 38 mm; no free space is that wide; "
        "the widest of that length is 26 mm"
    )


def test_of_several_hides_the_one_with_the_longest_row_is_named() -> None:
    layout = nest([strap("a", 1232.0)], [board("short", 700, 300), board("off-cut", 984, 300)], steps=1)
    assert layout.unplaced[0].reason.endswith("the longest free space is 980 mm on off-cut")


def test_what_is_left_over_is_told_with_the_longest_row_that_is_still_free() -> None:
    straps = [strap(f"b{n}") for n in range(4)]
    layout = nest(straps, [board("strip", 1300, 125)], steps=4)
    assert len(layout.placed) == 3
    # 1296 mm of leather, a strap of 1180 mm and a gap of 2 mm: 114 mm beside it, seen whole millimetres.
    assert layout.unplaced[0].reason.startswith(
        "no space left: needs 1180 mm by 38 mm; the longest free space is 11"
    )
    assert "No layout can place more" in bound_sentence(layout)


def test_a_hide_of_another_thickness_takes_no_part_and_says_so() -> None:
    layout = nest([strap("a")], [board("light", 2000, 300, 2.0)], steps=1)
    assert layout.unplaced[0].reason == (
        "needs leather of 3.6 mm, within 0.3 mm; the hides are: light 2 mm; "
        "take another hide, or change the job's thickness"
    )
    assert bound_area(layout) == 0
    both = nest([strap("a")], [board("light", 2000, 300, 2.0), board("heavy", 2000, 300)], steps=1)
    assert both.placed[0].hide == "heavy"


def test_a_margin_that_leaves_no_leather_is_told_not_raised() -> None:
    layout = nest([keeper("a")], [board("scrap", 200, 40)], Clearance(margin=20.0), steps=1)
    assert layout.unplaced[0].reason.endswith("no free space is that wide, and none is that long")


def test_marks_and_loose_places_are_told_with_what_may_lie_there() -> None:
    (note,) = nest([strap("a")], [side()], steps=1).findings
    assert note.code == "flaws-by-kind"
    assert note.what.startswith(
        "Not all flaws are holes (1 mark and 1 loose place). A scar may fall under the turn-back"
    )


def test_a_hidden_end_covers_a_mark_that_a_shown_one_may_not() -> None:
    band = Flaw(FlawKind.MARK, np.array([(40, -5), (55, -5), (55, 110), (40, 110)]))
    bend = replace(board("bend", 1190, 100), flaws=(band,))
    shown = strap("a")
    assert not nest([shown], [bend], steps=1).placed
    hidden = replace(shown, hidden=((-80.0, -12.0),))
    layout = nest([hidden], [bend], steps=1)
    assert layout.placed[0].placement.turn == 0.0
    assert nest([hidden], [replace(bend, strap_direction=math.pi)], steps=1).placed


def test_a_part_without_load_lies_on_loose_leather_and_a_loaded_one_does_not() -> None:
    belly = Flaw(FlawKind.LOOSE, np.array([(300, -5), (900, -5), (900, 110), (300, 110)]))
    bend = replace(board("bend", 1190, 100), flaws=(belly,))
    (left,) = nest([strap("a")], [bend], steps=1).unplaced
    assert left.reason == "no row is long enough: needs 1180 mm by 38 mm; the longest free space is 295 mm"
    pulled = replace(strap("a"), loaded=((-40.0, 900.0),))
    (left,) = nest([pulled], [bend], steps=1).unplaced
    assert left.reason.startswith("no row is free enough of marks and loose leather: needs 1180 mm by 38 mm")
    assert left.reason.endswith("clear of them, the longest free space is 295 mm")
    assert nest([replace(strap("a"), loaded=())], [bend], steps=1).placed


def test_a_mark_that_keeps_a_part_out_of_the_room_left_is_told() -> None:
    scar = Flaw(FlawKind.MARK, np.array([(600, 60), (640, 60), (640, 110)]))
    bend = replace(board("bend", 1190, 84), flaws=(scar,))
    straps = [replace(strap(name), hidden=((-80.0, -12.0),)) for name in "ab"]
    (left,) = nest(straps, [bend], steps=1).unplaced
    assert left.reason == (
        "no space left that is free enough of marks and loose leather: needs 1180 mm by 38 mm, and the "
        "leather that shows or carries load would cover one everywhere; clear of them, the longest free "
        "space is 595 mm"
    )


def test_a_keeper_whose_strap_found_no_place_is_told() -> None:
    parts = [piece for n in range(3) for piece in (strap("a"), keeper("a"))]
    parts = [replace(part, id=f"{part.id}-{n // 2 + 1}") for n, part in enumerate(parts)]
    layout = nest([*parts, *order(1)], [board("strip", 1300, 64)], steps=1)
    told = {found.subject: found for found in layout.findings if found.code == "belt-not-whole"}
    assert str(told["a"]) == (
        "caution: a: 1 of 3 belts is complete: 2 keepers fit, their straps do not. "
        "Cut what is missing from another hide, or leave the rest out too."
    )
    assert told["b1"].what == "No belt is complete: the keeper fits, its strap does not."


def test_the_first_cut_of_a_hide_that_is_left_whole_is_not_called_for() -> None:
    cut = Finding("edge-trued", Severity.NOTE, "The first cut squares the raw edge.", "Make it.", "raw")
    raw = replace(board("raw", 1300, 300), findings=(cut,))
    assert nest([strap("a")], [board("sound", 1300, 300), raw], steps=1).findings == ()
    assert nest([strap("a")], [raw], steps=1).findings == (cut,)


def test_an_unmeasured_hide_takes_any_part_and_the_maker_is_told() -> None:
    layout = nest([strap("a")], [board("bend", 1300, 100, None)], steps=1)
    assert layout.placed
    assert layout.findings[0].code == "hide-thickness-unknown"
    assert str(layout.findings[0]) == (
        "note: bend: The hide's thickness is not given, so it was not compared with the 3.6 mm of the "
        "job. "
        "Measure it in several places and write thickness in the hide file."
    )
    nine_ounces = replace(strap("a"), thickness=25.4 / 64 * 9)
    (note,) = nest([nine_ounces, strap("b")], [board("bend", 1300, 100, None)], steps=1).findings
    assert "with the 3.57 to 3.6 mm of the job" in note.what


def test_ctrl_c_keeps_the_best_so_far() -> None:
    def stop(progress: NestProgress) -> None:
        if progress.steps == 3:
            raise KeyboardInterrupt

    layout = nest(order(8), [side()], time_limit=60.0, progress=stop)
    assert layout.steps == 3
    assert len(layout.placed) == 16


@pytest.mark.skipif(os.name != "posix", reason="a signal is sent to the test itself")
@pytest.mark.usefixtures("hears_ctrl_c")
def test_ctrl_c_while_the_first_layouts_are_made_ends_the_search_with_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hides = [replace(side(), name=f"side {n}") for n in range(2)]
    nest(order(1), hides, steps=1)  # lest it has to be compiled
    calls = []

    def pressed_first(*given: Any) -> Any:
        calls.append(given)
        if len(calls) == 1:
            os.kill(os.getpid(), signal.SIGINT)
        return bottom_left_fill(*given)

    monkeypatch.setattr("strapwright.nesting.shape_search.lay_shapes.bottom_left_fill", pressed_first)
    before, began = signal.getsignal(signal.SIGINT), time.monotonic()
    layout = nest(order(30), hides, time_limit=60.0)
    assert time.monotonic() - began < 30
    assert layout.placed
    assert layout.asked == 60
    assert signal.getsignal(signal.SIGINT) is before


def test_progress_tells_time_and_count() -> None:
    seen: list[NestProgress] = []
    parts = [strap(f"b{n}") for n in range(8)]
    nest(parts, [board("bend", 1184, 202)], steps=4, progress=seen.append)
    assert [p.steps for p in seen] == [1, 2, 3, 4]
    assert all(p.placed == 5 and p.asked == 8 and 0 <= p.more < 1 / 5 for p in seen)
    assert seen[-1].elapsed >= seen[0].elapsed >= 0


@pytest.mark.parametrize("shared", [False, True])
def test_progress_hands_on_the_best_layout_so_far_which_changes_nothing(shared: bool) -> None:
    clearance = Clearance(kerf=0.3, shared=shared)
    on: list[Hide] = [side(), board("bend", 1184, 202)]
    plain = nest(order(24), on, clearance, steps=6, seed=3)
    seen: list[Layout] = []

    def look(how_far: NestProgress) -> None:
        assert how_far.layout is not None
        seen.append(how_far.layout())

    watched = nest(order(24), on, clearance, steps=6, seed=3, progress=look)
    assert places(watched) == places(plain)
    areas = [one.placed_area for one in seen]
    assert len(seen) > 2
    assert areas == sorted(areas)
    for one in seen:
        verify(one, [part.id for part in order(24)])
        assert one.bound is not None
        assert one.bound >= watched.placed_area * (1 - 1e-9)
    if not shared:
        assert areas[-1] == pytest.approx(watched.placed_area)


def test_no_time_still_gives_a_whole_layout() -> None:
    layout = nest(order(8), [side()], time_limit=0.0)
    assert layout.steps == 1
    assert len(layout.placed) == 16


@pytest.mark.parametrize(
    ("parts", "hides", "options", "message"),
    [
        ([], [board("a", 500, 500)], {}, "there is nothing to nest"),
        ([strap("a")], [], {}, "there is no hide to nest on"),
        ([strap("a"), strap("a")], [board("a", 500, 500)], {}, "two parts are named a/strap"),
        ([strap("a")], [board("x", 50, 50), board("x", 60, 50)], {}, "two hides are named x"),
        ([strap("a")], [board("a", 500, 500)], {"time_limit": -1.0}, "time limit: found -1 s"),
        ([strap("a")], [board("a", 500, 500)], {"time_limit": math.nan}, "time limit: found nan s"),
        ([strap("a")], [board("a", 500, 500)], {"steps": 0}, "steps: found 0"),
    ],
)
def test_an_order_that_cannot_be_nested_is_refused(
    parts: list[object], hides: list[Hide], options: dict[str, object], message: str
) -> None:
    with pytest.raises(NestError, match=message):
        nest(parts, hides, **options)  # type: ignore[arg-type]


def test_a_part_that_crosses_itself_is_refused_by_name() -> None:
    bow = Contour.from_points([(0, 0), (100, 100), (100, 0), (0, 80)])
    with pytest.raises(NestError, match="a/keeper: its outline crosses itself"):
        nest([replace(keeper("a"), outline=bow)], [board("a", 500, 500)])


def test_negative_clearances_are_refused() -> None:
    with pytest.raises(NestError, match="gap: found -1 mm"):
        Clearance(gap=-1.0)
    with pytest.raises(NestError, match="margin: found nan mm"):
        Clearance(margin=math.nan)


def test_a_kerf_wider_than_the_gap_keeps_parts_further_apart() -> None:
    assert Clearance(gap=0.1, margin=0.1, kerf=0.4).between == 0.4
    assert Clearance(gap=0.1, margin=0.1, kerf=0.4).edge == 0.2


def test_a_thousand_equal_parts_are_one_lot() -> None:
    parts = [keeper(f"k{n}", 60.0, 20.0) for n in range(1000)]
    layout = nest(parts, [board("bend", 1200, 700)], steps=1)
    # By hand: quarter turns at a pitch of 62 by 22 mm on 1198 by 698 mm hold 19 by 31.
    assert len(layout.placed) >= 19 * 31
    assert bound_area(layout) >= layout.placed_area


def test_a_thousand_keepers_beside_a_thousand_straps_take_no_longer_than_they_are_given() -> None:
    parts = [piece for n in range(1000) for piece in (strap(f"b{n}"), keeper(f"b{n}"))]
    seen: list[NestProgress] = []
    layout = nest(parts, [board("bend", 1300, 700)], time_limit=0.2, progress=seen.append)
    assert layout.asked == 2000
    assert seen[-1].elapsed < 10


def test_the_bound_is_never_passed_by_a_packing_known_to_be_full() -> None:
    # Ten straps of 38 mm at a pitch of 40 fill 400 less one gap, plus margins, to the last tenth.
    straps = [strap(f"b{n}") for n in range(12)]
    layout = nest(straps, [board("bend", 1184, 402)], steps=2)
    assert len(layout.placed) == 10
    assert bound_area(layout) >= layout.placed_area
    area = straps[0].outline.area
    assert bound_area(layout) < 11 * area
    assert "No layout can place more" in bound_sentence(layout)


@st.composite
def hides(draw: st.DrawFn, number: int) -> Hide:
    """A star-shaped hide of 200 to 1500 mm, with flaws, and any strap direction."""
    spokes = draw(st.integers(5, 14))
    reach = draw(st.lists(st.floats(100, 750), min_size=spokes, max_size=spokes))
    angles = np.arange(spokes) * (2 * math.pi / spokes)
    outline = np.column_stack([reach * np.cos(angles), reach * np.sin(angles)])
    flaws = [
        Flaw(
            draw(st.sampled_from(list(FlawKind))),
            disc(draw(st.floats(-60, 60)), draw(st.floats(-60, 60)), draw(st.floats(1, 80)), 0.02),
        )
        for _ in range(draw(st.integers(0, 2)))
    ]
    return Hide(f"hide {number}", outline, tuple(flaws), draw(st.floats(-7, 7)))


@st.composite
def orders(draw: st.DrawFn) -> list[object]:
    count = draw(st.integers(1, 6))
    straps = [strap(f"b{n}", draw(st.floats(140, 700)), draw(st.floats(12, 60))) for n in range(count)]
    keepers = [
        keeper(f"b{n}", draw(st.floats(30, 120)), draw(st.floats(8, 30)))
        for n in range(draw(st.integers(0, 4)))
    ]
    return [*straps, *keepers]


@pytest.mark.slow
@settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    derandomize=True,
)
@given(
    orders(),
    st.lists(st.integers(0, 1), min_size=1, max_size=2, unique=True).flatmap(
        lambda numbers: st.tuples(*(hides(n) for n in numbers))
    ),
    st.sampled_from([0.0, 0.3, 2.0, 6.0]),
    st.sampled_from([0.0, 0.5, 2.0, 10.0]),
    st.integers(0, 3),
)
def test_no_layout_ever_overlaps_leaves_its_hide_or_loses_a_part(
    parts: list[object], hides: tuple[Hide, ...], gap: float, margin: float, seed: int
) -> None:
    layout = nest(parts, hides, Clearance(gap, margin), steps=2 + 20 * (seed == 3), seed=seed)  # type: ignore[arg-type]
    verify(layout, [part.id for part in parts])  # type: ignore[attr-defined]
    assert layout.asked == len(parts)
    assert bound_area(layout) >= layout.placed_area - 1e-6
    assert all(left.reason for left in layout.unplaced)


def test_a_side_whose_ends_differ_by_a_rounding_still_keeps_off_a_slanting_edge() -> None:
    """A strap 12 mm wide with a round tip has its underside at −6 and at −6.000000000000001 mm."""
    slim = strap("a", 140.0, 12.0)
    assert slim.outline.bounding_box[1] < -6.0
    angles = np.arange(8) * (math.pi / 4)
    reach = np.array([100.5, 549.5, 100.5, 129.2, 100.0, 150.0, 100.0, 140.0])
    star = Hide("star", np.column_stack([reach * np.cos(angles), reach * np.sin(angles)]))
    for turn in np.linspace(0.0, 6.0, 25):
        layout = nest([slim], [replace(star, strap_direction=float(turn))], Clearance(2.0, 2.0), steps=2)
        assert layout.placed
