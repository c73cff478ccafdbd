"""A proof ends when it is told to, and Ctrl-C is known of by all that would follow."""

from __future__ import annotations

import contextlib
import signal
import time

import numpy as np
import pytest
from tests.nesting.bound.test_relaxation import bar
from tests.nesting.workshop import strap

from strapwright.nesting.bound.cp_sat import prove_value
from strapwright.nesting.bound.relaxation import relax_to_lanes, value_bounds
from strapwright.nesting.bound.runner import Prover
from strapwright.nesting.cancellation import Halt
from strapwright.nesting.hide.types import Hide
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import Ground, Piece, Problem, build_problem
from strapwright.nesting.solver.solve import solve
from strapwright.nesting.solver.unplaced_reasons import UnplacedReasons
from strapwright.nesting.strap_search.free_runs import Edges

BOARD = Ground(np.array([(0, 0), (2400, 0), (2400, 900), (0, 900)], float))


def test_nothing_is_proven_once_the_order_is_given():
    problem = Problem(tuple(bar(n, 900.0 + n, 30.0) for n in range(4)), (BOARD,), 2.0, 2.0)
    assert relax_to_lanes(problem, 0, 2.0, Halt()).kinds is not None
    halt = Halt()
    halt.given[0] = True
    assert relax_to_lanes(problem, 0, 2.0, halt).kinds is None
    assert not list(value_bounds(problem, 0, lambda: 0.0, lambda _: True, 0.0, halt))
    long = Problem((bar(0, 1500.0, 30.0),), (BOARD,), 2.0, 2.0)
    relaxed = relax_to_lanes(long, 0, 2.0)
    assert prove_value(relaxed, 1.0, 5.0, counted=True).bound < np.inf
    assert prove_value(relaxed, 1.0, 5.0, counted=True, halt=halt).bound == np.inf


def test_a_prover_in_the_midst_of_a_large_table_stops_soon():
    pieces = tuple(bar(n, 800.0 + n / 2, 30.0 + n % 3) for n in range(400))
    prover = Prover(Problem(pieces, (BOARD,), 2.0, 2.0), lambda _: 0.0)
    relax_to_lanes(Problem(pieces[:2], (BOARD,), 2.0, 2.0), 0, 2.0)
    prover.start(60.0)
    time.sleep(1.0)
    began = time.monotonic()
    prover.stop()
    assert time.monotonic() - began < 3.0


@pytest.mark.usefixtures("hears_ctrl_c")
def test_ctrl_c_while_other_pieces_are_laid_ends_what_would_follow(monkeypatch):
    followed = []

    def pressed(*_, **__):
        with contextlib.suppress(KeyboardInterrupt):  # as the search does, which keeps its best
            signal.raise_signal(signal.SIGINT)
        return []

    monkeypatch.setattr("strapwright.nesting.solver.solve.lay_shapes", pressed)
    monkeypatch.setattr(Prover, "prove_by_steps", lambda _, steps: followed.append(steps))
    tab = Piece("tab", np.array([(0, 0), (9, 0), (9, 9), (0, 9)], float), (0.0,), frozenset(), value=81.0)
    found = solve(Problem((bar(0, 900.0, 30.0), tab), (BOARD,), 2.0, 2.0), steps=5)
    assert [placed.piece for placed in found.placements] == [0]
    assert followed == []
    monkeypatch.setattr("strapwright.nesting.solver.solve.lay_shapes", lambda *_, **__: [])
    solve(Problem((bar(0, 900.0, 30.0), tab), (BOARD,), 2.0, 2.0), steps=5)
    assert followed == [5]


def test_reasons_of_many_lengths_scan_a_hide_once_for_a_make(monkeypatch):
    scans = []
    scan = Edges.scan
    monkeypatch.setattr(Edges, "scan", lambda self, *given: scans.append(given[2:4]) or scan(self, *given))
    hide = Hide("bend", np.array([(0, 0), (1100, 0), (1100, 300), (0, 300)], float))
    parts = [strap(f"b{n}", 1000.0 + 5 * n) for n in range(40)]
    problem = build_problem(parts, [hide], Clearance())
    reasons = UnplacedReasons(problem, [hide], ())
    told = [reasons.of(part, n) for n, part in enumerate(parts)]
    assert len(scans) < 10
    fitting = ["no free place was found" in reason for reason in told]
    # 1,100 mm less 2 mm at either end.
    assert fitting == [1000.0 + 5 * n <= 1096.0 for n in range(40)]
    assert all("no row is long enough" in reason for reason in told[20:])
