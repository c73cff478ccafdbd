"""Reading a cut file in SVG back: frame and groups from its XML, paths by the grammar of path data.

What a cut file holds, absolute moves, lines and circular arcs, is read all at once; any other path data is
left to svgpathtools, so that it is understood, or refused by its name.

Source: Scalable Vector Graphics (SVG) 1.1, second edition: section 8.3.9 (the grammar of path data) and
appendix F.6 (an arc from its ends, its radius and its flags).
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree

import numpy as np

from strapwright.core.errors import GeometryError, ProofError
from strapwright.core.tolerances import SHORTEST_SEGMENT
from strapwright.geometry.contour import through_points
from strapwright.geometry.shapes import chain
from strapwright.write.readers.path import ReadPath, contours_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from strapwright.geometry.contour import Contour

_SPACE: Final = "{http://www.w3.org/2000/svg}"
_LENGTH_MM: Final = re.compile(r"([0-9.]+)mm")
_ROUNDING: Final = 1e-6
"""Figures this near are one, mm: seven decimals leave less between them."""

_NUMBER: Final = r"[+-]?(?:\d++\.?\d*+|\.\d++)"
_PLACE: Final = rf"{_NUMBER},{_NUMBER}"
_STEP: Final = re.compile(rf"(?:L|A({_NUMBER}),[^ ]+ 0 ([01]) ([01]) )({_NUMBER}),({_NUMBER})")
_PLAIN: Final = re.compile(rf"M({_PLACE})((?:L{_PLACE}|A(?P<r>{_NUMBER}),(?P=r) 0 [01] [01] {_PLACE})+)(Z?)")
"""One run of lines and circular arcs, as a cut file holds it."""


def read_svg(text: str) -> list[ReadPath]:
    """Return every path of an SVG text, its layer the nearest group's title, in bed mm.

    Raises:
        ProofError: the text is cut short, says no size in mm, or holds what strapwright never writes.

    Example:
        >>> read_svg("<svg")
        Traceback (most recent call last):
        ...
        strapwright.core.errors.ProofError: the SVG text cannot be read: unclosed token: line 1, column 0
    """
    try:
        root = ElementTree.fromstring(text)  # noqa: S314 - only ever our own text, written just before
    except ElementTree.ParseError as error:
        raise ProofError(f"the SVG text cannot be read: {error}") from error
    height = _height(root)
    elements = list(_path_elements(root, ""))
    matches = [_PLAIN.fullmatch(data) for _, data in elements]

    def where(number: int) -> str:
        return f'path {number + 1} of the SVG text, in group "{elements[number][0]}"'

    numbers = [number for number, match in enumerate(matches) if match]
    plain = iter(
        _plain_contours([match for match in matches if match], height, lambda of: where(numbers[of]))
    )
    paths: list[ReadPath] = []
    for number, ((layer, data), match) in enumerate(zip(elements, matches, strict=True)):
        try:
            paths.append(ReadPath(layer, next(plain) if match else _contour(data, height)))
        except (GeometryError, ValueError, IndexError, AssertionError) as error:
            raise ProofError(f"{where(number)}: {error}") from error
    return paths


def _plain_contours(
    matches: Sequence[re.Match[str]], height: float, where: Callable[[int], str]
) -> list[Contour]:
    """Return plain paths as contours, y turned back: what turns left in SVG turns right on the bed.

    Places that repeat the one before are left out, as is a closed path's last where it is its first.
    """
    rows: list[tuple[str, ...]] = []
    counts: list[int] = []
    for match in matches:
        steps = _STEP.findall(match[2])
        rows.append(("", "", "", *match[1].split(",")))
        rows += steps
        counts.append(len(steps) + 1)
    if not rows:
        return []
    # A line has no radius and no flags.
    numbers = np.array([value or "0" for row in rows for value in row], dtype=np.float64).reshape(-1, 5)
    radius, large, angle_grows, x, y = numbers.T
    y = height - y
    chord = np.hypot(np.diff(x, prepend=x[0]), np.diff(y, prepend=y[0]))  # that leads to each place
    is_arc = (radius > 0) & (chord > 0)
    # F.6.6: a radius too short for its chord is taken as half of it.
    share = np.divide(chord, 2 * radius, out=np.zeros_like(chord), where=is_arc)
    sweep = 2 * np.arcsin(np.minimum(share, 1.0))
    sweep = np.where(is_arc & (large > 0), 2 * math.pi - sweep, sweep)
    bulges = np.where(angle_grows > 0, -1.0, 1.0) * np.tan(sweep / 4)
    lasts = np.cumsum(counts) - 1
    firsts = np.append(0, lasts[:-1] + 1)
    closed = [bool(match[4]) for match in matches]
    bulges = np.append(bulges[1:], 0.0)
    bulges[lasts] = 0.0  # nothing is drawn from one path to the next
    every = np.column_stack([x, y, bulges])
    apart = np.abs(np.diff(x, append=np.inf)) + np.abs(np.diff(y, append=np.inf))
    apart[lasts] = np.where(closed, np.abs(x[firsts] - x[lasts]) + np.abs(y[firsts] - y[lasts]), np.inf)
    kept = apart >= SHORTEST_SEGMENT
    return contours_of(every[kept], np.add.reduceat(kept, firsts, dtype=np.int64).tolist(), closed, where)


def _height(root: ElementTree.Element) -> float:
    """Return the bed's height, mm; refuse a drawing whose millimetres are not the bed's."""
    if root.tag != _SPACE + "svg":
        raise ProofError(f"the SVG text starts with <{root.tag}>; expected <svg>")
    size = [_LENGTH_MM.fullmatch(root.get(key, "")) for key in ("width", "height")]
    view = root.get("viewBox", "").split()
    if None in size or len(view) != 4:
        raise ProofError("the SVG text says no size: expected width and height in mm, and a viewBox")
    width, height = (float(match[1]) for match in size if match)
    if [float(value) for value in view] != [0.0, 0.0, width, height]:
        raise ProofError(
            f"the SVG text is not in bed millimetres: expected viewBox 0 0 {width:g} "
            f"{height:g}, found {' '.join(view)}"
        )
    return height


def _path_elements(element: ElementTree.Element, layer: str) -> Iterator[tuple[str, str]]:
    """Yield layer and path data of every path below an element."""
    for child in element:
        if child.get("transform") is not None:
            raise ProofError("the SVG text moves paths by a transform; expected none")
        if child.get("stroke-dasharray") is not None:
            raise ProofError("the SVG text has dashed lines, which a machine cuts as dashes; expected none")
        if child.tag == _SPACE + "g":
            title = child.find(_SPACE + "title")
            if title is None or not title.text:
                raise ProofError("a group of the SVG text has no title")
            yield from _path_elements(child, title.text)
        elif child.tag == _SPACE + "path":
            yield layer, child.get("d", "")
        elif child.tag not in (_SPACE + "title", _SPACE + "desc"):
            raise ProofError(f"the SVG text holds <{child.tag}>; expected only groups and paths")


def _contour(data: str, height: float) -> Contour:
    """Return an SVG path as a contour, y turned back."""
    from svgpathtools import Arc, Line, parse_path

    path: Any = parse_path(data)
    if not len(path):
        raise GeometryError("it has no segments")
    vertices: list[tuple[float, float, float]] = []
    for before, segment in zip([path[-1], *path], path, strict=False):
        if vertices and abs(before.end - segment.start) > _ROUNDING:
            raise GeometryError("it is in pieces; expected one run")
        bulge = 0.0
        if isinstance(segment, Arc):
            if abs(segment.radius.real - segment.radius.imag) > _ROUNDING:
                raise GeometryError("it has an arc of an ellipse; expected circular arcs")
            bulge = through_points(
                *(_point(point, height) for point in (segment.start, segment.point(0.5), segment.end))
            )
        elif not isinstance(segment, Line):
            raise GeometryError(f"it has a {type(segment).__name__}; expected lines and arcs")
        vertices.append((*_point(segment.start, height), bulge))
    closed = data.rstrip().endswith(("Z", "z"))
    if not closed:
        vertices.append((*_point(path[-1].end, height), 0.0))
    return chain(vertices, closed=closed)


def _point(value: complex, height: float) -> tuple[float, float]:
    return value.real, height - value.imag
