"""A folder of hides as stock: which files are hides, and what the largest strap is each can still give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.files.atomic_write import is_ours
from strapwright.files.journal import settle
from strapwright.files.read import read_toml
from strapwright.nesting.hide.drawing import SUFFIXES
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.thickness import free_leather

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from strapwright.nesting.hide.types import Hide

    Floats = NDArray[np.float64]


ROW: Final = 2.0
"""Rows for the longest strap are looked at every so many mm across the hide."""


@dataclass(frozen=True, eq=False)
class Strip:
    """The longest strap of one width that finds room on a hide.

    Args:
        length: mm.
        width: mm.
        corners: where it lies, (4, 2) mm in the hide's frame.
    """

    length: float
    width: float
    corners: Floats


@dataclass(frozen=True, eq=False)
class Stocked:
    """One hide of a folder.

    Args:
        path: its file.
        hide: the hide.
        usable: area clear of the edge and of every flaw by the margin, mm².
        longest: the longest strap it can give; None where none is that wide.
    """

    path: Path
    hide: Hide
    usable: float
    longest: Strip | None


@dataclass(frozen=True)
class Stock:
    """What a folder holds.

    Args:
        hides: the good ones, by file name.
        bad: files that should be hides and are not sound, each with every mistake in it.
        passed_over: files of the same endings that are no hides, and why.
    """

    hides: tuple[Stocked, ...]
    bad: tuple[tuple[Path, tuple[str, ...]], ...]
    passed_over: tuple[tuple[Path, str], ...]


def read_stock(
    folder: Path,
    *,
    strap_width: float = 38.0,
    margin: float = 2.0,
    progress: Callable[[Path], None] | None = None,
) -> Stock:
    """Read every hide in a folder, but not in folders within it.

    A TOML file without a ``[hide]`` table is something else and is passed over; so is a drawing that a
    hide file names, and one that strapwright drew itself.

    Args:
        folder: where the files are.
        strap_width: of the strap whose greatest length is sought, mm.
        margin: kept from edges and flaws, mm.
        progress: called with each file before it is read.

    Raises:
        FileProblems: there is no such folder.
    """
    settle(folder)
    if not folder.is_dir():
        found = "a file, expected a folder" if folder.exists() else "no such folder"
        raise FileProblems((f"{folder}: {found}",))
    paths = sorted(p for p in folder.iterdir() if p.suffix.lower() in (".toml", *SUFFIXES) and p.is_file())
    drawings: set[Path] = set()
    hides: list[Stocked] = []
    bad: list[tuple[Path, tuple[str, ...]]] = []
    passed: list[tuple[Path, str]] = []
    for path in sorted(paths, key=lambda path: (path.suffix.lower() != ".toml", path)):
        if progress is not None:
            progress(path)
        try:
            why = _no_hide(path, drawings)
            if why:
                passed.append((path, why))
                continue
            hides.append(_stocked(path, read_hide(path), strap_width, margin))
        except FileProblems as error:
            bad.append((path, error.problems))
        except StrapwrightError as error:  # what no reader foresaw spoils that file, not the list
            bad.append((path, tuple(f"{path}: {line}" for line in str(error).splitlines())))
        except Exception as error:  # noqa: BLE001 -- nor does what a library trips over
            why = " ".join([f"{type(error).__name__}:", *str(error).split()])[:200].rstrip(": ")
            bad.append((path, (f"{path}: cannot be read ({why}); save or copy it again",)))
    return Stock(
        tuple(sorted(hides, key=lambda one: one.path)),
        tuple(sorted(bad)),
        tuple(sorted(passed)),
    )


def _no_hide(path: Path, drawings: set[Path]) -> str:
    """Return why a file is no hide of its own, or an empty text; notes the drawings hide files name."""
    if path.suffix.lower() == ".toml":
        data = read_toml(path)
        table = data.get("hide")
        if table is None:
            return "no [hide] table"
        if isinstance(table, dict) and isinstance(table.get("outline"), str):
            drawings.add((path.parent / table["outline"]).resolve())
        return ""
    if path.resolve() in drawings:
        return "part of a hide file"
    return "drawn by strapwright" if is_ours(path) else ""


def _stocked(path: Path, hide: Hide, strap_width: float, margin: float) -> Stocked:
    free = free_leather(hide, margin)
    return Stocked(path, hide, float(free.area), longest_strap(hide, strap_width, margin))


def _grown(hide: Hide, margin: float) -> Any:
    """Return a hide's flaws with the margin round them, as shapely geometries."""
    import shapely

    return shapely.buffer([shapely.Polygon(flaw.polygon) for flaw in hide.flaws], margin)


def longest_strap(hide: Hide, width: float, margin: float = 2.0) -> Strip | None:
    """Return the longest strip of a width that lies along the strap direction, clear of edges and flaws.

    Args:
        hide: the hide.
        width: of the strap, mm.
        margin: kept from edges and flaws, mm.

    Returns:
        The strip, to within `ROW` of the best height; None where no row is that wide.

    Example:
        >>> from strapwright.nesting.hide.types import Hide
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> longest_strap(bend, 38.0).length, longest_strap(bend, 800.0)
        (1196.0, None)
    """
    import shapely

    direction = hide.strap_direction
    c, s = (math.cos(direction), math.sin(direction)) if direction else (1.0, 0.0)
    free = shapely.affinity.affine_transform(free_leather(hide, margin), [c, s, -s, c, 0, 0])
    if free.is_empty:
        return None
    x0, y0, x1, y1 = free.bounds
    if y1 - y0 < width:
        return None
    heights = np.append(np.arange(y0, y1 - width, ROW), y1 - width)
    rows = shapely.box(x0 - 1, heights, x1 + 1, heights + width)
    # What of a row is not free casts a shadow on x; the longest strap lies in the longest light. Each flaw is
    # asked for the few rows it reaches: all in one shape, every row would go through all their corners.
    blocked = [shapely.Polygon(hide.outline).buffer(-margin), *_grown(hide, margin)]
    inner, *flaws = (shapely.affinity.affine_transform(one, [c, s, -s, c, 0, 0]) for one in blocked)
    flaw, met = shapely.STRtree(rows).query(flaws) if flaws else (np.empty(0, int), np.empty(0, int))
    beside, beside_row = shapely.get_parts(shapely.difference(rows, inner), return_index=True)
    grown, boxes = np.array(flaws, dtype=object), shapely.bounds(flaws).reshape(-1, 4)
    within = (boxes[flaw, 1] >= heights[met]) & (boxes[flaw, 3] <= heights[met] + width)
    cut = shapely.intersection(rows[met[~within]], grown[flaw[~within]])
    parts, pair = shapely.get_parts(cut, return_index=True)
    real = shapely.area(parts) > 0.0  # what only touches a row takes nothing of it
    shadows = np.concatenate([shapely.bounds(beside), boxes[flaw[within]], shapely.bounds(parts[real])])
    index = np.concatenate([beside_row, met[within], met[~within][pair[real]]])
    order = np.lexsort((shadows[:, 0], index))
    ends_of = np.searchsorted(index[order], np.arange(len(heights) + 1))
    best: tuple[float, float, float] | None = None
    for row in range(len(heights)):
        mine = shadows[order[ends_of[row] : ends_of[row + 1]]]
        ends = np.maximum.accumulate(mine[:, 2])
        gaps = mine[1:, 0] - ends[:-1]
        if not len(gaps):
            continue
        widest = int(np.argmax(gaps))
        if gaps[widest] > 0 and (best is None or gaps[widest] > best[0] + 1e-6):
            best = float(gaps[widest]), float(ends[widest]), float(heights[row])
    if best is None:
        return None
    length, x, y = best
    corners = np.array([(x, y), (x + length, y), (x + length, y + width), (x, y + width)])
    return Strip(length, width, corners @ np.array([[c, s], [-s, c]]))
