"""Many hides, each searched by itself: here, in other processes, and on a cluster."""

from __future__ import annotations

from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import suppress
from dataclasses import replace
from multiprocessing import get_context
from signal import SIGINT, raise_signal
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from tests.nesting.workshop import keeper, strap

from strapwright.nesting.hide.types import Hide
from strapwright.nesting.layout.types import Clearance
from strapwright.nesting.problem import build_problem
from strapwright.nesting.solver.hide_assignment import MANY, assign_to_hides
from strapwright.nesting.solver.nest import NestProgress, nest

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.problem import PiecePlacement

pytestmark = pytest.mark.slow

BOARDS = [
    Hide(f"bend {n}", np.array([(0, 0), (1300, 0), (1300, 150), (0, 150)]), thickness=3.6) for n in range(8)
]
PARTS = [strap(f"b{n}", 1000.0 + 30 * (n % 5), (25.0, 32.0, 38.0)[n % 3]) for n in range(20)]
PARTS += [keeper(f"b{n}") for n in range(20)]


def places(layout: Layout) -> list[tuple[str, str, float, float, float]]:
    return [(p.part.id, p.hide, p.placement.turn, p.placement.x, p.placement.y) for p in layout.placed]


class AtOnce(Executor):
    """Does what is submitted there and then, and counts."""

    def __init__(self) -> None:
        self.count = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.count += 1
        done: Future[Any] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as error:  # noqa: BLE001  # as an executor does
            done.set_exception(error)
        return done


def test_every_piece_is_dealt_to_one_hide_it_may_lie_on() -> None:
    parts = [replace(part, thickness=2.0) if n % 9 == 0 else part for n, part in enumerate(PARTS)]
    hides = [replace(board, thickness=2.0) if n == 1 else board for n, board in enumerate(BOARDS)]
    problem = build_problem(parts, hides, Clearance())
    shares = assign_to_hides(problem)
    assert len(shares) >= MANY
    dealt = [number for share in shares for number in share.pieces]
    assert len(dealt) == len(set(dealt))
    for share in shares:
        for number in share.pieces:
            allowed = problem.pieces[number].grounds
            assert allowed is None or share.ground in allowed


def test_few_hides_are_filled_one_after_another() -> None:
    assert assign_to_hides(build_problem(PARTS[:12], BOARDS, Clearance())) == []


@pytest.fixture(scope="module")
def plain() -> Layout:
    """What three steps make without an executor."""
    return nest(PARTS, BOARDS, steps=3, seed=2)


def test_an_executor_does_the_searches_and_changes_nothing_in_the_layout(plain: Layout) -> None:
    executor = AtOnce()
    sent = nest(PARTS, BOARDS, steps=3, seed=2, executor=executor)
    assert executor.count >= MANY
    assert places(sent) == places(plain)
    assert len(plain.placed) == len(PARTS)
    assert nest(PARTS, BOARDS, steps=3, seed=3).seed == 3


def test_progress_is_told_as_hides_are_done() -> None:
    told: list[NestProgress] = []
    nest(PARTS, BOARDS, steps=2, progress=told.append, executor=AtOnce())
    placed = [one.placed for one in told]
    assert len(placed) >= MANY
    assert placed == sorted(placed)


def test_breaking_off_keeps_what_was_found_and_stays_sound() -> None:
    def stop(_: NestProgress) -> None:
        raise KeyboardInterrupt

    laid = nest(PARTS, BOARDS, time_limit=2.0, progress=stop)
    assert len(laid.placed) + len(laid.unplaced) == len(PARTS)
    assert laid.placed


class Cancelled(AtOnce):
    """Does the first search and cancels the rest, as a cluster does that is shut down."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        if self.count == 0:
            return super().submit(fn, *args, **kwargs)
        lost: Future[Any] = Future()
        lost.cancel()
        lost.set_running_or_notify_cancel()
        return lost


def test_what_was_lost_on_the_way_is_laid_all_the_same() -> None:
    laid = nest(PARTS, BOARDS, steps=2, executor=Cancelled())
    assert len(laid.placed) == len(PARTS)


def test_processes_give_the_same_layout(plain: Layout) -> None:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as executor:
        assert places(nest(PARTS, BOARDS, steps=3, seed=2, executor=executor)) == places(plain)


def test_a_cluster_of_two_workers_gives_the_same_layout(plain: Layout) -> None:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor() as executor,
    ):
        sent = nest(PARTS, BOARDS, steps=3, seed=2, executor=executor, at_once=2)
    assert places(sent) == places(plain)


@pytest.mark.usefixtures("hears_ctrl_c")
def test_ctrl_c_that_the_search_of_one_hide_keeps_to_itself_ends_the_others_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    searches = []

    def pressed(*given: Any) -> tuple[PiecePlacement, ...]:
        searches.append(given)
        with suppress(KeyboardInterrupt):  # as an engine does that keeps its best
            raise_signal(SIGINT)
        return ()

    monkeypatch.setattr("strapwright.nesting.solver.hide_assignment.solve_share", pressed)
    layout = nest(PARTS, BOARDS, time_limit=20.0)
    assert len(searches) == 1
    assert layout.placed
