"""Nesting cases from JSON files of either layout, as problems in polygons."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from strapwright.nesting.problem import Area, Ground, Piece, Problem, Zone

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path


@dataclass(frozen=True)
class Case:
    """One case.

    Args:
        name: the file's stem.
        problem: what is to be laid where.
        sound: area of the hide that utilisation is told of, mm².
    """

    name: str
    problem: Problem
    sound: float


def read_cases(folder: Path) -> Iterator[Case]:
    """Yield the case of every ``.json`` file of a folder that holds one, by name."""
    for path in sorted(folder.glob("*.json")):
        data = json.loads(path.read_text("utf-8"))
        if "parts" in data:
            yield _straps(path.stem, data)
        elif "items" in data:
            yield _pieces(path.stem, data)


def with_hidden_ends(path: Path, hidden: float) -> Case:
    """Return a case whose flaws are only ugly, and each strap's first ``hidden`` mm out of sight."""
    return _straps(path.stem, json.loads(path.read_text("utf-8")), hidden)


def enlarged(path: Path, count: int) -> Case:
    """Return a case of so many parts, its own over and over, on as many of its hide as they may need."""
    data = json.loads(path.read_text("utf-8"))
    own = data["parts"]
    data["parts"] = [{**own[n % len(own)], "id": f"{n}"} for n in range(count)]
    case = _straps(path.stem, data)
    area = sum(piece.value for piece in case.problem.pieces)
    hides = max(1, math.ceil(area / (0.55 * case.sound)))
    problem = replace(case.problem, grounds=case.problem.grounds * hides)
    return Case(case.name, problem, hides * case.sound)


def _straps(name: str, data: dict[str, Any], hidden: float | None = None) -> Case:
    """Straps and keepers on a hide; every defect is forbidden, or a mark where ends are hidden."""
    hide = data["hides"][0]
    kind = "hole" if hidden is None else "mark"
    zones = [Zone(_ring(flaw["poly"]), kind) for flaw in hide["defects"]]
    shapes: dict[str, int] = {}
    pieces = []
    for part in data["parts"]:
        outline = _ring(part["outline"])
        strap = part["kind"] == "strap"
        areas: tuple[Area, ...] = ()
        if hidden is not None:
            shown = outline
            if strap:
                beyond = shapely.box(hidden, -1e4, 1e4, 1e4)
                shown = _ring(shapely.get_coordinates(shapely.Polygon(outline) & beyond))
            areas = (Area(shown, frozenset({"mark"})),)
        key = json.dumps([part["outline"], part["rotations"]])
        pieces.append(
            Piece(
                part["id"],
                outline,
                tuple(math.radians(turn) for turn in part["rotations"]),
                frozenset({"hole"}),
                areas,
                float(part["value"]),
                shapes.setdefault(key, len(shapes)),
                strap,
            )
        )
    problem = Problem(
        tuple(pieces), (Ground(_ring(hide["boundary"]), tuple(zones)),), data["gap"], data["margin"]
    )
    return Case(name, problem, _sound(hide["boundary"], [flaw["poly"] for flaw in hide["defects"]]))


def _pieces(name: str, data: dict[str, Any]) -> Case:
    """Pieces of any outline on the first hide, whose zones forbid by quality; quarter turns, no gap."""
    hide = data["bins"][0]
    outer, inner = hide["shape"]["data"], []
    if hide["shape"]["type"] == "polygon":
        outer, inner = outer["outer"], outer["inner"]
    zones = [Zone(_ring(ring), "hole") for ring in inner]
    zones += [Zone(_ring(zone["shape"]["data"]), f"quality {zone['quality']}") for zone in hide["zones"]]
    qualities = {zone["quality"] for zone in hide["zones"]}
    pieces = []
    for shape, item in enumerate(data["items"]):
        outline, needed = _ring(item["shape"]["data"]), item.get("min_quality")
        shunned = {f"quality {q}" for q in qualities if q == 0 or needed is None or needed > q}
        pieces += [
            Piece(
                f"{item['id']}.{copy}",
                outline,
                tuple(quarter * math.pi / 2 for quarter in range(4)),
                frozenset({"hole", *shunned}),
                value=float(shapely.Polygon(outline).area),
                shape=shape,
            )
            for copy in range(item["demand"])
        ]
    nothing = [zone["shape"]["data"] for zone in hide["zones"] if zone["quality"] == 0]
    problem = Problem(tuple(pieces), (Ground(_ring(outer), tuple(zones)),))
    return Case(name, problem, _sound(outer, [*inner, *nothing]))


def _ring(points: Sequence[Sequence[float]]) -> np.ndarray:
    """Return corners counter-clockwise, none repeated."""
    array = np.asarray(points, dtype=np.float64)
    array = array[np.hypot(*(np.roll(array, -1, axis=0) - array).T) > 1e-9]
    x, y = array.T
    return array if np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) > 0 else array[::-1].copy()


def _sound(outer: Sequence[Sequence[float]], holes: list[Any]) -> float:
    covered = shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in holes])
    return float(shapely.Polygon(outer).difference(covered).area)
