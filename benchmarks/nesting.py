"""Nest every case of a folder and tell how full each hide came.

Run: python benchmarks/nesting.py --data DIR [--time 60] [--seed 0] [--json] [--draw DIR] [--out DIR]
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from cases import Case, read_cases
from strapwright.nesting.check import faults_of, laid
from strapwright.nesting.solve import Solution, solve

if TYPE_CHECKING:
    from collections.abc import Sequence


def run(case: Case, seconds: float, seed: int) -> tuple[dict[str, Any], Solution]:
    """Nest one case and return its line of figures with what was found."""
    began = time.perf_counter()
    found = solve(case.problem, time_limit=seconds, seed=seed)
    took = time.perf_counter() - began
    pieces, spots = case.problem.pieces, found.spots
    area = sum(shapely.Polygon(pieces[spot.piece].outline).area for spot in spots)
    tops = [float(laid(pieces[spot.piece].outline, spot)[:, 1].max()) for spot in spots]
    faults = faults_of(case.problem, spots)
    for fault in faults:
        print(f"{case.name}: {fault}", file=sys.stderr)
    figures: dict[str, Any] = {
        "case": case.name,
        "utilisation": round(area / case.sound, 5),
        "used_height_mm": round(max(tops, default=0.0), 3),
        "placed": len(spots),
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
        {"id": pieces[spot.piece].id, "polygon": laid(pieces[spot.piece].outline, spot).tolist()}
        for spot in found.spots
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
    given = parser.parse_args()
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
