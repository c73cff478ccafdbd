"""The picture of a layout, to look at before anything is cut: hides, flaws, parts, yield and remnants.

It is drawn for a screen or a sheet of paper, 1200 px wide, not for a machine; what a colour says, a line,
a hatch or a word says as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.findings import grouped_findings
from strapwright.core.text import counted
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.drawing.canvas import Canvas, Path, polygon, polyline
from strapwright.drawing.layout.elements import EDGE, WIDTH, Frame, lettered, part_items, text
from strapwright.drawing.layout.flaws import ONCE, flaw_items, flaw_key
from strapwright.drawing.text import shortened, text_width, wrapped
from strapwright.geometry.polygon import polygons_in, to_polygon
from strapwright.nesting.bound.area import bound_sentence
from strapwright.nesting.hide.backbone import back_of, runs_through
from strapwright.nesting.remnant import remnants_on

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.core.findings import Finding
    from strapwright.drawing.canvas import Item
    from strapwright.geometry.contour import Contour
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.remnant import Remnant

_LETTERS: Final = 12.0
_COLUMN: Final = 470.0
_LEVEL: Final = 1e-6

_OFF: Final = 10.0
"""The middle of the words back and belly stands so far off the hide, px."""

_INNER: Final = WIDTH - 2 * EDGE
_TALLEST: Final = 1000.0

_LISTED: Final = 12
"""So many parts without a place, and so many findings, are named; the command's own list has all."""

_COLUMNS: Final = 5


@dataclass
class _Page:
    """What is on the page, and how far down it is filled."""

    items: list[Item]
    y: float = 0.0

    def say(self, words: str, size: float = 13, *, bold: bool = False, look: str = "ink") -> None:
        """Set text at the left edge, on as many lines as it needs, and move down."""
        for line in wrapped(words, _INNER, size, bold=bold):
            self.y += size * 1.45
            self.items.append(text(EDGE, self.y, line, size, bold=bold, look=look))


def picture(layout: Layout, *, title: str, findings: Sequence[Finding] = ()) -> Canvas:
    """Draw a layout, every hide of it below the one before, all to one scale.

    Args:
        layout: what to draw.
        title: what stands at the head, such as the job's name.
        findings: of draft and layout; so many of them are listed, the gravest first.

    Returns:
        A canvas 1200 px wide.
    """
    page = _Page([], 14.0)
    page.say(title, 22, bold=True)
    hides = [hide for hide in layout.hides if layout.placed_on(hide.name)] or list(layout.hides[:1])
    unused = [hide.name for hide in layout.hides if hide not in hides]
    page.say(
        f"{len(layout.placed)} of {layout.asked} parts placed on "
        f"{counted(len(hides), 'hide')}. {bound_sentence(layout)}"
    )
    if unused:
        page.say(f"Not needed: {', '.join(unused)}.")
    wide, high = np.max([np.ptp(hide.outline, axis=0) for hide in hides], axis=0)
    scale = min(_INNER / float(wide), _TALLEST / float(high))
    for hide in hides:
        _draw_hide(page, layout, hide, scale)
    _draw_unplaced(page, layout)
    _tell_findings(page, findings)
    return Canvas(WIDTH, round(page.y + 20), title, page.items, paper="sheet")


def _draw_hide(page: _Page, layout: Layout, hide: Hide, scale: float) -> None:
    on_it = layout.placed_on(hide.name)
    page.y += 10
    words = [
        hide.name,
        *([] if hide.thickness is None else [f"{hide.thickness:.2f} mm thick"]),
        f"{hide.face_up} side up",
        counted(len(on_it), "part"),
        f"{layout.yield_of(hide.name):.1%} of the sound leather used",
    ]
    page.say(" · ".join(words), 15, bold=True)
    page.y += 26
    (x0, y0), (_, y1) = hide.outline.min(axis=0), hide.outline.max(axis=0)
    frame = Frame(float(x0), float(y1), EDGE, page.y, scale)
    page.items.append(polygon("hide", *frame.points(hide.outline)))
    clear = layout.avoided_on(hide.name)
    places = [(ONCE, zone.polygon) for zone in clear]
    places += [(str(flaw.kind), flaw.polygon) for flaw in hide.flaws]
    for kind, corners in places:
        page.items += flaw_items(kind, (frame.points(piece) for piece in _on_leather(corners, hide)))
    outlines = (one.placement.apply(one.part.outline) for one in on_it)
    page.items += zone_lines(hide, outlines, frame)
    rest = remnants_on(layout, hide)
    page.items += rest_lines(hide, rest, frame)
    numbers: list[tuple[int, str]] = []
    for placed in on_it:
        page.items += part_items(placed, frame)
        label = lettered(placed, frame)
        if label is None:
            numbers.append((len(numbers) + 1, placed.part.id))
            label = lettered(placed, frame, str(len(numbers)))
            assert label is not None
        page.items.append(text(label.x, label.y, label.words, label.size, middle=True, turn=label.turn))
    page.items += back_lines(hide, frame)
    page.y += float(y1 - y0) * scale + 28
    _draw_key(page, hide, layout.direction_of(hide.name), scale, avoided=bool(clear))
    for row in rest_words(hide, rest):
        y = page.y + 12
        ends = [x - 10 for _, x, _ in row[1:]] + [_INNER]
        for (look, x, told), end in zip(row, ends, strict=True):
            page.items.append(polyline(look, (EDGE + x, y), (EDGE + x + 60, y)))
            page.items.append(text(EDGE + x + 70, y + 4.5, shortened(told, end - x - 70, 12), 12))
        page.y = y + 6
    _draw_numbers(page, numbers)


def _on_leather(polygon: Floats, hide: Hide) -> list[Floats]:
    """Return what of a place lies on the hide, piece by piece."""
    import shapely

    shared = shapely.intersection(shapely.Polygon(polygon), shapely.Polygon(hide.outline))
    return [shapely.get_coordinates(piece.exterior)[:-1] for piece in polygons_in(shared)]


def _draw_key(page: _Page, hide: Hide, direction: float, scale: float, *, avoided: bool) -> None:
    """Draw the scale bar, the strap direction and what the hatches mean."""
    upright = 16 * abs(math.sin(direction))  # room for the arrow
    y = page.y + 10 + upright
    length = _round_length(180 / scale)
    bar = length * scale
    ticks = ((EDGE, 5), (EDGE + bar, 5), (EDGE + bar / 2, 3))
    rule = ((EDGE, y), (EDGE + bar, y))
    page.items.append(Path((rule, *(((x, y - arm), (x, y + arm)) for x, arm in ticks)), "scale"))
    page.items.append(text(EDGE + bar + 8, y + 4.5, f"{length:g} mm", 12))
    x = EDGE + bar + 100
    page.items.append(_arrow(x + 22, y, direction))
    page.items.append(text(x + 52, y + 4.5, "straps this way", 12))
    kinds = {str(flaw.kind) for flaw in hide.flaws} | ({ONCE} if avoided else set())
    key, _, y = flaw_key(kinds, x + 215, y)
    page.items += key
    page.y = y + 14 + upright


def _arrow(x: float, y: float, direction: float) -> Item:
    """Return a double arrow round (x, y), turned as the straps lie (y up on the hide, down here)."""
    c, s = math.cos(direction), math.sin(direction)
    runs = ((-22, 0), (22, 0)), ((15, -4.5), (22, 0), (15, 4.5)), ((-15, -4.5), (-22, 0), (-15, 4.5))
    return Path(tuple([(x + c * u + s * v, y - s * u + c * v) for u, v in run] for run in runs), "scale")


def _draw_numbers(page: _Page, numbers: list[tuple[int, str]]) -> None:
    """List the parts that bear a number because their name does not fit on them, column by column."""
    if not numbers:
        return
    page.y += 2
    rows = math.ceil(len(numbers) / _COLUMNS)
    top, wide = page.y, _INNER / _COLUMNS
    for index, (number, name) in enumerate(numbers):
        column, row = divmod(index, rows)
        x, y = EDGE + column * wide, top + 15 * (row + 1)
        page.items.append(text(x, y, str(number), 11, bold=True))
        page.items.append(text(x + 28, y, shortened(name, wide - 36, 11), 11))
    page.y = top + 15 * rows + 4


def _draw_unplaced(page: _Page, layout: Layout) -> None:
    if not layout.unplaced:
        return
    page.y += 8
    page.say(f"Not placed: {len(layout.unplaced)}", 15, bold=True, look="grave")
    reasons = list(layout.reasons.items())
    for reason, ids in reasons[:_LISTED]:
        page.say(f"{_some(ids, 12, _INNER / 3)}: {reason}", 12)
    if len(reasons) > _LISTED:
        page.say(f"and {sum(len(ids) for _, ids in reasons[_LISTED:])} more", 12, look="quiet")


def _tell_findings(page: _Page, findings: Sequence[Finding]) -> None:
    if not findings:
        return
    page.y += 8
    page.say("Findings", 15, bold=True)
    told = grouped_findings(findings)
    for found, subjects in told[:_LISTED]:
        about = _some(subjects, 12, _INNER / 3)
        about = f"{about}: " if about else ""
        page.say(f"{found.severity}: {about}{found.what} {found.do}", 12)
    if len(told) > _LISTED:
        page.say(f"and {len(told) - _LISTED} more", 12, look="quiet")


def _some(names: Sequence[str], size: float, room: float) -> str:
    """Return as many names as there is room for, whole, and how many more there are."""
    for count in range(len(names), 1, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        words = ", ".join(names[:count]) + more
        if text_width(words, size) <= room:
            return words
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return shortened(", ".join(names[:1]), room - text_width(more, size), size) + more


def _round_length(length: float) -> float:
    """Return the greatest 1, 2 or 5 times a power of ten that is no longer, mm."""
    power = 10.0 ** math.floor(math.log10(length))
    return max(step * power for step in (1, 2, 5) if step * power <= length)


def back_lines(hide: Hide, frame: Frame) -> Iterator[Item]:
    """Yield the words back and belly beside a hide, and the back's line where it runs through.

    Args:
        hide: the hide.
        frame: where it is drawn.
    """
    import shapely

    back = back_of(hide)
    along = np.array([math.cos(back.direction), math.sin(back.direction)])
    belly = np.array([-along[1], along[0]])
    leather = shapely.Polygon(hide.outline)
    far = 2 * float(np.max(np.ptp(hide.outline, axis=0))) + float(np.max(np.abs(hide.outline)))

    def ends(through: Floats, way: Floats) -> Floats:
        """Return where a line through a point leaves the leather last, before and after it."""
        line = shapely.LineString([through - far * way, through + far * way])
        cut: Floats = shapely.get_coordinates(shapely.intersection(leather, line))
        return cut[np.argsort(cut @ way)[[0, -1]]]

    def word(words: str, at: Floats, way: Floats) -> Item:
        x, y = frame.point(*(float(value) for value in at))
        off = math.degrees(math.atan2(way[0], way[1]))
        turn = (off + 90.0 + 1e-6) % 180.0 - 90.0 - 1e-6  # never upside down
        x, y = x + _OFF * float(way[0]), y - _OFF * float(way[1])
        return text(x, y, words, _LETTERS, middle=True, turn=round(turn, 3), look="quiet")

    middle = shapely.get_coordinates(shapely.centroid(leather))[0]
    if not leather.contains(shapely.Point(middle)):
        middle = shapely.get_coordinates(leather.representative_point())[0]
    right, left = ends(middle, belly)
    yield word("belly", left, belly)
    if not runs_through(hide):
        yield word("back, assumed" if back.assumed else "back", right, -belly)
        return
    yield word("belly", right, -belly)
    line = ends(np.array(back.start), along)
    yield polyline("back", *frame.points(line))
    yield word("back", line[0], -along)


def zone_lines(hide: Hide, parts: Iterable[Contour], frame: Frame) -> Iterator[Item]:
    """Yield the outline of every thickness zone where it lies on the leather, with its thickness.

    Args:
        hide: the hide.
        parts: outlines of what lies on it; the thickness is written beside them where there is room.
        frame: where the hide is drawn.
    """
    import shapely

    leather = shapely.Polygon(hide.outline)
    zones = [shapely.Polygon(zone.polygon) for zone in hide.thickness_zones]
    covered = [shapely.Polygon(to_polygon(part, NESTING_CHORD)) for part in parts] if zones else []
    for number, zone in enumerate(hide.thickness_zones):
        other = shapely.union_all([*covered, *zones[number + 1 :]])
        for piece in polygons_in(shapely.intersection(zones[number], leather)):
            yield polygon("zone", *frame.points(shapely.get_coordinates(piece.exterior)[:-1]))
            free = shapely.difference(piece, other)
            widest = shapely.maximum_inscribed_circle(piece if free.is_empty else free)
            x, y = frame.point(*(float(value) for value in shapely.get_coordinates(widest)[0]))
            yield text(x, y, f"{zone.thickness:.2f} mm", _LETTERS, middle=True, look="zone-words")


def rest_lines(hide: Hide, rest: Sequence[Remnant], frame: Frame) -> Iterator[Item]:
    """Yield the first cut, and of every remnant its cut line, its clear rectangle and its name.

    Args:
        hide: the hide.
        rest: its remnants.
        frame: where the hide is drawn.
    """
    if hide.first_cut is not None:
        yield polyline("first-cut", frame.point(*hide.first_cut.start), frame.point(*hide.first_cut.end))
    for left in rest:
        for cut in left.cut:
            yield polyline("cut-off", *frame.points(cut))
        clear = left.clear
        if clear is None:
            continue
        corners = clear.corners + np.array(left.shift)
        yield polygon("clear", *frame.points(corners))
        if abs(math.remainder(hide.strap_direction, math.pi / 2)) > _LEVEL:
            x, y = frame.point(*(float(value) for value in corners.mean(axis=0)))
            yield text(x, y, left.hide.name, _LETTERS, middle=True, look="quiet")
            continue
        # In the corner the rectangle has lowest on the picture's left, where no flaw is.
        x0, y0 = corners.min(axis=0)
        x1, y1 = corners.max(axis=0)
        wide, high = (x1 - x0) * frame.scale, (y1 - y0) * frame.scale
        if text_width(left.hide.name, _LETTERS) + 12 < wide and high > 2 * _LETTERS:
            x, y = frame.point(float(x0), float(y0))
            yield text(x + 6, y - 6, left.hide.name, _LETTERS, look="quiet")


def rest_words(hide: Hide, rest: Sequence[Remnant]) -> list[list[tuple[str, float, str]]]:
    """Return what the lines mean, row by row: look, place along the row, words."""
    rows: list[list[tuple[str, float, str]]] = []
    if hide.thickness_zones:
        rows.append([("zone", 0.0, "leather of another thickness, as shown there")])
    if hide.first_cut is not None:
        lost = hide.first_cut.area / 100
        rows.append([("first-cut", 0.0, f"first cut, squares the raw edge: {lost:.0f} cm² cut off")])
    for left in rest:
        row = [("cut-off", 0.0, f"cut off and keep {left.hide.name}: {left.hide.area / 1e6:.2f} m²")]
        clear = left.clear
        if clear is not None:
            said = f"clear in it: at least {clear.along:.0f} × {clear.across:.0f} mm"
            row.append(("clear", _COLUMN, said))
        rows.append(row)
    return rows
