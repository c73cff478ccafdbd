"""Nest every case of a folder and tell how full each hide came.

Run: python benchmarks/nesting.py --data DIR [--time 60] [--seed 0] [--json] [--draw DIR] [--out DIR]

With --hidden CASE it tells instead how many more straps, and how much more leather, find a place on a case
where flaws are only ugly and each strap's first 100 mm out of sight; with --growth CASE how the time to a
first layout grows with the number of parts, from 10 to 1,000, and draws that (--draw).
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from cases import Case, enlarged, read_cases, with_hidden_ends
from strapwright.nesting.problem import Piece
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.solver.solve import Solution, solve
from strapwright.nesting.solver.warm_up import compile_search

if TYPE_CHECKING:
    from collections.abc import Sequence


HIDDEN = 100.0
"""Of each strap's first end, mm, out of sight where flaws are only ugly."""

_TIE = 0.01
"""What all keepers together are worth where straps are counted."""

COUNTS = (10, 20, 50, 100, 200, 500, 1000)
"""Parts laid to see how the time grows."""


def get_ready() -> None:
    """Compile the search, or load what was compiled before: once for a machine, and no case's time."""
    square = np.array([(0.0, 0.0), (9.0, 0.0), (9.0, 1.0), (0.0, 1.0)])
    began = time.perf_counter()
    compile_search(Piece(str(strap), square, (0.0,), frozenset(), strap=strap) for strap in (True, False))
    print(f"ready after {time.perf_counter() - began:.1f} s", file=sys.stderr)


def hidden_ends(path: Path, seconds: float, seed: int) -> str:
    """Return how many more straps, and how much more leather, lie where flaws are only ugly and ends hidden.

    First as many straps as possible are sought, each worth the same; keepers only break ties. Then as much
    leather as possible. Every layout with its ends shown is one with ends hidden too, so the better of both
    counts where ends are hidden.
    """
    lines = []
    for counting in (True, False):
        told: list[tuple[float, int, float]] = []
        most = []
        for hidden in (0.0, HIDDEN):
            case = with_hidden_ends(path, hidden)
            pieces = case.problem.pieces
            if counting:
                worth = tuple(replace(p, value=1.0 if p.strap else _TIE / len(pieces)) for p in pieces)
                case = replace(case, problem=replace(case.problem, pieces=worth))
            figures, found = run(case, seconds, seed)
            assert figures["verified"]
            straps = sum(pieces[placed.piece].strap for placed in found.placements)
            told.append((found.value, straps, figures["utilisation"]))
            most.append(found.bound)
        (_, shown, before), (_, covered, after) = told[0], max(told)
        line = (
            f"{path.stem}, flaws only ugly, as {'many straps' if counting else 'much leather'} as possible: "
            f"{shown} straps ({before:.4f} of the hide) with every end shown, {covered} ({after:.4f}) with "
            f"{HIDDEN:g} mm hidden: {covered - shown:+d} straps, {after - before:+.4f}"
        )
        if counting:
            line += f"; no layout holds more than {math.floor(most[0])} and {math.floor(most[1])}"
        lines.append(line)
    return "\n".join(lines)


def growth(path: Path, seed: int) -> tuple[str, str]:
    """Return the seconds to a first layout and after ten steps, by number of parts: as text and as SVG."""
    lines, points = [], []
    for count in COUNTS:
        case = enlarged(path, count)
        began = time.perf_counter()
        first = solve(case.problem, steps=1, seed=seed)
        middle = time.perf_counter()
        solve(case.problem, steps=10, seed=seed)
        ended = time.perf_counter()
        points.append((count, middle - began, ended - middle))
        lines.append(
            f"{count} parts on {len(case.problem.grounds)} hides: first layout {middle - began:.2f} s "
            f"({len(first.placements)} placed), ten steps {ended - middle:.2f} s"
        )
    return "\n".join(lines), chart(points)


def chart(points: Sequence[tuple[int, float, float]]) -> str:
    """Return seconds over parts as SVG, both axes logarithmic."""
    top = max(max(first, ten) for _, first, ten in points)
    low = min(min(first, ten) for _, first, ten in points)

    def at(count: int, seconds: float) -> tuple[float, float]:
        x = 60 + 500 * (np.log10(count) - 1) / 2
        y = 330 - 300 * (np.log10(seconds) - np.log10(low)) / max(np.log10(top) - np.log10(low), 1e-9)
        return float(x), float(y)

    drawn = []
    for column, colour, dash, name in (
        (1, "#0072B2", "none", "first layout"),
        (2, "#D55E00", "8 4", "ten steps"),
    ):
        way = " ".join(f"{x:.1f},{y:.1f}" for x, y in (at(p[0], p[column]) for p in points))
        look = f'fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dash}"'
        drawn.append(f'<polyline points="{way}" {look}/>')
        x, y = at(points[-1][0], points[-1][column])
        drawn.append(f'<text x="{x - 90:.1f}" y="{y - 8:.1f}" fill="{colour}">{name}</text>')
    for count, first, ten in points:
        x, _ = at(count, low)
        drawn.append(f'<text x="{x:.1f}" y="350" text-anchor="middle">{count}</text>')
        for seconds in (first, ten):
            x, y = at(count, seconds)
            drawn.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3"/>')
            drawn.append(f'<text x="{x + 5:.1f}" y="{y + 14:.1f}" font-size="10">{seconds:.2g} s</text>')
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 620 380" width="930" font-family="sans-serif" '
        f'font-size="13"><title>Seconds by number of parts</title>{"".join(drawn)}'
        '<text x="310" y="372" text-anchor="middle">parts asked for</text></svg>\n'
    )


def run(case: Case, seconds: float, seed: int) -> tuple[dict[str, Any], Solution]:
    """Nest one case and return its line of figures with what was found."""
    began = time.perf_counter()
    found = solve(case.problem, time_limit=seconds, seed=seed)
    took = time.perf_counter() - began
    pieces, placements = case.problem.pieces, found.placements
    area = sum(shapely.Polygon(pieces[placed.piece].outline).area for placed in placements)
    tops = [float(placed.apply(pieces[placed.piece].outline)[:, 1].max()) for placed in placements]
    faults = faults_of(case.problem, placements)
    for fault in faults:
        print(f"{case.name}: {fault}", file=sys.stderr)
    figures: dict[str, Any] = {
        "case": case.name,
        "utilisation": round(area / case.sound, 5),
        "used_height_mm": round(max(tops, default=0.0), 3),
        "placed": len(placements),
        "asked": len(pieces),
        "bound": round(found.bound / case.sound, 5),
        "seconds": round(took, 2),
        "verified": not faults,
    }
    if found.least_height:
        figures["least_height_mm"] = round(found.least_height, 3)
    return figures, found


def outlines(case: Case, found: Solution) -> list[dict[str, Any]]:
    """Return the placed pieces as ``{id, polygon}``."""
    pieces = case.problem.pieces
    return [
        {"id": pieces[placed.piece].id, "polygon": placed.apply(pieces[placed.piece].outline).tolist()}
        for placed in found.placements
    ]


def picture(case: Case, found: Solution) -> str:
    """Return the layout as SVG, y up."""
    ground = case.problem.grounds[0]
    (x0, y0), (x1, y1) = ground.boundary.min(axis=0), ground.boundary.max(axis=0)
    side = (x1 - x0) / 60

    def ring(points: Any, look: str) -> str:
        flipped = " ".join(f"{x:.3f},{y0 + y1 - y:.3f}" for x, y in np.asarray(points))
        return f'<polygon points="{flipped}" {look}/>'

    edge = f'stroke="#000" stroke-width="{(x1 - x0) / 1500:.3f}"'
    drawn = [ring(ground.boundary, f'fill="#f1e7d8" {edge}')]
    drawn += [ring(one["polygon"], f'fill="#56B4E9" {edge}') for one in outlines(case, found)]
    drawn += [ring(zone.polygon, 'fill="#D55E00" fill-opacity="0.6"') for zone in ground.zones]
    box = f"{x0 - side:.1f} {y0 - side:.1f} {x1 - x0 + 2 * side:.1f} {y1 - y0 + 2 * side:.1f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" width="1400">'
        f"<title>{case.name}</title>{''.join(drawn)}</svg>\n"
    )


def table(rows: Sequence[dict[str, Any]]) -> str:
    """Return the figures as a table."""
    columns = ("case", "utilisation", "used_height_mm", "placed", "asked", "bound", "seconds", "verified")
    cells = [columns, *(tuple(str(row[name]) for name in columns) for row in rows)]
    widths = [max(len(line[n]) for line in cells) for n in range(len(columns))]
    return "\n".join("  ".join(c.rjust(w) for c, w in zip(line, widths, strict=True)) for line in cells)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--data", type=Path, required=True, help="folder of .json cases")
    parser.add_argument("--time", type=float, default=60.0, help="seconds for each case")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--json", action="store_true", help="one line of JSON a case")
    parser.add_argument("--draw", type=Path, help="write CASE.svg there")
    parser.add_argument("--out", type=Path, help="write CASE.json there: [{id, polygon}]")
    parser.add_argument("--case", action="append", help="only this case; may be given again")
    parser.add_argument("--hidden", metavar="CASE", help="tell what hidden ends are worth on this case")
    parser.add_argument("--growth", metavar="CASE", help="tell how time grows with parts like this case's")
    given = parser.parse_args()
    get_ready()
    if given.hidden:
        print(hidden_ends(given.data / f"{given.hidden}.json", given.time, given.seed))
        return 0
    if given.growth:
        text, drawn = growth(given.data / f"{given.growth}.json", given.seed)
        print(text)
        if given.draw:
            given.draw.mkdir(parents=True, exist_ok=True)
            (given.draw / "growth.svg").write_text(drawn, "utf-8")
        return 0
    rows = []
    for case in read_cases(given.data):
        if given.case and case.name not in given.case:
            continue
        figures, found = run(case, given.time, given.seed)
        rows.append(figures)
        if given.json:
            print(json.dumps(figures), flush=True)
        for folder, suffix, text in (
            (given.draw, "svg", lambda c=case, f=found: picture(c, f)),
            (given.out, "json", lambda c=case, f=found: json.dumps(outlines(c, f)) + "\n"),
        ):
            if folder is not None:
                folder.mkdir(parents=True, exist_ok=True)
                (folder / f"{case.name}.{suffix}").write_text(text(), "utf-8")
    if not given.json:
        print(table(rows))
    return 0 if all(row["verified"] for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
