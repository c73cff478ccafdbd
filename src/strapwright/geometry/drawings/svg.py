"""Shapes of an SVG drawing: millimetres, y up, transforms worked out.

What would change a shape is applied or refused; what the drawing does not show is named and left out.

Source: W3C, Scalable Vector Graphics (SVG) 1.1 (Second Edition), chapter 7, Coordinate Systems,
Transformations and Units; from memory.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET

import numpy as np

from strapwright.core.errors import FileProblems
from strapwright.core.units import MM_PER_INCH
from strapwright.files.read import read_text, refused
from strapwright.geometry.drawings.gathered import (
    LEFT_OUT,
    LIMIT_MB,
    Drawn,
    Gathered,
    Wanted,
    joined,
    plain_name,
    without_repeats,
)
from strapwright.geometry.drawings.svg_path import exact, flattened, numbers_in, runs_of
from strapwright.geometry.drawings.svg_style import SPACE, Shown, Styles, condition

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from strapwright.core.arrays import Floats


_MM: Final = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "pt": MM_PER_INCH / 72, "pc": MM_PER_INCH / 6}
_LENGTH: Final = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-z%]*)\s*")
_CALL: Final = re.compile(r"\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)")
_NEVER_DRAWN: Final = {
    "defs", "symbol", "clipPath", "mask", "marker", "pattern", "title", "desc", "metadata", "style",
    "linearGradient", "radialGradient", "filter", "view", "cursor", "color-profile", "font", "font-face",
}  # fmt: skip
_NO_SHAPE: Final = {"text": "a text", "image": "an image", "foreignObject": "a foreign object"}
_MOVING: Final = {"animate", "animateTransform", "animateMotion", "animateColor", "set", "script"}
_GROUPS: Final = {"g", "a", "switch"}
_SHAPES: Final = {"path", "polygon", "polyline", "line", "rect", "circle", "ellipse"}
_NAMED_BY: Final = ("label", "data-name", "id")
"""Attributes of any namespace that name a group, what an editor shows before what it keeps to itself."""
_DEEPEST: Final = 200


def shapes_in_svg(path: Path, wanted: Wanted) -> Gathered:
    """Return the shapes of an SVG drawing, in mm, y up from the drawing's lower edge.

    Args:
        path: the drawing.
        wanted: what is looked for.

    Raises:
        FileProblems: not SVG, or no size in physical units.
    """
    text = read_text(path, limit_mb=LIMIT_MB)
    if "<!ENTITY" in text:
        raise refused(path, "found entity definitions, which are not read; save as plain SVG")
    if "<?xml-stylesheet" in text:
        raise refused(path, "found a style sheet outside the drawing, which is not read; save as plain SVG")
    try:
        root = ET.fromstring(text)  # noqa: S314 -- entities are refused above, the size is limited
    except (ET.ParseError, ValueError, RecursionError) as error:
        raise refused(path, f"not a sound SVG drawing: {error}") from error
    if _tag(root) != "svg":
        raise refused(path, f"found <{_tag(root)}>, expected an <svg> drawing")
    moving = next((tag for one in root.iter() if (tag := _tag(one)) in _MOVING), None)
    if moving:
        raise refused(path, f"found <{moving}>, which may move or change a shape; save as plain SVG")
    try:
        page = _page(root, pixels=wanted.exact)
        reader = _Reader(Gathered(str(path), wanted), Styles(root), root)
    except ValueError as error:
        raise refused(path, str(error)) from error
    reader.read_one(root, page, "", Shown(), 0)
    reader.join()
    return reader.found


class _Reader:
    """Walks a drawing and gathers its shapes."""

    def __init__(self, found: Gathered, styles: Styles, root: ET.Element) -> None:
        self.found = found
        self._wanted = found.wanted
        self._styles = styles
        self._runs: dict[str, list[Drawn]] = {}
        self._named = {one.get("id", ""): one for one in root.iter()} if found.wanted.exact else {}

    def read_one(self, element: ET.Element, matrix: Floats, name: str, above: Shown, depth: int) -> None:
        """Read an element and all that is drawn in it.

        Args:
            element: it.
            matrix: (3, 3), from the units around it to mm.
            name: what the groups around it are called.
            above: how these are shown.
            depth: how many they are.
        """
        tag = _tag(element)
        if tag in _NEVER_DRAWN or "}" in tag:
            return
        own = name if depth == 0 else _own_name(element, tag, name, self._wanted)
        if plain_name(own) == LEFT_OUT:
            return
        where = f'<{tag} id="{element.get("id")}">' if element.get("id") else f"<{tag}>"
        if depth > _DEEPEST:
            self.found.problem(where, f"groups are nested more than {_DEEPEST} deep")
            return
        try:
            shown = self._styles.shown(element, above)
            if shown.hidden:
                self._not_shown(element, shown.hidden)
                return
            here = matrix @ transform_matrix(element.get("transform", ""))
            if tag in _GROUPS or depth == 0:
                chosen = False
                for child in element:
                    if tag == "switch" and _tag(child) not in _NEVER_DRAWN and "}" not in _tag(child):
                        if chosen:  # a switch shows the first of its children that can be shown
                            self._not_shown(child, "another part of its <switch> is shown")
                            continue
                        chosen = not condition(child)
                    self.read_one(child, here, own, shown, depth + 1)
            elif tag == "use" and self._wanted.exact:
                moved = here @ _shift(element)
                self.read_one(self._used(element), moved, own, shown, depth + 1)
            elif not shown.visible:
                self._not_shown(element, "visibility: hidden")
            elif tag in _NO_SHAPE:
                self._no_shape(_NO_SHAPE[tag], own)
            else:
                self._shape(element, tag, here, own, where)
        except FileProblems:
            raise
        except ValueError as error:
            self.found.problem(where, str(error))

    def _not_shown(self, element: ET.Element, why: str) -> None:
        """Note what is left out because it is not shown; a group without a shape in it is not missed."""
        tag, label = _tag(element), next((value for value in _names(element) if value), "")
        shapes = sum(_tag(one) in _SHAPES or _tag(one) == "use" for one in element.iter())
        if not shapes:
            return
        what = f'{tag} "{label}"' if label else f"a {tag}"
        if tag in _GROUPS:
            what += f" with {shapes} shape{'s' if shapes > 1 else ''}"
        self.found.not_shown.append(f"{what} ({why})")

    def _used(self, element: ET.Element) -> ET.Element:
        """Return the element that a clone shows."""
        link = next((value for key, value in element.attrib.items() if key.rpartition("}")[2] == "href"), "")
        used = self._named.get(link.removeprefix("#")) if link.startswith("#") else None
        if used is None:
            raise ValueError(f'shows "{link}", which is not in the drawing; unlink the clone')
        if _tag(used) in ("symbol", "svg") or _tag(used) in _NEVER_DRAWN:
            raise ValueError(f"shows a <{_tag(used)}>, which is not read; unlink the clone")
        return used

    def join(self) -> None:
        """Join open lines of an exact drawing that meet, and note them."""
        for name, runs in self._runs.items():
            closed, faults, _, left = joined(runs, self._wanted.join)
            if faults and self._wanted.known(name) != "score":
                self.found.problems += [f"{self.found.source}: {runs[0].where}: {text}" for text in faults]
            self.found.shapes += [*closed, *left]

    def _no_shape(self, what: str, name: str) -> None:
        if self._wanted.exact and what.startswith("an empty"):
            return
        if self._wanted.exact:
            raise ValueError(
                f"found {what}, expected lines and shapes; {self._wanted.instead}, or move it to a group "
                f"{LEFT_OUT}"
            )
        if self._wanted.known(name):
            raise ValueError(
                f'found {what} in group "{name}", expected closed shapes; {self._wanted.instead}, or '
                f"move it to a group {LEFT_OUT}"
            )
        self.found.no_shapes.append(f'{what} in group "{name}"' if name else f"{what} in no named group")

    def _shape(self, element: ET.Element, tag: str, matrix: Floats, name: str, where: str) -> None:
        if tag not in _SHAPES:
            raise ValueError(
                "cannot be read; expected paths, polygons, rectangles, circles and ellipses "
                f"(unlink clones, convert objects to paths, or move it to a group {LEFT_OUT})"
            )
        runs = runs_of(_path_data(element, tag))
        if not runs:
            self._no_shape(f"an empty {tag}", name)
        for run in runs:
            if self._wanted.exact:
                vertices, closed = exact(run, matrix, self.found.room_for, self._wanted.join)
                vertices = without_repeats(vertices) if closed else vertices
                if closed and len(vertices) < 3 and not vertices[:, 2].any():
                    raise ValueError(
                        f"a closed shape of {len(vertices)} points encloses nothing; take it out"
                    )
                self._runs.setdefault(name, []).append(
                    Drawn(name, vertices, curved=False, closed=closed, where=where)
                )
                continue
            corners, curved = flattened(run.cubics, matrix, self.found.room_for)
            (x0, y0), (x1, y1) = corners[0], corners[-1]
            if math.hypot(x1 - x0, y1 - y0) >= self._wanted.join:
                if self._wanted.known(name):
                    raise ValueError(
                        f"an open line from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm (y up), "
                        "expected closed shapes; close it"
                    )
                self._no_shape("an open line", name)
                continue
            corners = without_repeats(corners[:-1])  # the last repeats the first
            if len(corners) < 3:
                raise ValueError(f"a closed shape of {len(corners)} points encloses nothing; take it out")
            vertices = np.column_stack([corners, np.zeros(len(corners))])
            self.found.shapes.append(Drawn(name, vertices, curved, True, where))


def _shift(element: ET.Element) -> Floats:
    """Return the matrix of a clone's x and y."""
    out = np.eye(3)
    for place, key in enumerate("xy"):
        match = _LENGTH.fullmatch(element.get(key, "0"))
        if match is None or match[2] not in ("", "px"):
            raise ValueError(f'found {key}="{element.get(key)}", expected a plain number')
        out[place, 2] = float(match[1])
    return out


def _page(root: ET.Element, *, pixels: bool) -> Floats:
    """Return the matrix from the drawing's units to mm, y up.

    Args:
        root: the ``<svg>`` element.
        pixels: whether a size in pixels, 96 to the inch, is one.

    Raises:
        ValueError: the drawing has no size in physical units.
    """
    sizes = []
    known = _MM | ({"px": MM_PER_INCH / 96, "": MM_PER_INCH / 96} if pixels else {})
    for key in ("width", "height"):
        match = _LENGTH.fullmatch(root.get(key, ""))
        if match is None or match[2] not in known or not 0 < float(match[1]) < math.inf:
            found = f'{key}="{root.get(key)}"' if root.get(key) is not None else f"no {key}"
            raise ValueError(
                f'found {found}, expected a {key} in physical units such as "2200 mm" on '
                "the <svg>; set the page size in millimetres and save again"
            )
        sizes.append(float(match[1]) * known[match[2]])
    width, height = sizes
    try:
        numbers = numbers_in(root.get("viewBox", ""))
    except ValueError:
        numbers = []
    if len(numbers) != 4 or not numbers[2] > 0 or not numbers[3] > 0:
        found = f'viewBox="{root.get("viewBox")}"' if root.get("viewBox") else "no viewBox"
        raise ValueError(
            f'found {found}, expected one such as "0 0 {width:g} {height:g}", so that a '
            "drawing unit has a size; save again with one"
        )
    x0, y0, w, h = numbers
    across, down = width / w, height / h
    if not abs(across / down - 1) <= 1e-3:
        raise ValueError(
            f"found a drawing unit of {across:.4g} mm across and {down:.4g} mm down, "
            "expected the same both ways; make width, height and viewBox agree"
        )
    fitted = " ".join(root.get("preserveAspectRatio", "").split()).removesuffix(" meet")
    if fitted != "none":
        if fitted not in ("", "xMidYMid") and abs(across / down - 1) > 1e-9:
            raise ValueError(
                f'found preserveAspectRatio="{fitted}" where width, height and viewBox do not agree; '
                "make them agree"
            )
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
    if text.strip() == "none":
        return matrix
    while at < len(text.rstrip()):
        match = _CALL.match(text, at)
        if match is None:
            raise ValueError(f'the transform "{text}" cannot be read')
        try:
            numbers = numbers_in(match[2])
        except ValueError as error:  # a unit, such as deg or turn
            raise ValueError(
                f'the transform "{text}" cannot be read; expected plain numbers in it'
            ) from error
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


def _path_data(element: ET.Element, tag: str) -> str:
    """Return a shape as path data, in its own units."""

    def number(key: str) -> float:
        match = _LENGTH.fullmatch(element.get(key, "0"))
        if match is None or match[2] not in ("", "px") or not math.isfinite(float(match[1])):
            raise ValueError(f'found {key}="{element.get(key)}", expected a plain number')
        return float(match[1])

    if tag == "path":
        data = element.get("d", "")
        return "" if data.strip() == "none" else data
    if tag == "line":
        return f"M {number('x1')!r} {number('y1')!r} L {number('x2')!r} {number('y2')!r}"
    if tag in ("polygon", "polyline"):
        n = numbers_in(element.get("points", ""))
        if len(n) < 4 or len(n) % 2:
            raise ValueError(f"found {len(n)} numbers in points, expected pairs")
        return f"M {' '.join(map(repr, n))}" + (" Z" if tag == "polygon" else "")
    if tag == "rect":
        x, y, w, h = (number(key) for key in ("x", "y", "width", "height"))
        if not (w > 0 and h > 0):
            raise ValueError(f"found a rectangle of {w:g} by {h:g}, expected both more than 0")
        rx, ry = (number(key if element.get(key) is not None else other) for key, other in _RADII)
        if rx < 0 or ry < 0:
            raise ValueError(f"found corner radii {rx:g} and {ry:g}, expected 0 or more")
        rx, ry = min(rx, w / 2), min(ry, h / 2)
        if not (rx > 0 and ry > 0):
            return f"M {x!r} {y!r} h {w!r} v {h!r} h {-w!r} Z"
        arc = f"a {rx!r} {ry!r} 0 0 1"
        return (
            f"M {x + rx!r} {y!r} h {w - 2 * rx!r} {arc} {rx!r} {ry!r} v {h - 2 * ry!r} {arc} {-rx!r} {ry!r} "
            f"h {2 * rx - w!r} {arc} {-rx!r} {-ry!r} v {2 * ry - h!r} {arc} {rx!r} {-ry!r} Z"
        )
    cx, cy = number("cx"), number("cy")
    rx, ry = (number("r"),) * 2 if tag == "circle" else (number("rx"), number("ry"))
    if not (rx > 0 and ry > 0):
        raise ValueError(f"found radii {rx:g} and {ry:g}, expected both more than 0")
    arc = f"A {rx!r} {ry!r} 0 0 1"
    return f"M {cx + rx!r} {cy!r} {arc} {cx - rx!r} {cy!r} {arc} {cx + rx!r} {cy!r} Z"


_RADII: Final = (("rx", "ry"), ("ry", "rx"))
"""Of a rectangle's corners: a radius that is left out is as long as the other."""


def _tag(element: ET.Element) -> str:
    return str(element.tag).removeprefix(SPACE)


def _names(element: ET.Element) -> Iterator[str]:
    """Yield what an element is called: attributes of any namespace, what an editor shows first."""
    for wanted in _NAMED_BY:
        for key, value in element.attrib.items():
            if key.rpartition("}")[2] == wanted:
                yield value


def _own_name(element: ET.Element, tag: str, name: str, wanted: Wanted) -> str:
    """Return a known name an element bears; else that of the groups around it, or a group's unknown one."""
    names = list(_names(element))
    if known := next((one for one in names if wanted.known(one) or plain_name(one) == LEFT_OUT), ""):
        return known
    if wanted.known(name) or plain_name(name) == LEFT_OUT or tag not in _GROUPS:
        return name
    return next((one for one in names if one), name)
