"""A closed buckle from the side, to scale: where the hole in use bears, and how the strap climbs there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Circle, Path
from strapwright.drawing.dimension_lines import FIGURE_SIZE, Along, dimensions, head
from strapwright.drawing.text import figure
from strapwright.job.dimensions.closed_buckle import prong_end, prong_top, rise_to_prong
from strapwright.job.folding.fold import fold

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.units import Units
    from strapwright.drawing.dimension_lines import Board
    from strapwright.geometry.side_profile import Height
    from strapwright.job.folding.fold import Folded
    from strapwright.job.strap_draft import BeltDraft

    Point = tuple[float, float]

SCALE: Final = 7.0
"""Px per mm."""

BEFORE: Final = 22.0
"""How much strap is drawn before the front bar, mm."""

BEHIND: Final = 26.0
"""How much of fold and free end is drawn behind the bar, mm."""

_STEP: Final = 0.4
_TIER: Final = 20.0


def draw_seat(board: Board, belt: BeltDraft, left: float, top: float, units: Units) -> float:
    """Draw how a belt closes in its buckle, cut along the strap through the middle of a prong.

    The frame lies level; in fact it leans with the strap.

    Args:
        board: the drawing.
        belt: with a prong buckle.
        left: of the room it takes, px.
        top: of it, px.
        units: of the figures.

    Returns:
        Where free room begins below, px.

    Raises:
        PartError: a hook buckle, or a belt too short to be drawn closed.
    """
    worn = fold(belt, worn=True)
    rise, buckle, got = rise_to_prong(belt.buckle, belt.figures.layers.strap), belt.buckle, belt.figures
    assert rise is not None
    front, bar = buckle.frame_depth + buckle.section.width / 2, buckle.section.width / 2
    x0, z1 = -front - BEFORE, prong_top(buckle, 0.0) + got.layers.strap + 6.0
    names_high = 30 + 3 * _TIER

    def at(x: float, z: float) -> Point:
        return left + SCALE * (x - x0), top + names_high + SCALE * (z1 - z)

    def shape(kind: str, points: Sequence[Point], *, closed: bool = True) -> None:
        board.add(Path(([at(*point) for point in points],), kind, closed))

    edge = got.hole_in_use + got.holes.reach / 2
    for start, end in _runs(worn, edge - got.holes.reach, edge, -front - BEFORE, BEHIND):
        shape("layer cut", _band(worn, start, end, worn.low, worn.high))
    top_of = [(-prong_end(buckle), 0.0), (0.0, 0.0)]
    upper = [(x, prong_top(buckle, -x)) for x, _ in top_of]
    lower = [(x, z - buckle.prong_thickness) for x, z in reversed(upper)]
    tip = -prong_end(buckle) - 2.0, buckle.section.height / 2
    shape("second cut", [*upper, *lower, tip])
    eye = buckle.section.radius
    board.add(Circle(*at(0.0, 0.0), SCALE * (eye + buckle.prong_thickness), "second cut"))
    for x in (0.0, -front):
        board.add(Circle(*at(x, 0.0), SCALE * bar, "hole mark"))
    bearing = -buckle.seat, prong_top(buckle, buckle.seat)
    low = at(0.0, -bar - got.layers.strap - 3.0)[1] + 26
    f = figure(buckle.seat, units)
    dimensions(
        board, [Along(at(bearing[0], 0)[0], at(0, 0)[0], low, at(*bearing)[1], at(0, 0)[1], (f"f {f}",))]
    )
    # the climb: the middle line from under the front bar's middle to the bearing edge, drawn on the strap
    arc = [
        (-front + rise.radius * math.sin(a), -rise.radius * math.cos(a))
        for a in (rise.turn * k / 24 for k in range(25))
    ]
    shape("fold", [*arc, bearing], closed=False)
    labels = [
        ("front bar", (-front - 0.6 * bar, 0.5 * bar)),
        (f"climb c = {figure(rise.climb, units)}: this way, less its way along", arc[12]),
        ("this edge of the hole bears", bearing),
        ("prong", (-0.35 * buckle.frame_depth, prong_top(buckle, 0.35 * buckle.frame_depth) - 1.0)),
        ("bar", (0.4 * bar, 0.3 * bar)),
    ]
    board.text("The closed buckle from the side, to scale", left, top + 6, bold=True)
    for place, (text, point) in enumerate(labels):  # those further left further up: no leader crosses a name
        (px, py), tier = at(*point), top + 28 + 0.8 * _TIER * place
        board.line(px, py, px + 6, tier)
        board.line(px + 6, tier, px + 12, tier)
        head(board, px, py, math.atan2(py - tier, -6.0))
        board.text(text, px + 16, tier + FIGURE_SIZE / 3)
    px, py = at(x0, -rise.radius)
    board.text("from the body", px, py + SCALE * got.layers.strap + 8)
    return low + 26


def _runs(worn: Folded, hole: float, edge: float, x0: float, x1: float) -> list[tuple[float, float]]:
    """Return the runs of s that are drawn: the fold, and the free end with its hole in use left open."""
    tip = worn.drafted.strap.span
    places = [edge + k * _STEP for k in range(-int(120 / _STEP), int((tip - edge) / _STEP))]
    shown = [s for s in places if x0 <= _level(worn, s, 0.0)[0] <= x1]
    back = [
        k * _STEP for k in range(-int(90 / _STEP), int(90 / _STEP)) if _level(worn, k * _STEP, 0.0)[0] <= x1
    ]
    return [(back[0], back[-1]), (shown[0], hole), (edge, shown[-1])]


def _band(worn: Folded, start: float, end: float, low: Height, high: Height) -> list[Point]:
    """Return the outline of the strap between two places, along one face and back along the other."""
    from shapely import LineString, Point as Spot

    joints = {one.start for one in worn.course.stretches if start < one.start < end}
    count = max(int((end - start) / _STEP), 1)
    along = sorted(joints | {start + (end - start) * k / count for k in range(count + 1)})
    middle = LineString([_level(worn, s, 0.0) for s in along])

    def face(places: Sequence[float], height: Height) -> list[Point]:
        # On the inside of a sharp bend a face's ends overrun one another: they lie nearer the middle line.
        found = ((_level(worn, s, height(s)), abs(height(s))) for s in places)
        return [point for point, away in found if middle.distance(Spot(point)) > away - 0.05]

    return [*face(along, high), *face(along[::-1], low)]


def _level(worn: Folded, s: float, offset: float) -> Point:
    """Return a point of the strap, the frame turned level."""
    assert worn.closed is not None
    x, z = worn.course.point(s, offset)
    c, t = math.cos(worn.closed.tilt), math.sin(worn.closed.tilt)
    return x * c - z * t, x * t + z * c
