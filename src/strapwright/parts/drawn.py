"""Tips, openings, ornaments and whole parts from the shapes of a drawing made elsewhere."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PartError
from strapwright.core.tolerances import DRAWN_CURVE
from strapwright.geometry.contour import Contour
from strapwright.geometry.shapes import chain
from strapwright.geometry.transform import Placement
from strapwright.parts.hole_row import LEAST_WALL
from strapwright.parts.own_shape import OwnPart, OwnTip, check_holes, check_size, gap, opening_name
from strapwright.parts.part import Feature, Operation

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.geometry.drawings.file import Shape
    from strapwright.parts.strap import Strap

_LEVEL: Final = 1e-6
"""Points of a drawing that lie nearer to a line than this lie on it, mm."""

SMALL: Final = 2.0
"""Beside an opening smaller than this across, half the leather will do, mm."""


def web_of(thickness: float) -> float:
    """Return how much leather must stay between openings of a drawn part, mm.

    Half the leather's thickness, and no less than 1 mm (our own measure): a thinner web tears as it is cut.

    Args:
        thickness: of the leather, mm.

    Example:
        >>> web_of(3.6), web_of(1.2)
        (1.8, 1.0)
    """
    return max(1.0, thickness / 2)


@lru_cache(maxsize=64)
def tip_from_drawing(shapes: tuple[Shape, ...], name: str, width: float) -> OwnTip:
    """Return the tip that a drawing holds: an open line round it, or a closed one with a straight rear edge.

    Whichever way of the four it points, and wherever it is drawn, it is turned towards +x. Straight edges of
    the strap that were drawn with it are left off.

    Args:
        shapes: of the drawing.
        name: of its file, for messages.
        width: of the strap, mm.

    Raises:
        PartError: it is no tip, or does not meet the strap: one line with the file and the shape.
    """
    if len(shapes) != 1 or shapes[0].operation not in ("", "cut"):
        what = ", ".join(f"{shape.where} ({shape.operation or 'cut'})" for shape in shapes[:3])
        count = f"{len(shapes)} shape{'s' if len(shapes) > 1 else ''}"
        raise PartError(
            f"{name}: found {count}: {what}; expected one line, to be cut, round the tip; put anything "
            'else in a [[belt.hole]] or [[belt.ornament]], or on a layer or in a group "notes"'
        )
    shape = shapes[0]
    where, half = f"{name}: {shape.where}", width / 2
    run = _opened(shape.contour, width, where) if shape.contour.closed else shape.contour
    run = _pointing_right(run)
    first, last = run.vertices[0, :2], run.vertices[-1, :2]
    across = float(last[1] - first[1])
    if abs(across - width) > 2 * DRAWN_CURVE:
        raise PartError(
            f"{where}: does not meet the strap: its ends are {across:.2f} mm apart across it, expected "
            f"{width:g} mm; draw it as wide as the strap is cut"
        )
    run = Placement(0.0, -run.bounding_box[2], -float(first[1] + last[1]) / 2).apply(run)
    box = run.bounding_box
    if max(-box[1], box[3]) > half + 2 * DRAWN_CURVE:
        raise PartError(
            f"{where}: reaches {max(-box[1], box[3]):.2f} mm to the side; expected at most {half:g} mm, or "
            "the tip would not pass the buckle; draw it within the strap's width"
        )
    drawn = [(float(x), float(y), float(bulge)) for x, y, bulge in run.vertices]
    drawn[0] = (drawn[0][0], -half, drawn[0][2])
    drawn[-1] = (drawn[-1][0], half, 0.0)
    return OwnTip(width, tuple(_without_edges(drawn, half, where)))


def _pointing_right(run: Contour) -> Contour:
    """Return an open line turned by quarters so that its ends lie to the left, the lower one first."""
    first, last = run.vertices[0, :2], run.vertices[-1, :2]
    middle = (first + last) / 2
    x0, y0, x1, y1 = run.bounding_box
    if abs(last[1] - first[1]) >= abs(last[0] - first[0]):
        quarters = 0 if x1 - middle[0] >= middle[0] - x0 else 2
    else:
        quarters = 3 if y1 - middle[1] >= middle[1] - y0 else 1
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarters]
    vertices = run.vertices @ np.array([(c, s, 0), (-s, c, 0), (0, 0, 1)], dtype=np.float64)
    turned = Contour(vertices, closed=False)
    return turned if turned.vertices[0, 1] < turned.vertices[-1, 1] else turned.reversed()


def _opened(run: Contour, width: float, where: str) -> Contour:
    """Return a closed outline without its straight rear edge, as long as the strap is wide."""
    x0, y0, x1, y1 = run.bounding_box
    rears = []
    for place in range(len(run)):
        (ax, ay), (bx, by) = run.starts[place], run.ends[place]
        on_box = any(
            abs(a - level) < DRAWN_CURVE and abs(b - level) < DRAWN_CURVE
            for a, b, level in ((ax, bx, x0), (ax, bx, x1), (ay, by, y0), (ay, by, y1))
        )
        if not run.bulges[place] and on_box and abs(math.hypot(bx - ax, by - ay) - width) < 2 * DRAWN_CURVE:
            rears.append(place)
    if len(rears) != 1:
        found = "no straight edge" if not rears else f"{len(rears)} straight edges"
        raise PartError(
            f"{where}: does not meet the strap: it is closed with {found} of {width:g} mm, the strap's "
            "width, at its side; expected one, or an open line from edge to edge round the tip"
        )
    order = [(rears[0] + 1 + k) % len(run) for k in range(len(run))]
    return Contour(run.vertices[order], closed=False)


def _without_edges(
    drawn: list[tuple[float, float, float]], half: float, where: str
) -> list[tuple[float, float, float]]:
    """Return a tip's line from where the later of its edges ends, both ends on one level."""
    while len(drawn) > 3 and not drawn[0][2] and abs(drawn[1][1] + half) < DRAWN_CURVE:
        drawn = [(drawn[1][0], -half, drawn[1][2]), *drawn[2:]]
    while len(drawn) > 3 and not drawn[-2][2] and abs(drawn[-2][1] - half) < DRAWN_CURVE:
        drawn = [*drawn[:-2], (drawn[-2][0], half, 0.0)]
    # A swallow tail runs back behind its ends: the strap's edges go on to its rearmost point.
    level = min(drawn[0][0], drawn[-1][0], Contour(np.array(drawn), closed=False).bounding_box[0])
    if level > -_LEVEL:
        raise PartError(f"{where}: is no tip: it is straight across; name the square tip")
    if drawn[0][0] > level:
        drawn = [(level, -half, 0.0), *drawn]
    if drawn[-1][0] > level:
        drawn = [*drawn, (level, half, 0.0)]
    return [(float(x), float(y), float(bulge)) for x, y, bulge in chain(drawn, closed=False).vertices]


@lru_cache(maxsize=64)
def part_from_drawing(shapes: tuple[Shape, ...], name: str, thickness: float) -> OwnPart:
    """Return the part that a drawing holds: its largest closed line to cut, all others made in it.

    Its left end comes to x = 0 and its middle to y = 0.

    Args:
        shapes: of the drawing.
        name: of its file, for messages.
        thickness: of its leather, mm.

    Raises:
        PartError: it is no single piece, or leaves too little leather: one line with the file and the shape.
    """
    _check_closed(shapes, name, Operation.CUT)
    cut = sorted(
        (shape for shape in shapes if shape.operation in ("", "cut")), key=lambda shape: -shape.contour.area
    )
    if not cut:
        raise PartError(f"{name}: found nothing to cut; expected the part's outline, its layer or id cut")
    x0, y0, _, y1 = cut[0].contour.bounding_box
    place = Placement(0.0, -x0, -(y0 + y1) / 2)
    outline, *holes = (place.apply(shape.contour) for shape in cut)
    check_size(outline, f"{name}: {cut[0].where} draws")
    draws = [f"{name}: {shape.where} draws" for shape in cut[1:]]
    check_holes(outline, holes, draws, web_of(thickness))
    made = []
    for shape in shapes:
        if shape.operation in ("score", "punch"):
            contour = place.apply(shape.contour)
            if not outline.contains(contour.sample()).all():
                raise PartError(f"{name}: {shape.where}: reaches beyond the part's outline; keep it inside")
            made.append(_feature(Operation(shape.operation), contour))
    return OwnPart(outline, tuple(holes), tuple(made))


def _check_closed(shapes: Iterable[Shape], name: str, unsaid: Operation) -> None:
    """Refuse open lines that are to be cut or punched."""
    for shape in shapes:
        operation = shape.operation or unsaid
        if not shape.contour.closed and operation != Operation.SCORE:
            (x0, y0), (x1, y1) = shape.contour.vertices[0, :2], shape.contour.vertices[-1, :2]
            raise PartError(
                f"{name}: {shape.where}: an open line from ({x0:.2f}, {y0:.2f}) to ({x1:.2f}, {y1:.2f}) mm "
                f"(y up), expected a closed one to {operation}; close it, or name its layer or id score"
            )


def _feature(operation: Operation, contour: Contour) -> Feature:
    if operation is Operation.SCORE:
        return Feature("scored line", operation, contour)
    return Feature(opening_name(contour), operation, contour)


@dataclass(frozen=True)
class Drawing:
    """A drawing to be made in a strap, its middle at the origin.

    Args:
        name: of its file.
        shapes: of it.
        unsaid: how shapes are made where it does not say.
    """

    name: str
    shapes: tuple[Shape, ...]
    unsaid: Operation

    def __post_init__(self) -> None:
        _check_closed(self.shapes, self.name, self.unsaid)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Round all its shapes, as drawn, mm."""
        boxes = np.array([shape.contour.bounding_box for shape in self.shapes])
        return (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())

    def at(self, x: float, y: float, turn: float = 0.0, scale: float = 1.0) -> tuple[Feature, ...]:
        """Return its features with the middle of its box in a place on the strap.

        Args:
            x: along the strap, mm.
            y: across, mm.
            turn: counter-clockwise, radians.
            scale: how much larger than drawn.
        """
        x0, y0, x1, y1 = self.box
        to = Placement(turn, x, y)
        found = []
        for shape in self.shapes:
            vertices = (shape.contour.vertices - [(x0 + x1) / 2, (y0 + y1) / 2, 0.0]) * [scale, scale, 1.0]
            contour = to.apply(Contour(vertices, shape.contour.closed))
            found.append(_feature(Operation(shape.operation or self.unsaid), contour))
        return tuple(found)


def check_opening(drawing: Drawing, features: Sequence[Feature], strap: Strap, thickness: float) -> None:
    """Refuse a drawn opening that leaves too little leather to the strap's edge or to what is made in it.

    Args:
        drawing: it.
        features: of it, in their place.
        strap: without it.
        thickness: of its leather, mm.

    Raises:
        PartError: one line with the file and the shape.
    """
    others = [one for one in strap.features() if one.name != "crease line"]
    for place, (shape, feature) in enumerate(zip(drawing.shapes, features, strict=True)):
        where = f"{drawing.name}: {shape.where}"
        wanted = wall_round(feature, thickness)
        if not strap.outline.contains(feature.contour.sample()).all():
            raise PartError(f"{where}: reaches beyond the strap's edge; move it, or draw it smaller")
        if (left := gap(feature.contour, strap.outline)) < wanted:
            raise PartError(
                f"{where}: leaves {left:.2f} mm of leather to the strap's edge; expected {wanted:g} mm or "
                "more: move it, or draw it smaller"
            )
        for other in (*others, *features[:place]):
            least = min(wanted, wall_round(other, thickness))
            if too_near(feature, other, least):
                x, y = np.mean(other.contour.vertices[:, :2], axis=0)
                raise PartError(
                    f"{where}: comes nearer than {least:g} mm to the {other.name} at ({x:.1f}, {y:.1f}) mm; "
                    "move it, or draw it smaller"
                )


def wall_round(feature: Feature, thickness: float) -> float:
    """Return the leather that must stay round a feature, mm: less round small ones; a score needs little.

    Args:
        feature: it.
        thickness: of the leather, mm.
    """
    if feature.operation is Operation.SCORE:
        return LEAST_WALL / 4
    x0, y0, x1, y1 = feature.contour.bounding_box
    wall = max(LEAST_WALL, thickness / 2)
    return wall / 2 if max(x1 - x0, y1 - y0) < SMALL else wall


def too_near(one: Feature, other: Feature, least: float) -> bool:
    """Return whether two features overlap or come nearer than some distance, mm."""
    a, b = one.contour.bounding_box, other.contour.bounding_box
    if a[0] - b[2] > least or b[0] - a[2] > least or a[1] - b[3] > least or b[1] - a[3] > least:
        return False
    both_scored = one.operation is other.operation is Operation.SCORE
    if gap(one.contour, other.contour) < least:
        return not both_scored
    first, second = one.contour, other.contour
    return bool(
        (first.closed and one.operation is not Operation.SCORE and first.contains(second.starts).any())
        or (second.closed and other.operation is not Operation.SCORE and second.contains(first.starts).any())
    )


def repeated(
    drawing: Drawing, strap: Strap, run: tuple[float, float], pitch: float, across: float,
    margin: float | None, clear: float,
) -> tuple[tuple[Feature, ...], int, int]:  # fmt: skip
    """Return an ornament along a strap, how often it is made, and how often it is left out.

    As many as fit are set in the middle of their run. One that would come too near to the edge, a hole, a
    slot or a line is left out as a whole.

    Args:
        drawing: it.
        strap: without it.
        run: x from where to where, mm.
        pitch: from each to the next, mm.
        across: of its middle, mm.
        margin: left at each edge, where it is scaled to the width; None: not scaled.
        clear: kept from everything, mm.

    Raises:
        PartError: it is wider than the strap, overlaps itself, or finds no room at all.
    """
    x0, y0, x1, y1 = drawing.box
    scale = 1.0
    if margin is not None:
        if y1 - y0 < _LEVEL or strap.width - 2 * margin < 1.0:
            raise PartError(f"{drawing.name}: margin is {margin:g} mm; nothing is left of the strap's width")
        scale = (strap.width - 2 * margin) / (y1 - y0)
    long = (x1 - x0) * scale
    start, end = run
    if end - start < long:
        raise PartError(
            f"{drawing.name}: is {long:.1f} mm long, and only {end - start:.1f} mm lie from {start:.1f} to "
            f"{end:.1f} mm from the fold; choose another from and to"
        )
    count = int((end - start - long) / pitch + 1e-9) + 1
    first = (start + end - (count - 1) * pitch) / 2
    others = strap.features()
    kept: list[Feature] = []
    made = 0
    for k in range(count):
        own = drawing.at(first + k * pitch, across, 0.0, scale)
        outside = any(
            not strap.outline.contains(one.contour.sample()).all()
            or gap(one.contour, strap.outline) < clear - _LEVEL
            for one in own
        )
        if outside or any(_touches(one, other, clear) for one in own for other in others):
            continue
        if pitch < long and any(
            Operation.SCORE not in (one.operation, other.operation) and too_near(one, other, 1.0)
            for one in own
            for other in kept
        ):
            raise PartError(
                f"{drawing.name}: is {long:.1f} mm long and repeats every {pitch:g} mm, so that its "
                "openings run into each other; choose a greater repeat"
            )
        kept += own
        made += 1
    if not kept:
        raise PartError(
            f"{drawing.name}: finds no room {clear:g} mm clear of the edge, holes and lines; choose another "
            "from and to, or draw it smaller"
        )
    return tuple(kept), made, count - made


def _touches(one: Feature, other: Feature, clear: float) -> bool:
    """Return whether a feature comes nearer to another than it must, or lies inside its hole."""
    a, b = one.contour.bounding_box, other.contour.bounding_box
    if a[0] - b[2] > clear or b[0] - a[2] > clear or a[1] - b[3] > clear or b[1] - a[3] > clear:
        return False
    if gap(one.contour, other.contour) < clear - _LEVEL:
        return True
    inside = other.contour.closed and other.operation is not Operation.SCORE
    return bool(inside and other.contour.contains(one.contour.starts).any())
