"""Folds belts and closes keepers with the solid modeller, which takes seconds to load.

A case is ``{"t", "fold_t", "radius", "k", "width", "rows", "mates", "gaps", "keeper"}`` in mm, keeper
``{"thickness", "inside_width", "inside_height"}``; its answer ``{"misses", "ring_length", "overlap"}``.
"""

from __future__ import annotations

import math
from itertools import pairwise

import cadquery as cq


def tangent_angle(a: float, x: float, z: float) -> float:
    """The angle from the top, round the back, at which a tangent leaves the circle for the point (x, z)."""
    low, high = 0.5 * math.pi, 1.5 * math.pi
    for _ in range(100):
        turn = (low + high) / 2
        on_x, on_z = -a * math.sin(turn), a * math.cos(turn)
        way_x, way_z = -math.cos(turn), -math.sin(turn)
        if way_x * (z - on_z) - way_z * (x - on_x) > 0:
            low = turn
        else:
            high = turn
    return (low + high) / 2


def turned_path(a: float, places: list[tuple[float, float]]) -> cq.Wire:
    """The neutral line from the middle of the fold through every clamped place and on along the front."""
    turn = tangent_angle(a, *places[0])
    half = (math.pi / 2 + turn) / 2

    def at(angle: float) -> cq.Vector:
        return cq.Vector(-a * math.sin(angle), a * math.cos(angle))

    edges = [cq.Edge.makeThreePointArc(at(math.pi / 2), at(half), at(turn))]
    points = [at(turn), *(cq.Vector(x, z) for x, z in places)]
    points.append(points[-1] + cq.Vector(100.0, 0.0))
    edges += [cq.Edge.makeLine(p, q) for p, q in pairwise(points)]
    return cq.Wire.assembleEdges(edges)


def misses(case: dict) -> list[float]:
    """How far each hole of the turn-back comes to lie from its mate in the front layer."""
    a = case["radius"] + case["k"] * case["fold_t"]
    half_turn = math.pi * a
    apart = (case["t"] + case["fold_t"]) / 2
    rows = zip(case["rows"], case["gaps"], strict=True)
    places = [(row - half_turn / 2, a - apart - gap) for row, gap in rows]
    path = turned_path(a, places)
    found = []
    for (x, z), mate in zip(places, case["mates"], strict=True):
        reached = path.positionAt(-mate / path.Length(), mode="length")  # a share of the length
        found.append(math.hypot(reached.x - x, reached.y - z))
    return found


def ring(case: dict) -> tuple[float, float]:
    """The keeper's neutral length, and the volume in which it runs into front layer and billet."""
    keeper, width, t = case["keeper"], case["width"], case["t"]
    inside = cq.Workplane("YZ").rect(keeper["inside_width"], keeper["inside_height"])
    neutral = inside.offset2D(case["k"] * keeper["thickness"], "arc")
    outer = (
        cq.Workplane("YZ")
        .rect(keeper["inside_width"], keeper["inside_height"])
        .offset2D(keeper["thickness"], "arc")
    )
    band = outer.extrude(20).cut(
        cq.Workplane("YZ").rect(keeper["inside_width"], keeper["inside_height"]).extrude(20)
    )
    layers = cq.Workplane("YZ").rect(width, 2 * t).extrude(20)
    overlap = band.intersect(layers)
    volume = overlap.val().Volume() if overlap.vals() else 0.0
    return neutral.val().Length(), volume


def answer(case: dict) -> dict:
    """What the modeller says of one case."""
    length, overlap = ring(case)
    return {"misses": misses(case), "ring_length": length, "overlap": overlap}
