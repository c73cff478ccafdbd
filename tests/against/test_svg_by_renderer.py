"""Drawn hides against a renderer: area and bounding box of one shape, read by us and drawn by resvg.

Source: resvg (by its binding resvg_py), an SVG renderer with a test suite of its own. It is asked for a PNG;
every shape is black on nothing, so the sum of its alpha is its area in pixels.
"""

from __future__ import annotations

import io
import math
import random
from itertools import cycle
from typing import TYPE_CHECKING

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

from strapwright.geometry.drawings.svg import shapes_in_svg
from strapwright.nesting.hide.drawing import HIDE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

WITHIN = 0.005
PIXELS = (220, 400, 600, 1200)
"""How wide a shape is drawn: to be found, to be measured, and again where tips are too thin for that."""
ROUND_IT = 12.0
"""What is seen round a shape, in units: the tip of a spike may be too thin to be found at first."""
WHOLE = (-350.0, -400.5, 1100.0, 1100.0)
"""Of the page, in its own units: left, top, width, height."""
DRAWINGS = 20
"""Of each of the kinds below."""


def number(value: float) -> str:
    """A number as programs write them: plain, short of its zero, or with an exponent."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    short = text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text
    return random.choice([text, short, f"{value:.6e}"])


def star(corners: int, least: float = 60.0) -> list[tuple[float, float]]:
    """Corners in a ring round (200, 150)."""
    angles = [(k + random.uniform(0.1, 0.9)) * 2 * math.pi / corners for k in range(corners)]
    reach = [random.uniform(least, 130.0) for _ in range(corners)]
    return [(200 + r * math.cos(a), 150 + r * math.sin(a)) for r, a in zip(reach, angles, strict=True)]


def pair(x: float, y: float) -> str:
    return number(x) + random.choice([" ", ",", " , "]) + number(y)


def lines() -> str:
    """A path of lines, absolute and relative, with H and V."""
    points = star(random.randint(3, 9))
    x, y = points[0]
    data = f"M{pair(x, y)}"
    for px, py in points[1:]:
        data += random.choice(
            [
                f"L{pair(px, py)}",
                f"l{pair(px - x, py - y)}",
                f"H{number(px)}V{number(py)}",
                f"h{number(px - x)}v{number(py - y)}",
            ]
        )
        x, y = px, py
    return f'<path d="{data}{random.choice("zZ")}"/>'


def curves() -> str:
    """A path of cubics and quadratics, smooth ones among them, nowhere far from its chords."""
    points = star(random.randint(3, 7), 80.0)
    x, y = points[0]
    data = f"m {pair(x, y)}"
    for px, py in [*points[1:], points[0]]:
        dx, dy = px - x, py - y

        def off(share: float, at: tuple[float, ...] = (x, y, dx, dy)) -> tuple[float, float]:
            side = random.uniform(-0.12, 0.12)
            return at[0] + share * at[2] - side * at[3], at[1] + share * at[3] + side * at[2]

        a, b, q = off(0.3), off(0.7), off(0.5)
        data += random.choice(
            [
                f"C{pair(*a)} {pair(*b)} {pair(px, py)}",
                f"c{pair(a[0] - x, a[1] - y)} {pair(b[0] - x, b[1] - y)} {pair(dx, dy)}",
                f"S{pair(*b)} {pair(px, py)}",
                f"Q{pair(*q)} {pair(px, py)}",
                f"q{pair(q[0] - x, q[1] - y)} {pair(dx, dy)}",
                f"Q{pair(*off(0.25))} {pair(x + dx / 2, y + dy / 2)}T{pair(px, py)}",
            ]
        )
        x, y = px, py
    return f'<path d="{data}z"/>'


def arcs() -> str:
    """An arc of an ellipse and its chord, with every mixture of flags, compact ones among them."""
    x, y, dx, dy = 150.0, 150.0, random.uniform(60, 100), random.uniform(-30, 30)
    rx, ry, turn = random.uniform(30, 90), random.uniform(30, 90), random.uniform(-200, 200)
    large, sweep = random.choice("01"), random.choice("01")
    gap = random.choice(["", " ", ","])
    there = f"{number(rx)} {number(ry)} {number(turn)} {large}{gap}{sweep}{gap}"
    end = pair(dx, dy) if gap else f"{dx:.3f} {dy:.3f}"
    return f'<path d="M{pair(x, y)}a{there}{end}z"/>'


def basics() -> str:
    """Rectangles with all sorts of corners, circles, ellipses, polygons."""
    w, h = random.uniform(60, 200), random.uniform(60, 150)
    x, y = random.uniform(0, 150), random.uniform(0, 100)
    at = f'x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}"'
    return random.choice(
        [
            f"<rect {at}/>",
            f'<rect {at} rx="{number(random.uniform(1, 120))}"/>',
            f'<rect {at} ry="{number(random.uniform(1, 120))}"/>',
            f'<rect {at} rx="{number(random.uniform(1, 60))}" ry="{number(random.uniform(1, 120))}px"/>',
            f'<circle cx="{number(x + 80)}" cy="{number(y + 70)}" r="{number(h / 2)}"/>',
            f'<ellipse cx="{number(x + 90)}" cy="70" rx="{number(w / 2)}" ry="{number(h / 2)}"/>',
            f'<polygon points="{" ".join(pair(*p) for p in star(random.randint(3, 12)))}"/>',
        ]
    )


def moved(shape: str, again: bool = True) -> str:
    """A shape in groups that move it about (200, 150) and back, so that it stays on the page."""
    c, s = random.uniform(0.6, 0.9), random.uniform(-0.3, 0.3)
    back = "translate(-200,-150)"
    about = random.choice(
        [
            f"rotate({number(random.uniform(-180, 180))} 200,150)",
            f"translate(200 150) scale({number(random.uniform(0.4, 0.9))} -.8) {back}",
            f"translate(200 150)skewX({number(random.uniform(-25, 25))}) scale(.9) translate(-200 -150)",
            f"translate(200 150) , skewY({number(random.uniform(-25, 25))}) scale(.9),{back}",
            f"translate(200,150)\n matrix({number(c)} {number(s)} {number(-s)} {number(c)} 0 0){back}",
            "scale(.9) translate(50)",
        ]
    )
    inner = moved(shape, again=False) if again and random.random() < 0.5 else shape
    return f'<g transform="{about}">{inner}</g>'


HIDDEN = (
    '<circle cx="20" cy="20" r="15" display="none"/>',
    '<circle cx="20" cy="20" r="15" style="fill:red; display : none"/>',
    '<g style="display:none!important"><circle cx="20" cy="20" r="15" style="display:inline"/></g>',
    '<g visibility="hidden"><rect width="30" height="10"/></g>',
    '<g visibility="hidden"><rect width="30" height="10" visibility="inherit"/></g>',
    '<rect width="30" height="10" style="visibility:collapse"/>',
    '<rect width="30" height="10" class="no"/>',
    '<g class="deep"><g><rect width="30" height="10"/></g></g>',
    '<rect width="30" height="10" id="gone"/>',
    '<rect width="30" height="10" systemLanguage="de, fr"/>',
    '<g systemLanguage="de"><rect width="30" height="10"/></g>',
    '<switch><g systemLanguage="de"><rect width="30" height="10"/></g></switch>',
)
IN_TURN = cycle(HIDDEN)
SHEET = "<style>.no{display:none}.deep rect{visibility:hidden} #gone{display:inline;display:none}</style>"


def partly_hidden(shape: str) -> str:
    """A shape beside one that is not shown, or in a group that is shown against what is said above it."""
    shown = random.choice(
        [
            shape,
            f'<g visibility="hidden"><g style="visibility:visible">{shape}</g></g>',
            f'<g systemLanguage="en-GB,de">{shape}</g>',
            f'<switch><g systemLanguage="fr"/>{shape}<rect width="9" height="9"/></switch>',
            f'<g class="no" style="display:inline">{shape}</g>',
            f"<g display='none' style='display:block'>{shape}</g>",
        ]
    )
    return SHEET + next(IN_TURN) + shown + next(IN_TURN)


KINDS: dict[str, Callable[[], str]] = {
    "lines": lines,
    "curves": curves,
    "arcs": arcs,
    "basics": basics,
    "moved": lambda: moved(random.choice([lines, curves, arcs, basics])()),
    "hidden": lambda: partly_hidden(random.choice([lines, curves, basics])()),
}


def drawing(shape: str, scale: float, view: tuple[float, float, float, float], unit: str = "mm") -> str:
    """A whole drawing whose page shows what is in view, in its own units, each of them ``scale`` mm."""
    per = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}[unit]
    x, y, w, h = view
    # A shape that crosses itself is filled by the even-odd rule, as shapely takes it.
    inside = f'<g fill-rule="evenodd"><g id="outline">{shape}</g></g>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w * scale / per:.9g}{unit}" '
        f'height="{h * scale / per:.9g}{unit}" viewBox="{x} {y} {w} {h}">{inside}</svg>'
    )


def rendered(svg: str, pixels: int) -> np.ndarray:
    """How much of each pixel is covered; the page so many pixels wide."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg, dpi=96, width=pixels, languages=["en"], skip_system_fonts=True
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))))[:, :, 3] / 255


def extent(cover: np.ndarray) -> tuple[float, float]:
    """First and last place covered along one direction, in pixels and parts of them."""
    there = np.flatnonzero(cover > 0)
    return there[0] + 1 - cover[there[0]], there[-1] + cover[there[-1]]


def measured(shape: str) -> Iterator[tuple[np.ndarray, float]]:
    """A shape's bounds and area by the renderer, in the drawing's units: found small, then seen large."""
    x, y, w, h = WHOLE
    for pixels in PIXELS:
        alpha = rendered(drawing(shape, 1.0, (x, y, w, h)), pixels)
        unit = w / pixels
        (x0, x1), (y0, y1) = extent(alpha.max(axis=0)), extent(alpha.max(axis=1))
        bounds = np.array([x + x0 * unit, y + y0 * unit, x + x1 * unit, y + y1 * unit])
        if pixels > PIXELS[0]:
            yield bounds, float(alpha.sum()) * unit**2
        x, y = bounds[:2] - ROUND_IT
        w = h = max(bounds[2] - x, bounds[3] - y) + ROUND_IT


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_a_shape_has_the_area_and_bounds_a_renderer_gives_it(kind: str, tmp_path: Path) -> None:
    random.seed(kind)
    path = tmp_path / "one.svg"
    worst = 0.0
    for _ in range(DRAWINGS):
        scale, shape = random.uniform(0.8, 4.0), KINDS[kind]()
        path.write_text(drawing(shape, scale, WHOLE, random.choice(["mm", "cm", "in", "pt", "pc"])))
        found = shapes_in_svg(path, HIDE)
        assert found.problems == []
        (read,) = found.shapes
        flipped = np.column_stack([read.corners[:, 0], WHOLE[3] * scale - read.corners[:, 1]]) / scale
        ours = shapely.make_valid(shapely.Polygon(flipped + WHOLE[:2]))
        for bounds, area in measured(shape):
            size = max(bounds[2] - bounds[0], bounds[3] - bounds[1])
            off = [*np.abs(np.array(ours.bounds) - bounds) / size, abs(ours.area / area - 1)]
            if max(off) < WITHIN:
                break
        assert max(off) < WITHIN, (off, shape)
        worst = max(worst, *off)
    assert worst > 0  # two readers that share nothing never agree to the last digit
