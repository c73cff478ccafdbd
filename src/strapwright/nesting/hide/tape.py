"""A hide by tape measure: how far its two edges lie from a straight trued edge, station by station."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import FileProblems, UnitError
from strapwright.core.units import parse_length
from strapwright.files.messages import unknown_key
from strapwright.files.read import read_text, refused
from strapwright.geometry.drawings.gathered import without_repeats

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.arrays import Floats


COLUMNS: Final = ("x", "y_low", "y_high")
"""Columns of a CSV file of stations."""

LIMIT_MB: Final = 1.0
"""Largest file of stations read, MB: a station every 5 mm takes a hundredth of it."""


def outline_from_stations(stations: Sequence[tuple[float, float, float]], source: str, where: str) -> Floats:
    """Return the outline through both edges of every station; a station may close to a point.

    Args:
        stations: (x, y_low, y_high) each, mm, x growing.
        source: the file's name as the person gave it.
        where: what a station is called in messages, with ``{}`` for its number from 1.

    Returns:
        Corners, counter-clockwise, (N, 2) mm.

    Raises:
        FileProblems: a station is out of order, or its edges are; one line each.

    Example:
        >>> outline_from_stations([(0, 0, 700), (900, 5, 650)], "a.toml", "station {}").tolist()
        [[0.0, 0.0], [900.0, 5.0], [900.0, 650.0], [0.0, 700.0]]
    """
    array = np.array(stations, dtype=np.float64)
    problems = []
    for number, (x, low, high) in enumerate(array, start=1):
        place = f"{source}: {where.format(number)}"
        if number > 1 and not x > array[number - 2, 0]:
            problems.append(
                f"{place}: found x {x:g} mm after {array[number - 2, 0]:g} mm; "
                "give the stations in the order of growing x"
            )
        if high < low:
            problems.append(
                f"{place}: found y_low {low:g} mm above y_high {high:g} mm; write [x, y_low, y_high]"
            )
    if problems:
        raise FileProblems(tuple(problems))
    return without_repeats(np.vstack([array[:, :2], array[::-1, ::2]]), 1e-9)


def read_stations(path: Path) -> tuple[tuple[float, float, float], ...]:
    """Read stations from a CSV file with the columns x, y_low and y_high, one station a line.

    Commas, semicolons or tabs stand between the cells; a cell is a length with its unit, or a bare number
    in mm. Empty lines and lines that begin with # are passed over.

    Returns:
        (x, y_low, y_high) each, mm; at least two.

    Raises:
        FileProblems: every mistake in the file, by its line.
    """
    text = read_text(path, limit_mb=LIMIT_MB)
    rows = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" ,;\t") and not line.lstrip().startswith("#")
    ]
    wanted = f"a line of column names: {', '.join(COLUMNS)}"
    if not rows:
        raise refused(path, f"found nothing, expected {wanted}")
    first, head = rows[0]
    between = next((sign for sign in (";", "\t") if sign in head), ",")
    names = [name.strip().casefold() for name in head.split(between)]
    problems = [
        f"{path}: line {first}: {unknown_key(name, COLUMNS, 'column')}: found {name!r}"
        for name in names
        if name not in COLUMNS
    ]
    missing = [name for name in COLUMNS if names.count(name) != 1]
    if problems or missing:
        if missing:
            problems.append(f"{path}: line {first}: no column {' and no '.join(missing)}, expected {wanted}")
        raise FileProblems(tuple(problems))
    order = [names.index(name) for name in COLUMNS]
    stations = []
    for number, line in rows[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=between))]
        if len(cells) != len(names):
            problems.append(f"{path}: line {number}: found {len(cells)} cells, expected {len(names)}")
            continue
        try:
            x, low, high = (parse_length(cells[index]) for index in order)
            stations.append((x, low, high))
        except UnitError as error:
            problems.append(f"{path}: line {number}: {error}")
    if not problems and len(stations) < 2:
        problems.append(f"{path}: found {len(stations)} stations, expected at least 2")
    if problems:
        raise FileProblems(tuple(problems))
    return tuple(stations)
