"""Row tables against the same question asked of shapely, place by place, and straps beside straps."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings, strategies as st

from strapwright.nesting.problem import Area, Ground, Piece, PiecePlacement, Problem, Zone
from strapwright.nesting.problem_check import faults_of
from strapwright.nesting.strap_search.free_runs import best_step, distances, table_of
from strapwright.nesting.strap_search.strap_shape import forms_of

HIDE = np.array(
    [(0, 0), (900, 15), (1300, -5), (1390, 120), (1350, 260), (700, 235), (90, 260), (-30, 90)], float
)
FLAWS = (
    Zone(np.array([(400, 100), (430, 90), (450, 130), (410, 140)], float)),
    Zone(np.array([(980, 40), (990, 42), (940, 160), (930, 158)], float), "mark"),
)
VOID = frozenset({"hole"})


def strap(length: float = 500.0, width: float = 38.0, number: int = 0, shown: float = 0.0) -> Piece:
    """A strap with a round tip at its right end; what lies beyond ``shown`` may not cover a mark."""
    angles = np.linspace(-math.pi / 2, math.pi / 2, 9)
    r = width / 2
    tip = np.column_stack([length - r + r * np.cos(angles), r + r * np.sin(angles)])
    outline = np.vstack([[(0, 2), (2, 0)], tip, [(2, width), (0, width - 2)]])
    seen = shapely.get_coordinates(shapely.Polygon(outline) & shapely.box(shown, -1, length + 1, width + 1))[
        :-1
    ]
    area = Area(seen, frozenset({"mark"}))
    value = float(shapely.Polygon(outline).area)
    return Piece(f"s{number}", outline, (0.0, math.pi), VOID, (area,), value, int(length + shown), strap=True)


def test_every_run_is_free_to_its_ends_and_not_beyond_them() -> None:
    piece = strap(shown=120.0)
    problem = Problem((piece,), (Ground(HIDE, FLAWS),), 2.0, 2.0)
    roomier = Problem((piece,), problem.grounds, 2.0, 2.02)  # rounding decides where something just touches
    makes, forms, by_shape = forms_of([piece], 2.0)
    table = table_of(problem.grounds[0], makes, forms, 3.0, margin=2.0)
    seen = 0
    for number in by_shape[piece.shape]:
        form = forms[number]
        for row in range(table.low.shape[1]):
            y = table.y0 + row * table.step
            free = []
            for low, high in zip(table.low[form.make, row], table.high[form.make, row], strict=True):
                if high - low >= form.length - 1e-6:
                    free.append((low, max(low, high - form.length)))
            for low, high in free:
                for x in (low, high, (low + high) / 2):
                    placed = PiecePlacement(0, 0, form.turn, x + form.origin[0], y + form.origin[1])
                    assert not faults_of(problem, [placed])
                    seen += 1
            tried = np.linspace(-40, 900, 40)
            for x in tried[[not any(low - 0.1 < x < high + 0.1 for low, high in free) for x in tried]]:
                placed = PiecePlacement(0, 0, form.turn, x + form.origin[0], y + form.origin[1])
                assert faults_of(roomier, [placed])
    assert seen > 200


def test_a_hidden_end_makes_runs_that_a_shown_one_has_not() -> None:
    ground = Ground(HIDE, FLAWS)
    runs = []
    for shown in (0.0, 120.0):
        makes, forms, _ = forms_of([strap(900.0, shown=shown)], 2.0)
        table = table_of(ground, makes, forms, 1.0, margin=2.0)
        runs.append(int((table.high > table.low).sum()))
    assert runs[0] < runs[1]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(-90, 90), st.sampled_from([20.0, 32.0, 38.0]), st.sampled_from([0.0, 2.0, 5.0]))
def test_straps_end_to_end_stand_just_the_gap_apart(rise: int, width: float, gap: float) -> None:
    pieces = (strap(300.0, 38.0), strap(260.0, width, 1))
    makes, forms, _ = forms_of(pieces, gap)
    apart, middle = distances(makes, gap, 0.5)
    for a in (form for form in forms if form.length == 300.0):
        for b in (form for form in forms if form.length == 260.0):
            off = apart[a.make, b.make, middle + rise] if abs(rise) <= middle else -np.inf
            if not np.isfinite(off):
                continue
            one = PiecePlacement(0, 0, a.turn, *a.origin)
            ground = Ground(np.array([(-999, -999), (999, -999), (999, 999), (-999, 999)], float))
            problem = Problem(pieces, (ground,), gap)
            x = a.length + off + b.origin[0]
            there = PiecePlacement(1, 0, b.turn, x, rise * 0.5 + b.origin[1])
            assert not faults_of(problem, [one, there])
            nearer = PiecePlacement(1, 0, b.turn, x - 0.05, rise * 0.5 + b.origin[1])
            assert gap == 0 or faults_of(problem, [one, nearer])


def test_the_step_divides_inch_widths_as_well() -> None:
    for pitch in (40.1, 33.75, 27.4):
        step = best_step([pitch - 2.0], 2.0)
        assert math.ceil(pitch / step - 1e-6) * step - pitch < 0.01
