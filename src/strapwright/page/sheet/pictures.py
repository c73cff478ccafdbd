"""Small pictures to pick from: tips, buckles, fasteners, keepers, ways to measure."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.drawing.canvas import Canvas, Circle, Line, Path, Text, polygon, polyline
from strapwright.drawing.measuring import MEASURED, arrow, body, box, laid_belt, sizes, slot, trousers
from strapwright.drawing.svg import element
from strapwright.geometry.contour import Contour
from strapwright.parts.tips import TIPS, make_tip

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.drawing.canvas import Item, Point
    from strapwright.job.catalogue.buckle import Buckle

WIDTH, HEIGHT = 96.0, 56.0
"""Of every picture, px."""

_LEATHER: Final = "sample"
_METAL: Final = "sample-metal"
_STRAP: Final = 40.0
"""Width of the strap tips are drawn for, mm."""


@cache
def choice_pictures() -> dict[tuple[str, str], str]:
    """Return a picture for each value of a field that is picked by eye, as SVG elements."""
    drawn: dict[tuple[str, str], Sequence[Item]] = {("tip.shape", shape): _tip(shape) for shape in TIPS}
    drawn |= {
        ("fastener", "screw_post"): [
            *_layers(),
            box(43.0, 18.0, 10.0, 24.0, _METAL),
            box(36.0, 14.0, 24.0, 5.0, _METAL),
            box(36.0, 41.0, 24.0, 5.0, _METAL),
            Line(48.0, 41.0, 48.0, 46.0, "mark"),
        ],
        ("fastener", "rivet"): [
            *_layers(),
            box(45.0, 18.0, 6.0, 24.0, _METAL),
            _dome(48.0, 20.0, 12.0, -1),
            _dome(48.0, 40.0, 12.0, 1),
        ],
        ("fastener", "snap"): [
            *_layers(),
            _dome(48.0, 20.0, 15.0, -1),
            box(42.0, 26.0, 12.0, 8.0, _METAL),
            box(39.0, 40.0, 18.0, 4.0, _METAL),
        ],
        ("fastener", "stitched"): [
            box(6.0, 12.0, 84.0, 32.0, _LEATHER),
            *(Line(x, y, x + 7.0, y, "score") for y in (19.0, 37.0) for x in range(14, 86, 12)),
        ],
        ("keeper.join", "butt"): _loop(lapped=False),
        ("keeper.join", "lap"): _loop(lapped=True),
        ("holes.shape", "round"): _holes(6.0),
        ("holes.shape", "oval"): _holes(11.0),
        ("size.way", "girth"): _girth(),
        ("size.way", "worn_to_hole"): _old_belt(3, "edge"),
        ("size.way", "belt_size"): _old_belt(2, "centre"),
        ("size.way", "trousers"): [
            box(28.0, 12.0, 40.0, 32.0, "hole mark"),
            Text("36", 48.0, 35.0, 19.0, "middle", bold=True),
        ],
        ("size.way", "sizes"): _run(),
        ("buckle.bar", "heel"): _frame(34.0, 26.0, 0.0, 1),
        ("buckle.bar", "centre"): _frame(34.0, 22.0, 22.0, 1),
        ("buckle.prongs", "0"): _frame(34.0, 26.0, 0.0, 0),
        ("buckle.prongs", "1"): _frame(34.0, 26.0, 0.0, 1),
        ("buckle.prongs", "2"): _frame(34.0, 26.0, 0.0, 2),
        ("keeper.held", "between"): _kept(48.0),
        ("keeper.held", "row_a"): _kept(34.0),
        ("keeper.held", "row_b"): _kept(62.0),
        ("keeper.held", "slides"): [*_kept(62.0, rows=(26.0,)), *arrow(46.0, 78.0, 7.0)],
        ("keeper.guides", "stitch"): _joint("stitch"),
        ("keeper.guides", "staple"): _joint("staple"),
        ("keeper.guides", "none"): _joint("none"),
        ("fastener_holes.rows", "1"): _rows(1, 2),
        ("fastener_holes.rows", "2"): _rows(2, 2),
        ("fastener_holes.across", "1"): _rows(2, 1),
        ("fastener_holes.across", "2"): _rows(2, 2),
    }
    for end in ("ends.0", "ends.1"):
        drawn |= {(f"{end}.tip.shape", shape): _tip(shape) for shape in TIPS}
        drawn |= {
            (f"{end}.way", "tip"): _tip("round"),
            (f"{end}.way", "bar_diameter"): _folded(Circle(28.0, 28.0, 5.0, "frame")),
            (f"{end}.way", "bar_section"): _folded(box(25.0, 22.5, 6.0, 11.0, "frame")),
        }
    return {key: _shown(items) for key, items in drawn.items()}


@cache
def how_to_measure() -> dict[str, tuple[str, str]]:
    """Return, for each way of sizing, a picture of how it is measured as an SVG element, and its words."""
    drawn: dict[str, tuple[Sequence[Item], str]] = {
        "girth": (body(), "Tape snug where the belt is worn, over the clothes."),
        "worn_to_hole": (
            laid_belt("worn"),
            "Lay a belt that fits flat. Measure from the fold to the far edge of the hole that is worn.",
        ),
        "belt_size": (
            laid_belt("middle"),
            "Measure from the outer end of the fold to the centre of the middle hole.",
        ),
        "trousers": (trousers(), "The size on the label, in inches. A tape is more reliable."),
        "sizes": (sizes(), "One belt is made of each size: 30-46/2, or 80 cm-110 cm/5 cm."),
    }
    return {
        way: (element(Canvas(*MEASURED, "", items, paper="none")), words)
        for way, (items, words) in drawn.items()
    }


def buckle_picture(buckle: Buckle) -> str:
    """Return a buckle by its measures, as an SVG element: bar, frame and prongs seen from the front."""
    across = buckle.opening or buckle.for_strap or 40.0
    return _shown(_frame(across, buckle.frame_depth, buckle.rear_depth or 0.0, buckle.prongs))


def _shown(items: Sequence[Item]) -> str:
    return element(Canvas(WIDTH, HEIGHT, "", items, paper="none"))


def _contour(vertices: Sequence[tuple[float, float, float]]) -> Contour:
    return Contour(np.array(vertices))


def _tip(shape: str) -> list[Item]:
    scale, right, middle = 34.0 / _STRAP, WIDTH - 6.0, HEIGHT / 2
    corners = make_tip(shape, _STRAP, {}).vertices()
    placed = [(right + scale * x, middle - scale * y, -bulge) for x, y, bulge in corners]
    low, high = middle + scale * _STRAP / 2, middle - scale * _STRAP / 2
    outline = _contour([*placed, (4.0, high, 0.0), (4.0, low, 0.0)])
    return [Path((outline,), _LEATHER), *(Circle(x, middle, 2.5, "hole mark") for x in (14.0, 32.0))]


def _frame(across: float, depth: float, rear: float, prongs: int) -> list[Item]:
    """Draw a buckle: its bar upright, the front to the right; a hook where there are no prongs."""
    scale = min((HEIGHT - 12.0) / across, (WIDTH - 20.0) / (depth + rear + 1.0))
    bar = (WIDTH - scale * (depth - rear)) / 2
    high, low = HEIGHT / 2 - scale * across / 2, HEIGHT / 2 + scale * across / 2
    left, right = bar - scale * rear, bar + scale * depth
    items: list[Item] = [
        polygon("frame", (left, high), (right, high), (right, low), (left, low)),
        Line(bar, high, bar, low, "frame"),
    ]
    ways = {0: (), 1: (0.0,), 2: (-0.22 * across, 0.22 * across)}[prongs]
    for way in ways:
        y = HEIGHT / 2 + scale * way
        items.append(Line(bar, y, right + 3.0, y, "frame"))
    if not prongs:
        items.append(Circle((bar + right) / 2, HEIGHT / 2, 3.0, "head"))
    return items


def _layers() -> list[Item]:
    return [box(8.0, 20.0, 80.0, 10.0, _LEATHER), box(8.0, 30.0, 80.0, 10.0, _LEATHER)]


def _dome(x: float, y: float, half: float, way: int) -> Path:
    bulge = math.tan(math.radians(110.0) / 4)
    return Path((_contour([(x - half, y, -way * bulge), (x + half, y, 0.0)]),), _METAL)


def _holes(long: float) -> list[Item]:
    holes = [slot(x, HEIGHT / 2, long, 6.0) for x in (24.0, 48.0, 72.0)]
    return [box(4.0, 14.0, 88.0, 28.0, _LEATHER), *holes]


def _loop(*, lapped: bool) -> list[Item]:
    """Draw a keeper from its end: a flat loop, its ends butted or one over the other, above."""
    outside = box(12.0, 16.0, 72.0, 28.0, _LEATHER)
    inside = box(18.0, 22.0, 60.0, 16.0, "hole mark")
    if lapped:
        return [outside, inside, box(34.0, 10.0, 50.0, 6.0, _LEATHER), Line(34.0, 10.0, 34.0, 22.0, "mark")]
    return [outside, inside, Line(48.0, 16.0, 48.0, 22.0, "mark")]


def _girth() -> list[Item]:
    turns = [a / 12 * math.pi for a in range(24)]
    around = [(48.0 + 34.0 * math.cos(a), 28.0 + 15.0 * math.sin(a)) for a in turns]
    within = [(48.0 + 29.0 * math.cos(a), 28.0 + 11.0 * math.sin(a)) for a in turns]
    marks: list[Item] = [polyline("mark", within[k], around[k]) for k in range(24)]
    return [polygon(_LEATHER, *around), polygon("hole mark", *within), *marks]


def _old_belt(hole: int, to: str) -> list[Item]:
    """Draw a belt lying straight, and the length that is taken: from the fold to a hole's edge or centre."""
    holes = [50.0, 60.0, 70.0, 80.0]
    end = holes[hole - 1] + (2.5 if to == "edge" else 0.0)
    frame = polygon("frame", (6.0, 28.0), (20.0, 28.0), (20.0, 50.0), (6.0, 50.0))
    items: list[Item] = [box(12.0, 30.0, 80.0, 18.0, _LEATHER), frame]
    items += [Circle(x, 39.0, 2.5, "hole mark") for x in holes]
    items += [Line(12.0, 8.0, 12.0, 30.0, "thin"), Line(end, 8.0, end, 39.0, "thin"), *arrow(12.0, end, 14.0)]
    return items


def _run() -> list[Item]:
    lengths: Sequence[Point] = ((12.0, 62.0), (24.0, 72.0), (36.0, 82.0))
    return [box(8.0, y, long, 8.0, _LEATHER) for y, long in lengths]


def _kept(x: float, rows: Sequence[float] = (34.0, 62.0)) -> list[Item]:
    """Draw the turn-back from above with its fastener rows, and a keeper round it at a place."""
    heads = [Circle(row, y, 3.5, _METAL) for row in rows for y in (20.0, 36.0)]
    keeper = box(x - 7.0, 9.0, 14.0, 38.0, _LEATHER)
    return [box(4.0, 12.0, 88.0, 32.0, _LEATHER), keeper, *heads]


def _joint(by: str) -> list[Item]:
    """Draw the two ends of a keeper where they meet, and what joins them."""
    items: list[Item] = [box(6.0, 14.0, 42.0, 28.0, _LEATHER), box(48.0, 14.0, 42.0, 28.0, _LEATHER)]
    look = "score" if by == "stitch" else "frame"
    for y in {"stitch": (21.0, 28.0, 35.0), "staple": (24.0, 32.0)}.get(by, ()):
        items.append(Line(40.0, y, 56.0, y, look))
        items += [Circle(x, y, 1.8, "hole mark") for x in (40.0, 56.0)]
    return items


def _rows(rows: int, across: int) -> list[Item]:
    """Draw a turned end from above with its fastener holes."""
    ys = (20.0, 36.0) if across == 2 else (28.0,)
    holes = [Circle(x, y, 3.0, "hole mark") for x in (32.0, 62.0)[:rows] for y in ys]
    return [box(12.0, 12.0, 80.0, 32.0, _LEATHER), Line(12.0, 10.0, 12.0, 46.0, "frame"), *holes]


def _folded(bar: Item) -> list[Item]:
    """Draw an end from the side, folded round a bar."""
    outline = [
        (90.0, 14.0, 0.0),
        (28.0, 14.0, -1.0),
        (28.0, 42.0, 0.0),
        (64.0, 42.0, 0.0),
        (64.0, 36.0, 0.0),
        (28.0, 36.0, 1.0),
        (28.0, 20.0, 0.0),
        (90.0, 20.0, 0.0),
    ]
    return [Path((_contour(outline),), _LEATHER), bar]


def pictures(buckles: Mapping[str, Buckle]) -> dict[tuple[str, str], str]:
    """Return all pictures of a form's choices, those of the catalogue's buckles among them."""
    return choice_pictures() | {("buckle", name): buckle_picture(one) for name, one in buckles.items()}
