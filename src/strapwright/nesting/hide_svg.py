"""Closed shapes of an SVG drawing, for a hide: millimetres, y up, transforms worked out.

Source: W3C, Scalable Vector Graphics (SVG) 1.1 (Second Edition), chapter 7, Coordinate Systems,
Transformations and Units; from memory.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree as ET

import numpy as np

from strapwright.errors import FileProblems
from strapwright.files.read import read_text
from strapwright.nesting.hide_drawing import JOIN, LEFT_OUT, NAMES, Drawn, refused

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from strapwright.geometry.polygon import Side

    Floats = NDArray[np.float64]

LIMIT_MB: Final = 20.0
"""Largest drawing read, MB."""

CURVE_CHORD: Final = 5e-3
"""Curves become chords with corners on the curve that stray by at most this, mm."""

_MM: Final = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_LENGTH: Final = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-z%]*)\s*")
_NUMBER: Final = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_CALL: Final = re.compile(r"\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)")
_NOT_DRAWN: Final = {
    "defs", "symbol", "clipPath", "mask", "marker", "pattern", "title", "desc", "metadata", "style",
    "script", "text", "image", "namedview", "linearGradient", "radialGradient", "filter",
}  # fmt: skip
_GROUPS: Final = {"g", "a", "switch"}
_LABEL: Final = "{http://www.inkscape.org/namespaces/inkscape}label"
_DEEPEST: Final = 200


def shapes_in_svg(path: Path) -> list[Drawn]:
    """Return the closed shapes of an SVG drawing, in mm, y up from the drawing's lower edge.

    Raises:
        FileProblems: not SVG, no size in physical units, an open shape, or what cannot be read.
    """
    text = read_text(path, limit_mb=LIMIT_MB)
    if "<!ENTITY" in text:
        raise refused(path, "found entity definitions, which are not read; save as plain SVG")
    try:
        root = ET.fromstring(text)  # noqa: S314 -- entities are refused above, the size is limited
    except (ET.ParseError, ValueError, RecursionError) as error:
        raise refused(path, f"not a sound SVG drawing: {error}") from error
    if _tag(root) != "svg":
        raise refused(path, f"found <{_tag(root)}>, expected an <svg> drawing")
    reader = _Reader(str(path))
    reader.read(root, _page(root, str(path)), "", 0)
    if reader.problems:
        raise FileProblems(tuple(dict.fromkeys(reader.problems)))
    return reader.shapes


class _Outline:
    """Corners on a closed curve, moved in or out by what its chords may stray."""

    def __init__(self, corners: Floats, curved: bool) -> None:
        self._corners = corners
        self._curved = curved

    def __call__(self, side: Side) -> Floats:
        import shapely

        shape = shapely.Polygon(self._corners)
        if not self._curved or not shape.is_valid:
            return self._corners
        given = CURVE_CHORD if side == "outward" else -CURVE_CHORD
        moved = shape.buffer(given, join_style="mitre")
        if moved.geom_type != "Polygon" or moved.is_empty:
            return self._corners
        corners: Floats = shapely.get_coordinates(moved.exterior)[:-1]
        return corners


class _Reader:
    """Walks a drawing and gathers its closed shapes."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.shapes: list[Drawn] = []
        self.problems: list[str] = []

    def read(self, element: ET.Element, matrix: Floats, name: str, depth: int) -> None:
        """Read the drawn children of an element."""
        if depth > _DEEPEST:
            self.problems.append(f"{self.source}: groups are nested more than {_DEEPEST} deep")
            return
        for child in element:
            tag = _tag(child)
            if tag in _NOT_DRAWN or _hidden(child) or "}" in tag:
                continue
            own = _name(child) or (name if _known(name) else _any_name(child) or name)
            if own.casefold() == LEFT_OUT:
                continue
            try:
                here = matrix @ transform_matrix(child.get("transform", ""))
                if tag in _GROUPS:
                    self.read(child, here, own, depth + 1)
                else:
                    self._shape(child, tag, here, own)
            except ValueError as error:
                label = child.get("id")
                where = f'<{tag} id="{label}">' if label else f"<{tag}>"
                self.problems.append(f"{self.source}: {where}: {error}")

    def _shape(self, element: ET.Element, tag: str, matrix: Floats, name: str) -> None:
        path = _path_data(element, tag)
        if path is None:
            raise ValueError(
                "cannot be read; expected paths, polygons, rectangles, circles and ellipses "
                f"(unlink clones, convert objects to paths, or move it to a group {LEFT_OUT})"
            )
        for corners, curved, gap in _runs(path, matrix):
            if gap >= JOIN:
                if name.casefold() in NAMES:
                    (x0, y0), (x1, y1) = corners[0], corners[-1]
                    raise ValueError(
                        f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm (y up), "
                        "expected closed shapes; close it"
                    )
                continue
            self.shapes.append(Drawn(name, _Outline(corners, curved)))


def _page(root: ET.Element, source: str) -> Floats:
    """Return the matrix from the drawing's units to mm, y up."""
    sizes = []
    for key in ("width", "height"):
        match = _LENGTH.fullmatch(root.get(key, ""))
        if match is None or match[2] not in _MM or not float(match[1]) > 0:
            found = f'{key}="{root.get(key)}"' if root.get(key) is not None else f"no {key}"
            raise refused(
                source,
                f'found {found}, expected a {key} in physical units such as "2200 mm" on '
                "the <svg>; set the page size in millimetres and save again",
            )
        sizes.append(float(match[1]) * _MM[match[2]])
    width, height = sizes
    numbers = [float(n) for n in _NUMBER.findall(root.get("viewBox", ""))]
    if len(numbers) != 4 or not numbers[2] > 0 or not numbers[3] > 0:
        found = f'viewBox="{root.get("viewBox")}"' if root.get("viewBox") else "no viewBox"
        raise refused(
            source,
            f'found {found}, expected one such as "0 0 {width:g} {height:g}", so that a '
            "drawing unit has a size; save again with one",
        )
    x0, y0, w, h = numbers
    across, down = width / w, height / h
    if abs(across / down - 1) > 1e-3:
        raise refused(
            source,
            f"found a drawing unit of {across:.4g} mm across and {down:.4g} mm down, "
            "expected the same both ways; make width, height and viewBox agree",
        )
    if root.get("preserveAspectRatio", "").strip() != "none":
        down = across = min(across, down)  # as a viewer does; what is left over is centred
    left, top = (width - w * across) / 2, (height - h * down) / 2
    return np.array(
        [[across, 0.0, left - x0 * across], [0.0, -down, height - top + y0 * down], [0.0, 0.0, 1.0]]
    )


def transform_matrix(text: str) -> Floats:
    """Return the matrix of an SVG transform attribute.

    Raises:
        ValueError: it cannot be read.

    Example:
        >>> (transform_matrix("translate(10, 5) rotate(90)") @ [1, 0, 1]).round(9).tolist()
        [10.0, 6.0, 1.0]
    """
    matrix, at = np.eye(3), 0
    while at < len(text.rstrip()):
        match = _CALL.match(text, at)
        if match is None:
            raise ValueError(f'the transform "{text}" cannot be read')
        numbers = [float(n) for n in _NUMBER.findall(match[2])]
        if _NUMBER.sub("", match[2]).strip(" ,\t\r\n"):  # a unit, such as deg or turn
            raise ValueError(f'the transform "{text}" cannot be read; expected plain numbers in it')
        matrix = matrix @ _one_transform(match[1], numbers, text)
        at = match.end()
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < 1e-12:
        raise ValueError(f'the transform "{text}" leaves nothing of the shape')
    return matrix


def _one_transform(kind: str, n: list[float], text: str) -> Floats:
    out = np.eye(3)
    if kind == "matrix" and len(n) == 6:
        out[0], out[1] = (n[0], n[2], n[4]), (n[1], n[3], n[5])
    elif kind == "translate" and len(n) in (1, 2):
        out[:2, 2] = n[0], n[1] if len(n) == 2 else 0.0
    elif kind == "scale" and len(n) in (1, 2):
        out[0, 0], out[1, 1] = n[0], n[-1]
    elif kind == "rotate" and len(n) in (1, 3):
        c, s = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
        x, y = n[1:] if len(n) == 3 else (0.0, 0.0)
        out[0], out[1] = (c, -s, x - c * x + s * y), (s, c, y - s * x - c * y)
    elif kind == "skewX" and len(n) == 1:
        out[0, 1] = math.tan(math.radians(n[0]))
    elif kind == "skewY" and len(n) == 1:
        out[1, 0] = math.tan(math.radians(n[0]))
    else:
        raise ValueError(f'the transform "{text}" cannot be read')
    return out


def _path_data(element: ET.Element, tag: str) -> str | None:
    """Return any readable shape as path data, in its own units."""

    def number(key: str) -> float:
        match = _LENGTH.fullmatch(element.get(key, "0"))
        if match is None or match[2] not in ("", "px"):
            raise ValueError(f'found {key}="{element.get(key)}", expected a plain number')
        return float(match[1])

    if tag == "path":
        return element.get("d", "")
    if tag in ("polygon", "polyline", "line"):
        if tag == "line":
            return f"M {number('x1')} {number('y1')} L {number('x2')} {number('y2')}"
        n = _NUMBER.findall(element.get("points", ""))
        if len(n) < 4 or len(n) % 2:
            raise ValueError(f"found {len(n)} numbers in points, expected pairs")
        return f"M {' '.join(n)}" + (" Z" if tag == "polygon" else "")
    if tag == "rect":
        x, y, w, h = (number(key) for key in ("x", "y", "width", "height"))
        if not (w > 0 and h > 0):
            raise ValueError(f"found a rectangle of {w:g} by {h:g}, expected both more than 0")
        rx = number("rx") if "rx" in element.keys() else number("ry")  # noqa: SIM118 -- not a dict
        ry = number("ry") if "ry" in element.keys() else rx  # noqa: SIM118
        rx, ry = min(rx, w / 2), min(ry, h / 2)
        if not (rx > 0 and ry > 0):
            return f"M {x} {y} H {x + w} V {y + h} H {x} Z"
        arc = f"A {rx} {ry} 0 0 1"
        return (
            f"M {x + rx} {y} H {x + w - rx} {arc} {x + w} {y + ry} V {y + h - ry} "
            f"{arc} {x + w - rx} {y + h} H {x + rx} {arc} {x} {y + h - ry} V {y + ry} "
            f"{arc} {x + rx} {y} Z"
        )
    if tag in ("circle", "ellipse"):
        cx, cy = number("cx"), number("cy")
        rx, ry = (number("r"),) * 2 if tag == "circle" else (number("rx"), number("ry"))
        if not (rx > 0 and ry > 0):
            raise ValueError(f"found radii {rx:g} and {ry:g}, expected both more than 0")
        arc = f"A {rx} {ry} 0 0 1"  # in quarters: the path reader is at its worst near half turns
        return (
            f"M {cx + rx} {cy} {arc} {cx} {cy + ry} {arc} {cx - rx} {cy} "
            f"{arc} {cx} {cy - ry} {arc} {cx + rx} {cy} Z"
        )
    return None


def _runs(data: str, matrix: Floats) -> Iterator[tuple[Floats, bool, float]]:
    """Yield each run of a path: its corners in mm, whether it has curves, how far its ends are apart."""
    from svgpathtools import parse_path

    if len(data) > 1 and data.strip()[:1] not in "Mm":
        raise ValueError('path data must begin with "M"')
    try:
        path = parse_path(data)
        parts = path.continuous_subpaths() if len(path) else []
    except Exception as error:  # the path reader raises whatever its parsing meets
        raise ValueError(f"its path data cannot be read ({type(error).__name__})") from error
    for part in parts:
        points: list[complex] = [part[0].start]
        curved = False
        for segment in part:
            if type(segment).__name__ == "Line":
                points.append(segment.end)
            elif segment.start != segment.end or segment.length() > 0:
                curved = True
                points += _flattened(segment, matrix)
        corners = np.array([(p.real, p.imag, 1.0) for p in points]) @ matrix.T
        if not np.isfinite(corners).all():
            raise ValueError("it has a coordinate that is not a number")
        xy: Floats = corners[:, :2]
        gap = float(np.hypot(*(xy[0] - xy[-1])))
        following = np.roll(xy, -1, axis=0)
        kept = np.hypot(*(following - xy).T) > 1e-6
        if gap < JOIN:
            kept[-1] = False  # the last corner repeats the first
        else:
            kept[-1] = True
        yield xy[kept], curved, gap


def _flattened(segment: Any, matrix: Floats) -> list[complex]:
    """Return points along a curve, without its start, so near that chords stray little in mm."""
    scale = float(np.linalg.norm(matrix[:2, :2], 2))
    count = 8
    while True:
        t = np.linspace(0.0, 1.0, 2 * count + 1)
        every = np.array([segment.point(float(value)) for value in t])
        # Each piece's middle tells how far it strays: on a smooth piece this small, nearly the most.
        stray = np.abs(every[1::2] - (every[:-1:2] + every[2::2]) / 2).max() * scale
        if stray <= CURVE_CHORD / 2 or count >= 4096:
            return [complex(value) for value in every[2::2]]
        count *= 2


def _tag(element: ET.Element) -> str:
    tag = str(element.tag)
    return tag.removeprefix("{http://www.w3.org/2000/svg}")


def _known(name: str) -> bool:
    return name.casefold().strip() in (*NAMES, LEFT_OUT)


def _name(element: ET.Element) -> str:
    """Return the known name an element bears as its id or label; empty where it bears none."""
    for value in (element.get("id"), element.get(_LABEL)):
        if value and _known(value):
            return value
    return ""


def _any_name(element: ET.Element) -> str:
    """Return what a group is called, for the message that it should be called otherwise."""
    return (element.get(_LABEL) or element.get("id") or "") if _tag(element) == "g" else ""


def _hidden(element: ET.Element) -> bool:
    style = element.get("style", "").replace(" ", "")
    return element.get("display") == "none" or "display:none" in style
