"""Sections along a belt, to scale: of its fold, and of its buckle closed on the hole in use."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Canvas, Circle, Path, cross, polygon, polyline
from strapwright.drawing.dimension_lines import FIGURE_SIZE, Along, Board, dimensions, head
from strapwright.drawing.text import Box, figure, text_width
from strapwright.job.dimensions.fit import prong_end, prong_top, rise_to_prong
from strapwright.job.folding import fold

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.core.units import Units
    from strapwright.geometry.side_profile import Height
    from strapwright.job.folding import Folded
    from strapwright.job.strap_draft import BeltDraft

    Point = tuple[float, float]

SCALE: Final = 7.0
"""Px per mm."""

BEFORE: Final = 22.0
"""How much strap is drawn before the front bar, mm."""

BEHIND: Final = 26.0
"""How much of fold and free end is drawn behind the bar, mm."""

WIDTH: Final = 470.0
"""Room the section and its labels take, px."""

_GREATEST_SCALE: Final = 5.0
"""Px per mm."""

_FOR_LABELS: Final = 150.0
"""Kept free right of the last thing that has a label, px."""

_BEYOND: Final = 14.0
"""What is drawn of the front beyond the turn-back or the keeper, mm."""

_STEP: Final = 0.4
"""Faces are drawn from point to point this far apart, mm: a fiftieth of a mm off an arc of 1 mm radius."""

_HEAD_HIGH: Final = 1.2
"""A fastener's head is drawn this high, mm, and twice as wide as its hole (from memory)."""

_TIER: Final = 20.0


@dataclass(frozen=True)
class _Label:
    """A name on a leader: what it points at, px, whether it stands above or below, and its figure's name."""

    text: str
    x: float
    y: float
    above: bool
    figure: str = ""


@dataclass(frozen=True)
class _Frame:
    """From mm, z up, to px, y down."""

    scale: float
    left: float
    top: float
    x0: float
    z1: float

    def at(self, x: float, z: float) -> Point:
        return self.left + self.scale * (x - self.x0), self.top + self.scale * (self.z1 - z)

    def shape(self, look: str, points: Sequence[Point]) -> Path:
        return polygon(look, *(self.at(x, z) for x, z in points))


def draw_section(board: Board, belt: BeltDraft, left: float, top: float, units: Units) -> float:
    """Draw the fold of a belt, cut along the strap beside the slot and through the fasteners.

    Args:
        board: the drawing.
        belt: the belt.
        left: of the room it takes, px; that is `WIDTH` wide.
        top: of it, px.
        units: of the figures.

    Returns:
        Where free room begins below, px.
    """
    folded = fold(belt)
    board.text("Section of the fold, to scale", left, top + 14, bold=True)
    names = list(_names(folded, units))
    above = 14 + _TIER * sum(name.above for name in names)
    frame, high, low = _draw_layers(board, folded, left, top + 30 + above, WIDTH - _FOR_LABELS)
    placed = [_Label(name.text, *frame.at(name.x, name.y), name.above, name.figure) for name in names]
    _draw_labels(board, [one for one in placed if one.above], high - 12, -1)
    return _draw_labels(board, [one for one in placed if not one.above], low + 20, 1)


def fold_picture(belt: BeltDraft, *, rows: int = 0, keeper: bool = False) -> Canvas:
    """Return the section of a belt's fold by itself, without figures, at one step of the work.

    Args:
        belt: the belt.
        rows: how many rows of fasteners are set, those nearest the buckle first.
        keeper: whether the keeper is in its place.
    """
    board = Board(WIDTH, 0.0)
    *_, low = _draw_layers(board, fold(belt), 12.0, 12.0, WIDTH - 40.0, rows=rows, with_keeper=keeper)
    return Canvas(WIDTH, low + 12.0, f"{belt.id}: fold", tuple(board.items), paper="none")


def _draw_layers(
    board: Board,
    folded: Folded,
    left: float,
    top: float,
    room: float,
    *,
    rows: int | None = None,
    with_keeper: bool = True,
) -> tuple[_Frame, float, float]:
    """Draw what the section cuts.

    Args:
        board: the drawing.
        folded: the belt, folded.
        left: of the room it takes, px.
        top: of it, px.
        room: how wide it may be, px.
        rows: how many rows of fasteners are drawn; None for all.
        with_keeper: whether the keeper is drawn.

    Returns:
        How places become places on the drawing, and where it ends above and below, px.
    """
    end = _last(folded)
    strap = _layer(folded, -folded.figures.end.turn_back, end, folded.low, folded.high)
    keeper = _keeper(folded)
    points = [*strap, *(point for run in keeper for point in run)]
    x0, x1 = min(x for x, _ in points), max(x for x, _ in points)
    z0, z1 = min(z for _, z in points) - _HEAD_HIGH, max(z for _, z in points) + _HEAD_HIGH
    frame = _Frame(min(_GREATEST_SCALE, room / (x1 - x0)), left + 8, top, x0, z1)
    board.add(frame.shape("layer cut", strap))
    if (lining := folded.drafted.lining) is not None:
        outline = _layer(folded, lining.start, end, folded.lining_low, folded.low)
        board.add(frame.shape("second cut", outline))
    for run in keeper if with_keeper else ():
        board.add(frame.shape("second cut", run))
    for x, z, radius in _bars(folded):
        px, py = frame.at(x, z)
        board.add(Circle(px, py, frame.scale * radius, "hole mark"))
        board.add(cross("centre", px, py, frame.scale * radius + 5))
    _draw_fasteners(board, folded, frame, rows)
    _draw_break(board, folded, frame, end)
    high, low = frame.at(x0, z1)[1], frame.at(x0, z0)[1]
    board.solids.append(Box(left, high, frame.at(x1, z0)[0] + 12, low))
    return frame, high, low


def _last(folded: Folded) -> float:
    """Return s where the drawn front ends."""
    got = folded.figures
    doubled = got.end.turn_back + got.end.half_turn
    return min(max(doubled, got.end.keeper_end, got.end.dee) + _BEYOND, folded.drafted.strap.span)


def _layer(folded: Folded, start: float, end: float, low: Height, high: Height) -> list[Point]:
    """Return the outline of a layer between two faces, along one and back along the other."""
    outer, inner = (
        [point for kind, points in folded.course.face(start, end, face) for point in _points(kind, points)]
        for face in (high, low)
    )
    return [*outer, *reversed(inner)]


def _points(kind: str, points: Sequence[Point]) -> list[Point]:
    """Return a line's ends, or points along an arc that is given by its ends and its middle."""
    if kind == "line":
        return list(points)
    start, middle, end = (complex(*point) for point in points)
    chord = end - start
    rise = ((middle - start) * chord.conjugate()).imag / max(abs(chord), 1e-9)
    count = math.ceil((abs(middle - start) + abs(end - middle)) / _STEP)
    if abs(rise) < 1e-6 or count < 2:
        return list(points)
    half = -2 * math.atan(2 * rise / abs(chord))  # of the arc's sweep: its chord leans so far off its ends
    shares = (k / count for k in range(count + 1))
    ways = (cmath.rect(math.sin(half * t) / math.sin(half), half * (t - 1)) * chord for t in shares)
    return [((start + way).real, (start + way).imag) for way in ways]


def _keeper(folded: Folded) -> list[list[Point]]:
    """Return what the section cuts of the keeper: what lies under the layers, and its one run over them."""
    got = folded.figures
    if got.keeper is None:
        return []
    layers, t = got.layers, got.layers.keeper
    around = layers.strap + layers.tip
    floor = folded.flesh_face + folded.lift
    if got.end.keeper_held == "slides":
        around += layers.fold
        floor -= layers.fold
    roof = floor + around + folded.drafted.house.keeper_ease_height
    lapped = 2 if got.keeper.join == "lap" else 1  # ends skived over the lap are half as thick in its middle
    under = [floor - layers.keeper_stack * k / lapped for k in range(lapped + 1)]
    heights = [*zip(under[1:], under, strict=False), (roof, roof + t)]
    near, far = folded.keeper_x, folded.keeper_x + got.keeper.width
    return [[(near, z0), (far, z0), (far, z1), (near, z1)] for z0, z1 in heights]


def _bars(folded: Folded) -> Iterator[tuple[float, float, float]]:
    """Yield the buckle's bar, as round as the fold makes it, and a dee ring's: centre and radius, mm."""
    got = folded.figures
    yield 0.0, 0.0, got.end.fold_radius
    if folded.drafted.spec.dee is not None and got.end.dee:
        mate = got.end.shift - got.end.dee
        x, _ = folded.course.point(got.end.dee, 0.0)  # where the layers are bent, on their middle line
        _, above = folded.course.point(got.end.dee, _underside(folded, got.end.dee))
        _, below = folded.course.point(mate, folded.low(mate))
        yield x, (above + below) / 2, folded.drafted.spec.dee.bar_diameter / 2


def _draw_fasteners(board: Board, folded: Folded, frame: _Frame, rows: int | None) -> None:
    """Draw a barrel with two heads at each row, or at the first few; of a stitched end, the stitches."""
    end = folded.figures.end
    for run in end.stitches[:rows]:
        for s in run:
            (x, top), (x1, bottom) = _faces(folded, s, end.shift - s)
            board.add(polyline("mark", frame.at(x, top), frame.at(x1, bottom)))
    for post, row, mate in list(zip(folded.drafted.posts, end.rows, end.mates, strict=True))[:rows]:
        (x, top), (_, bottom) = _faces(folded, row, mate)
        sunk = max(top - bottom - (post.length or top - bottom), 0.0) / 2
        top, bottom = top - sunk, bottom + sunk
        half, cover = post.passes[0] / 2, post.head / 2 or post.passes[0]
        for x0, z0, x1, z1 in (
            (x - half, bottom, x + half, top),
            (x - cover, top, x + cover, top + _HEAD_HIGH),
            (x - cover, bottom - _HEAD_HIGH, x + cover, bottom),
        ):
            outline = [(x0, z0), (x1, z0), (x1, z1), (x0, z1)]
            board.add(frame.shape("hole mark", outline))


def _faces(folded: Folded, front: float, back: float) -> tuple[Point, Point]:
    """Return where a fastener comes out of the front's grain and of the turn-back's."""
    return (folded.course.point(front, folded.high(front)), folded.course.point(back, folded.high(back)))


def _underside(folded: Folded, s: float) -> float:
    """Return the height of the front's lower face, which is its lining's where it has one, mm."""
    return (folded.low if folded.drafted.lining is None else folded.lining_low)(s)


def _draw_break(board: Board, folded: Folded, frame: _Frame, end: float) -> None:
    """Draw the line where the front goes on."""
    if end >= folded.drafted.strap.span:
        return
    px, upper = frame.at(*folded.course.point(end, folded.high(end)))
    lower = frame.at(*folded.course.point(end, _underside(folded, end)))[1]
    middle = (upper + lower) / 2
    steps = (
        (0, upper - 8),
        (0, middle - 4),
        (-4, middle - 1),
        (4, middle + 3),
        (0, middle + 6),
        (0, lower + 8),
    )
    board.add(polyline("thin", *((px + dx, y) for dx, y in steps)))


def _names(folded: Folded, units: Units) -> Iterator[_Label]:
    """Yield what has a name in the section, with the place its leader points at, mm."""
    got, belt = folded.figures, folded.drafted
    turn = got.end.half_turn / 4
    told = figure(got.layers.fold, units, exact=True)
    yield _Label(f"fold {told}", *folded.course.point(turn, folded.high(turn)), above=True, figure="fold")
    for post, row, mate in zip(belt.posts, got.end.rows, got.end.mates, strict=True):
        (x, z), _ = _faces(folded, row, mate)
        kind = "post" if belt.spec.fastener == "screw_post" else belt.spec.fastener
        what = "none fits" if post.length is None else post.size
        yield _Label(f"{kind} {post.row}: {what}", x, z + _HEAD_HIGH, above=True, figure="posts")
    for run in got.end.stitches:
        (x, z), _ = _faces(folded, run[0], got.end.shift - run[0])
        yield _Label("stitches", x, z, above=True)
    keeper = _keeper(folded)
    if keeper and got.keeper is not None:
        x = (keeper[-1][0][0] + keeper[-1][1][0]) / 2
        told = figure(got.layers.keeper, units, exact=True)
        if got.keeper.join == "lap":
            told += ", lap skived" if got.keeper.skive else ", lapped"
        yield _Label(f"keeper {told}", x, keeper[-1][2][1], above=True, figure="keeper leather")
    last = _last(folded) - 4.0
    told = figure(got.layers.outer, units, exact=True)
    yield _Label(f"strap {told}", *folded.course.point(last, folded.high(last)), above=True, figure="leather")
    if belt.lining is not None:
        told = figure(got.layers.lining, units, exact=True)
        place = folded.course.point(last, folded.lining_low(last))
        yield _Label(f"lining {told}", *place, above=False, figure="lining")
    told = figure(2 * got.end.fold_radius, units, exact=True)
    yield _Label(f"bar and play ⌀{told}", 0.0, -got.end.fold_radius * 0.4, above=False, figure="bar")
    back = 5.0 - got.end.turn_back
    told = figure(got.end.turn_back, units)
    place = folded.course.point(back, folded.high(back))
    yield _Label(f"turn-back {told} long", *place, above=False, figure="turn-back")
    for x, z, _ in list(_bars(folded))[1:]:
        yield _Label("dee ring's bar", x, z, above=False)


def _draw_labels(board: Board, labels: Sequence[_Label], edge: float, way: int) -> float:
    """Draw names on leaders, those further left further out, so that no leader crosses a name.

    Args:
        board: the drawing.
        labels: the names, all on one side of the section.
        edge: the tier nearest to the section, px.
        way: -1 for tiers that go up, 1 down.

    Returns:
        The far edge of the last tier, px.
    """
    far = edge + way * _TIER * max(len(labels) - 1, 0)
    for place, one in enumerate(sorted(labels, key=lambda one: one.x)):
        y = far - way * _TIER * place
        elbow = one.x + 6.0
        board.line(one.x, one.y, elbow, y)
        board.line(elbow, y, elbow + 4 + text_width(one.text, FIGURE_SIZE), y)
        head(board, one.x, one.y, math.atan2(one.y - y, one.x - elbow))
        board.text(one.text, elbow + 4, y - 4, figure=one.figure)
    return far + 10


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
    for start, end in _drawn_runs(worn, edge - got.holes.reach, edge, -front - BEFORE, BEHIND):
        shape("layer cut", _closed_band(worn, start, end, worn.low, worn.high))
    upper = [(x, prong_top(buckle, -x)) for x in (-prong_end(buckle), 0.0)]
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


def _drawn_runs(worn: Folded, hole: float, edge: float, x0: float, x1: float) -> list[tuple[float, float]]:
    """Return the runs of s that are drawn: the fold, and the free end with its hole in use left open."""
    tip = worn.drafted.strap.span
    places = [edge + k * _STEP for k in range(-int(120 / _STEP), int((tip - edge) / _STEP))]
    shown = [s for s in places if x0 <= _levelled(worn, s, 0.0)[0] <= x1]
    back = [
        k * _STEP
        for k in range(-int(90 / _STEP), int(90 / _STEP))
        if _levelled(worn, k * _STEP, 0.0)[0] <= x1
    ]
    return [(back[0], back[-1]), (shown[0], hole), (edge, shown[-1])]


def _closed_band(worn: Folded, start: float, end: float, low: Height, high: Height) -> list[Point]:
    """Return the outline of the strap between two places, along one face and back along the other."""
    from shapely import LineString, Point as Spot

    joints = {one.start for one in worn.course.stretches if start < one.start < end}
    count = max(int((end - start) / _STEP), 1)
    along = sorted(joints | {start + (end - start) * k / count for k in range(count + 1)})
    middle = LineString([_levelled(worn, s, 0.0) for s in along])

    def face(places: Sequence[float], height: Height) -> list[Point]:
        # On the inside of a sharp bend a face's ends overrun one another: they lie nearer the middle line.
        found = ((_levelled(worn, s, height(s)), abs(height(s))) for s in places)
        return [point for point, away in found if middle.distance(Spot(point)) > away - 0.05]

    return [*face(along, high), *face(along[::-1], low)]


def _levelled(worn: Folded, s: float, offset: float) -> Point:
    """Return a point of the strap, the frame turned level."""
    assert worn.closed is not None
    x, z = worn.course.point(s, offset)
    c, t = math.cos(worn.closed.tilt), math.sin(worn.closed.tilt)
    return x * c - z * t, x * t + z * c
