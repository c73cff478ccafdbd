"""Read what a PDF page draws, with nothing of the writer: the content stream by pikepdf, mm on the paper."""

from __future__ import annotations

import io
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

import numpy as np
import pikepdf

MM = 25.4 / 72


@dataclass(frozen=True)
class Path:
    """One subpath: points along it, curves sampled finely, with its line."""

    points: np.ndarray
    width: float
    dashes: tuple[float, ...]
    filled: bool

    @property
    def is_solid(self) -> bool:
        return not self.dashes

    @property
    def box(self) -> tuple[float, float, float, float]:
        return (*self.points.min(axis=0), *self.points.max(axis=0))


@cache
def pages(data: bytes) -> list[tuple[tuple[float, float], list[Path]]]:
    """Return each page's size and its paths."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return [(box_of(page), list(paths_of(page))) for page in pdf.pages]


def sizes(data: bytes) -> list[tuple[float, float]]:
    """Return each page's size."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return [box_of(page) for page in pdf.pages]


def box_of(page) -> tuple[float, float]:
    x0, y0, x1, y1 = (float(value) for value in page.mediabox)
    assert (x0, y0) == (0, 0)
    assert "/UserUnit" not in page
    return (x1 - x0) * MM, (y1 - y0) * MM


def paths_of(page):
    matrix, saved, width, dashes = np.eye(3), [], 1.0, ()
    subpaths: list[list] = []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        numbers = [float(o) for o in operands if isinstance(o, int | float | Decimal)]
        if name == "q":
            saved.append((matrix, width, dashes))
        elif name == "Q":
            matrix, width, dashes = saved.pop()
        elif name == "cm":
            a, b, c, d, e, f = numbers
            matrix = np.array([(a, b, 0), (c, d, 0), (e, f, 1)]) @ matrix
        elif name == "w":
            width = numbers[0]
        elif name == "d":
            dashes = tuple(float(o) for o in operands[0])
        elif name == "m":
            subpaths.append([numbers])
        elif name == "l":
            subpaths[-1].append(numbers)
        elif name == "c":
            p0, p1, p2, p3 = (np.array(p) for p in (subpaths[-1][-1], *np.reshape(numbers, (3, 2))))
            t = np.linspace(0, 1, 33)[1:, None]
            curve = (1 - t) ** 3 * p0 + 3 * t * (1 - t) ** 2 * p1 + 3 * t**2 * (1 - t) * p2 + t**3 * p3
            subpaths[-1] += curve.tolist()
        elif name == "h":
            subpaths[-1].append(subpaths[-1][0])
        elif name == "re":
            x, y, w, h = numbers
            subpaths.append([(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)])
        elif name in ("S", "s", "B", "f", "n", "b"):
            for points in subpaths:
                at = np.column_stack([np.array(points), np.ones(len(points))]) @ matrix * MM
                yield Path(at[:, :2], width, dashes, name in "BbFf")
            subpaths = []
