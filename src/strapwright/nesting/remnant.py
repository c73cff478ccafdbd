"""What is left of a hide once its parts are cut: the line to cut it off along, and the hide it makes.

The line runs along the straps beyond the used leather, straight or in steps, or straight across them. A
straight edge is the better one to keep and to measure from, so a step must pay: it is made only where it
keeps a tenth more leather. As hide files remnants become stock.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from strapwright.core.text import numbered
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.files.atomic_write import check_writable, file_safe, is_ours
from strapwright.geometry.drawings.gathered import without_repeats
from strapwright.geometry.polygon import to_polygon, turned as turned_points
from strapwright.geometry.transform import turned
from strapwright.job.bill import Waste
from strapwright.nesting.hide.backbone import back_on_piece, starts_both_ways
from strapwright.nesting.hide.file_text import exact_number, hide_to_toml
from strapwright.nesting.hide.sound_leather import ClearRectangle, clear_rectangle
from strapwright.nesting.hide.types import Flaw, Hide, ThicknessZone, round_flaw

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from pathlib import Path

    from strapwright.core.arrays import Floats, Ints
    from strapwright.nesting.layout.types import Layout


COLUMN: Final = 5.0
"""Steps stand on a grid of this width, mm."""


SHORTEST_TREAD: Final = 150.0
"""A level stretch shorter than this is not worth two corners, mm."""


_ROUND: Final = 0.1
"""Levels are rounded up to this, mm: nobody cuts a remnant off finer."""


STEP_PAYS: Final = 0.1
"""A cut with one step more must keep this share more leather than the one without."""


MOST_TREADS: Final = 4
"""A cut has at most so many level stretches: more is not a cut but a jigsaw."""


LEAST_AREA: Final = 10_000.0
"""A piece with less sound leather than this (10 cm by 10 cm) is scrap, not stock, mm²."""


LEAST_WIDTH: Final = 30.0
"""Only leather as wide as this counts for that, mm: the narrowest common strap with its margins."""


_FINE: Final = 1e-6
"""Corners of a remnant are rounded to this, mm, so that its file is no longer than it need be."""


@dataclass(frozen=True, eq=False)
class Remnant:
    """One piece left over, large enough to be stock.

    Args:
        polygon: its outline where it lies on that hide, counter-clockwise, (N, 2) mm.
        cut: the line or lines it is cut off along, on the parent, (M, 2) mm each.
        shape: whether the cut is straight or stepped.
        why: why that one was chosen, in a sentence.
        shift: where the remnant's own (0, 0) lies on the parent, mm.
        hide: the remnant as a hide of its own, its corner at (0, 0); its parent is the hide it is cut from.
    """

    polygon: Floats
    cut: tuple[Floats, ...]
    shape: Literal["straight", "stepped"]
    why: str
    shift: tuple[float, float]
    hide: Hide

    @cached_property
    def clear(self) -> ClearRectangle | None:
        """The largest rectangle in it along the straps that is clear of edge and flaws."""
        return clear_rectangle(self.hide)


@dataclass(frozen=True)
class _Way:
    """One way to cut the rest off: the pieces worth keeping, in the hide's frame."""

    name: str
    treads: int
    pieces: tuple[Any, ...]

    @property
    def area(self) -> float:
        return sum(float(piece.area) for piece in self.pieces)


def remnants_of(layout: Layout) -> tuple[Remnant, ...]:
    """Return what is left of every hide parts were laid on, hide by hide, the largest piece first.

    A hide nothing lies on is not cut and gives none.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.solver.nest import nest
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.rules.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> strap = Part("ines/strap", "ines", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> (left,) = remnants_of(nest([strap], [bend], steps=1))
        >>> left.hide.name, left.shape, left.cut[0].tolist(), left.hide.area
        ('bend r1', 'straight', [[0.0, 44.0], [1200.0, 44.0]], 787200.0)
    """
    return tuple(remnant for hide in layout.hides for remnant in remnants_on(layout, hide))


def remnants_on(layout: Layout, hide: Hide) -> tuple[Remnant, ...]:
    """Return what is left of one of a layout's hides, the largest piece first; nothing where nothing lies."""
    import shapely

    direction = layout.direction_of(hide.name)
    boxes = _boxes(layout, hide, direction)
    if not len(boxes):
        return ()
    leather = shapely.Polygon(hide.outline)
    ways = list(_ways(hide, direction, leather, boxes))
    chosen, why = _best(ways)
    pieces = sorted(chosen.pieces, key=lambda piece: -float(piece.area))
    return tuple(
        _remnant(hide, leather, piece, number, chosen, why) for number, piece in enumerate(pieces, start=1)
    )


def _boxes(layout: Layout, hide: Hide, direction: float) -> Floats:
    """Return the box of every part on a hide, grown by the gap, in the frame of the straps: (N, 4) mm."""
    out = []
    for placed in layout.placed_on(hide.name):
        outline = turned(placed.outline, -direction)
        corners = to_polygon(outline, NESTING_CHORD, "outward")
        out.append((*corners.min(axis=0), *corners.max(axis=0)))
    keep = layout.clearance.between
    boxes: Floats = np.array(out).reshape(-1, 4) + np.array([-keep, -keep, keep, keep])
    return boxes


def _ways(hide: Hide, direction: float, leather: Any, boxes: Floats) -> Iterator[_Way]:
    """Yield the ways to cut the rest off: straight ones first, then along the straps with more steps."""
    import shapely

    flaws = shapely.union_all([shapely.Polygon(flaw.polygon) for flaw in hide.flaws])
    seen = shapely.transform(leather, lambda points: turned_points(points, -direction))

    def kept(region: Any) -> tuple[Any, ...]:
        at_home = shapely.transform(region, lambda points: turned_points(points, direction))
        pieces = shapely.get_parts(shapely.intersection(leather, at_home))
        return tuple(piece for piece in pieces if _is_stock(piece, flaws))

    x0, y0, x1, y1 = seen.bounds
    boxes = boxes.copy()  # a gap wider than the margin reaches off the hide, where there is nothing to keep
    boxes[:, 1::2] = np.clip(boxes[:, 1::2], y0 - 0.5, y1 + 0.5)
    right, left = float(np.max(boxes[:, 2])), float(np.min(boxes[:, 0]))
    for low, high in ((right, x1 + 1), (x0 - 1, left)):
        if low < high:
            yield _Way("straight across the straps", 1, kept(shapely.box(low, y0 - 1, high, y1 + 1)))
    if starts_both_ways(hide):  # what lies beyond the straps on both sides of the back is kept
        low, high = float(np.min(boxes[:, 1])), float(np.max(boxes[:, 3]))
        ends = [(edge, far) for edge, far in ((y0 - 1, low), (high, y1 + 1)) if edge < far]
        rest = (piece for edge, far in ends for piece in kept(shapely.box(x0 - 1, edge, x1 + 1, far)))
        yield _Way("straight along the straps on both sides of the back", 1, tuple(rest))
    for upward in (True, False):
        flip = 1.0 if upward else -1.0
        over = boxes if upward else boxes[:, [0, 3, 2, 1]] * np.array([1, -1, 1, -1])
        shape = seen if upward else shapely.affinity.scale(seen, 1, -1, origin=(0, 0))
        for treads, steps in enumerate(stepped_cuts(shape, over, MOST_TREADS), 1):
            name = "straight along the straps" if treads == 1 else f"in {treads - 1} step"
            line, far = steps * np.array([1.0, flip]), y1 + 1.0 if upward else y0 - 1.0
            beyond = shapely.Polygon([*line, (line[-1, 0], far), (line[0, 0], far)])
            yield _Way(name + ("s" if treads > 2 else ""), treads, kept(beyond))


def _is_stock(piece: Any, flaws: Any) -> bool:
    """Whether a piece is worth keeping: enough of it is sound and not too narrow to be of use."""
    if piece.geom_type != "Polygon" or piece.area < LEAST_AREA:
        return False
    half = LEAST_WIDTH / 2
    wide = piece.difference(flaws).buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    return bool(wide.area >= LEAST_AREA)


def _best(ways: Sequence[_Way]) -> tuple[_Way, str]:
    """Return the way that keeps most leather, each step paying for itself, and why it was chosen."""
    by_treads = [
        max((way for way in ways if way.treads == treads), key=lambda way: way.area, default=None)
        for treads in range(1, MOST_TREADS + 1)
    ]
    best = by_treads[0]
    assert best is not None  # a straight cut can always be tried
    straight, passed = best, 0.0
    for way in by_treads[1:]:
        if way is None:
            continue
        if way.area > best.area * (1 + STEP_PAYS):
            best = way
        else:
            passed = max(passed, way.area)
    more = abs((straight.area if best.treads > 1 else passed) - best.area) / 100
    if best.treads > 1:
        why = f"that keeps {more:.0f} cm² more than the best straight cut"
    elif passed > best.area:
        why = f"a cut in steps keeps only {more:.0f} cm² more, and a straight edge is worth that"
    else:
        why = "a cut in steps would keep no more"
    return best, f"cut off {best.name}: {why}"


def _remnant(hide: Hide, leather: Any, piece: Any, number: int, way: _Way, why: str) -> Remnant:
    import shapely

    corners = shapely.get_coordinates(shapely.orient_polygons(piece.simplify(0.0)).exterior)[:-1]
    shift = np.floor(corners.min(axis=0) + _FINE)
    outline = _rounded(corners - shift)
    own = shapely.Polygon(outline + shift)

    def on_it(polygon: Floats) -> bool:
        return bool(shapely.intersection(shapely.Polygon(polygon), own).area > 1.0)

    name = f"{hide.name[:70]} r{number}"
    own_hide = replace(
        hide,
        name=name,
        parent=hide.name,
        outline=outline,
        flaws=tuple(_moved(flaw, shift) for flaw in hide.flaws if on_it(flaw.polygon)),
        thickness_zones=tuple(
            ThicknessZone(zone.thickness, _rounded(zone.polygon - shift))
            for zone in hide.thickness_zones
            if on_it(zone.polygon)
        ),
        digest="",
        first_cut=None,
        back=back_on_piece(hide, outline, shift),
        findings=(),
    )
    return Remnant(
        polygon=own_hide.outline + shift,
        cut=_cut_lines(own_hide.outline + shift, leather),
        shape="straight" if way.treads == 1 else "stepped",
        why=why,
        shift=(float(shift[0]), float(shift[1])),
        hide=own_hide,
    )


def _moved(flaw: Flaw, shift: Floats) -> Flaw:
    """Return a flaw as it stands in the remnant's own frame."""
    if flaw.round is None:
        return Flaw(flaw.kind, _rounded(flaw.polygon - shift))
    x, y, diameter = flaw.round
    centre = np.round(np.array([x, y]) - shift, 6) + 0.0
    return round_flaw(flaw.kind, float(centre[0]), float(centre[1]), diameter)


def _cut_lines(corners: Floats, leather: Any) -> tuple[Floats, ...]:
    """Return the runs of a piece's edges that do not lie on the hide's own edge."""
    import shapely

    following = np.roll(corners, -1, axis=0)
    middles = shapely.points((corners + following) / 2)
    new = shapely.distance(leather.exterior, middles) > 10 * _FINE
    if new.all():
        return (np.vstack([corners, corners[:1]]),)
    count = len(corners)
    begins = [k for k in range(count) if new[k] and not new[k - 1]]
    lines = []
    for begin in begins:
        length = next(n for n in range(1, count + 1) if not new[(begin + n) % count])
        lines.append(corners[(begin + np.arange(length + 1)) % count])
    return tuple(lines)


def _rounded(points: Floats) -> Floats:
    """Return points rounded to a millionth of a mm; two that become one are one."""
    return without_repeats(np.round(points, 6) + 0.0, 2 * _FINE)


def stepped_cuts(shape: Any, boxes: Floats, most: int) -> Iterator[Floats]:
    """Yield the line of one tread, of two and so on, that lies above all boxes and wastes least leather.

    A line runs level, in steps, from one side of a hide to the other: (2 × treads, 2) mm, its corners from
    left to right; it begins and ends off the hide.

    Args:
        shape: a shapely polygon.
        boxes: (N, 4) mm: least x, least y, greatest x, greatest y.
        most: how many treads (level stretches) at most; fewer where the shape is too short for them.

    Example:
        >>> import shapely
        >>> boxes = np.array([(0.0, 0.0, 1000.0, 100.0), (0.0, 100.0, 300.0, 200.0)])
        >>> [cut.tolist() for cut in stepped_cuts(shapely.box(0, 0, 1000, 500), boxes, 2)][1]
        [[-1.0, 200.0], [300.0, 200.0], [300.0, 100.0], [1001.0, 100.0]]
    """
    x0, y0, x1, _ = shape.bounds
    count = max(1, math.ceil((x1 - x0) / COLUMN - 1e-9))
    least = min(math.ceil(SHORTEST_TREAD / COLUMN), count)
    most = max(1, min(most, count // least))
    edges = x0 + COLUMN * np.arange(count + 1)
    skyline = np.full(count, y0)
    for bx0, _, bx1, by1 in boxes:
        first = max(0, math.floor((bx0 - x0) / COLUMN + 1e-9))
        last = min(count, math.ceil((bx1 - x0) / COLUMN - 1e-9))
        skyline[first:last] = np.maximum(skyline[first:last], math.ceil(by1 / _ROUND - 1e-9) * _ROUND)
    lost, levels = _losses(shape, edges, skyline)
    for ends in _cheapest(lost, most, least):
        corners: list[tuple[float, float]] = []
        for first, last in pairwise(ends):
            height = float(levels[first, last - 1])
            height = y0 - 1.0 if height <= y0 else height  # nothing lies there: all of it is kept
            left = x0 - 1.0 if first == 0 else float(edges[first])
            right = max(x1, float(edges[-1])) + 1.0 if last == count else float(edges[last])
            corners += [(left, height), (right, height)]
        yield np.array(corners)


def _losses(shape: Any, edges: Floats, skyline: Floats) -> tuple[Floats, Floats]:
    """Return, for a tread over columns i to j, about how much leather it loses, and its level: (C, C)."""
    low, high = _chords(shape, (edges[:-1] + edges[1:]) / 2)
    count = len(skyline)
    heights, which = np.unique(skyline, return_inverse=True)
    below = np.clip(heights[:, None] - low[None, :], 0.0, (high - low)[None, :]) * COLUMN
    summed = np.concatenate([np.zeros((len(heights), 1)), np.cumsum(below, axis=1)], axis=1)
    lost = np.full((count, count), np.inf)
    levels = np.full((count, count), np.inf)
    for first in range(count):
        top = np.maximum.accumulate(which[first:])
        last = np.arange(first, count)
        lost[first, first:] = summed[top, last + 1] - summed[top, first]
        levels[first, first:] = heights[top]
    return lost, levels


def _chords(shape: Any, xs: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and the highest point of a shape at each x; equal where it has none."""
    import shapely

    _, y0, _, y1 = shape.bounds
    lines = shapely.linestrings([[(x, y0 - 1), (x, y1 + 1)] for x in xs])
    bounds = shapely.bounds(shapely.intersection(lines, shape))
    low, high = bounds[:, 1], bounds[:, 3]
    off = ~np.isfinite(low)
    return np.where(off, y0, low), np.where(off, y0, high)


def _cheapest(lost: Floats, most: int, least: int) -> Iterator[list[int]]:
    """Yield the columns at which one tread, two and so on begin, and the end, so that least is lost."""
    count = len(lost)
    first, last = np.arange(count)[:, None], np.arange(1, count + 1)
    one = np.where(last - first >= least, lost, np.inf)  # of a tread from column ``first`` up to ``last``
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came: list[Ints] = []
    for _ in range(most):
        cost = best[:-1, None] + one
        pick = np.argmin(cost, axis=0)
        came.append(np.append(0, pick))
        best = np.append(np.inf, cost[pick, last - 1])
        ends = [count]
        for back in reversed(came):
            ends.append(int(back[ends[-1]]))
        yield ends[::-1]


def waste_of_hide(layout: Layout, hide: Hide) -> float:
    """Return which share of the leather used up on a hide does not become parts.

    Its remnants go back on the shelf and count as not used. Flaws among the parts do count, and so does
    what the first cut took off to square a raw edge.

    Args:
        layout: the layout.
        hide: one of its hides, with parts on it.
    """
    kept = sum(left.hide.area for left in remnants_on(layout, hide))
    parts = sum(placed.part.outline.area for placed in layout.placed_on(hide.name))
    return 1.0 - parts / (hide.whole_area - kept)


def wastes_of(layout: Layout) -> dict[str, Waste]:
    """Return each placed part's share of waste: that of the hide it lies on, by the part's id."""
    shares = {
        hide.name: Waste(waste_of_hide(layout, hide), f'true of hide "{hide.name}", nested')
        for hide in layout.hides
        if layout.placed_on(hide.name)
    }
    return {placed.part.id: shares[placed.hide] for placed in layout.placed}


def remnant_to_toml(remnant: Remnant) -> str:
    """Return a remnant as a hide file that says where it comes from."""
    x, y = (exact_number(value) for value in remnant.shift)
    return hide_to_toml(
        remnant.hide,
        (
            f"A remnant of {remnant.hide.parent}, {remnant.hide.area / 1e6:.3f} m2, {remnant.shape} edge.",
            f"Its (0, 0) was at ({x}, {y}) mm on {remnant.hide.parent}.",
            "Measure it again if it was not cut off along the line in the picture.",
        ),
    )


def remnant_files(layout: Layout) -> dict[str, str]:
    """Return a hide file for every remnant a layout leaves, by file name."""
    texts: dict[str, str] = {}
    for remnant in remnants_of(layout):
        wanted = _remnant_stem(remnant.hide.parent) + remnant.hide.name.rpartition(" r")[2]
        taken = {name.casefold() for name in texts}
        free = next(name for name in numbered(wanted) if f"{name}.toml".casefold() not in taken)
        texts[f"{free}.toml"] = remnant_to_toml(remnant)
    return texts


def check_remnants(folder: Path, hides: Sequence[Hide], *, force: bool = False) -> None:
    """Refuse early remnants that could not be written in the end.

    Raises:
        OutputError: something there is not strapwright's to overwrite, or the folder cannot be made.
    """
    check_writable([folder / f"{_remnant_stem(hide.name)}1.toml" for hide in hides], force=force)


def old_remnants(folder: Path, layout: Layout, written: Collection[Path]) -> list[Path]:
    """Return files that an earlier nest of the same hides left in a folder, and that are remnants no more.

    Args:
        folder: the folder of remnants.
        layout: the layout.
        written: what has just been written there.
    """
    stems = [_remnant_stem(hide.name) for hide in layout.hides if layout.placed_on(hide.name)]
    return [
        path
        for path in (sorted(folder.glob("*.toml")) if folder.is_dir() else [])
        if path not in written
        and any(path.stem.startswith(stem) and path.stem[len(stem) :].isdigit() for stem in stems)
        and is_ours(path)
    ]


def _remnant_stem(hide: str) -> str:
    """Return what the files of a hide's remnants begin with, before their number.

    Example:
        >>> _remnant_stem("Öland 3/b")
        'Oland-3-b-r'
    """
    return f"{file_safe(hide[:70], 'hide')}-r"
