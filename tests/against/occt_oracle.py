"""Run apart: measures contours and offsets them with the solid modeller, from JSON to JSON.

It runs in a process of its own, since the modeller takes seconds to load and may end the process that
calls it. Input: a list of ``{"vertices": [[x, y, bulge], …], "offsets": [d, …]}``; output: a list of
``{"area", "length", "offsets": [[area, length] | null, …]}``.
"""

from __future__ import annotations

import json
import math
import sys

import cadquery as cq


def wire_of(vertices: list[list[float]]) -> cq.Wire:
    """Draw the contour edge by edge, arcs through three points found without our own code."""
    edges = []
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, vertices[1:] + vertices[:1], strict=True):
        start, end = cq.Vector(x0, y0), cq.Vector(x1, y1)
        if bulge == 0:
            edges.append(cq.Edge.makeLine(start, end))
            continue
        # The sagitta is bulge times half the chord, to the right of the chord for a positive bulge.
        dx, dy = x1 - x0, y1 - y0
        middle = cq.Vector((x0 + x1) / 2 + bulge * dy / 2, (y0 + y1) / 2 - bulge * dx / 2)
        edges.append(cq.Edge.makeThreePointArc(start, middle, end))
    return cq.Wire.assembleEdges(edges)


def measure(wires: list[cq.Wire]) -> list[float] | None:
    """Return area and length of one wire; None for none or several."""
    if len(wires) != 1 or not math.isfinite(wires[0].Length()):
        return None
    return [cq.Face.makeFromWires(wires[0]).Area(), wires[0].Length()]


def offset_of(wire: cq.Wire, distance: float) -> list[float] | None:
    """Return area and length of the modeller's own offset, or None where it gives up."""
    try:
        return measure(wire.offset2D(distance, "arc"))
    except Exception:  # noqa: BLE001 - the modeller raises several kinds of its own
        return None


def main() -> None:
    """Answer the list on standard input."""
    answers = []
    for case in json.load(sys.stdin):
        wire = wire_of(case["vertices"])
        area, length = measure([wire]) or [0.0, 0.0]
        offsets = [offset_of(wire, d) for d in case["offsets"]]
        answers.append({"area": area, "length": length, "offsets": offsets})
    json.dump(answers, sys.stdout)


if __name__ == "__main__":
    main()
