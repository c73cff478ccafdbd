"""Assignment of pieces to many hides, each then searched by itself, in other processes if wanted.

The pieces are dealt out over as many hides as could hold them at best. Each of these is then a problem of
its own that needs nothing of the others, so they may be searched side by side, in other processes or on
other machines. What is over afterwards goes where there is room still, and on the hides that follow.
"""

from __future__ import annotations

from concurrent.futures import CancelledError, wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.cancellation import noting_ctrl_c
from strapwright.nesting.solver.objective import least_hides_needed
from strapwright.nesting.solver.solve import Solution, solve
from strapwright.nesting.solver.warm_up import compile_search

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Executor, Future

    from strapwright.nesting.problem import PiecePlacement, Problem

MANY = 4
"""Where so many hides are needed at least, each is searched by itself; fewer are filled one after another."""

_AGAIN = 0.2
"""Seconds after which Ctrl-C is looked for while others search."""

_LAST = 0.2
"""Share of the time for what is over in the end."""


@dataclass(frozen=True)
class HideShare:
    """The pieces assigned to one hide, as a problem of its own that can be sent anywhere.

    Args:
        problem: with this one ground.
        pieces: the numbers its pieces have in the whole problem.
        ground: the number its ground has there.
    """

    problem: Problem
    pieces: tuple[int, ...]
    ground: int


def assign_to_hides(problem: Problem) -> list[HideShare]:
    """Return the pieces assigned to the grounds needed at least; nothing where these are fewer than `MANY`.

    Args:
        problem: the whole problem, its grounds in the order they are used up.
    """
    bounds = area_bounds(problem)
    grounds = range(least_hides_needed(problem.pieces, bounds))
    if len(grounds) < MANY:
        return []
    dealt: list[list[int]] = [[] for _ in grounds]
    room = list(bounds[: len(grounds)])
    # The largest first, each to the ground with the most room: every ground gets some of each sort.
    for number in sorted(range(len(problem.pieces)), key=lambda n: (-problem.pieces[n].value, n)):
        piece = problem.pieces[number]
        fitting = [ground for ground in grounds if piece.grounds is None or ground in piece.grounds]
        if fitting:
            best = max(fitting, key=lambda ground: room[ground])
            dealt[best].append(number)
            room[best] -= piece.value
    out = []
    for ground, numbers in enumerate(dealt):
        pieces = tuple(replace(problem.pieces[n], grounds=None, assembly="") for n in numbers)
        if pieces:
            own = replace(problem, pieces=pieces, grounds=(problem.grounds[ground],))
            out.append(HideShare(own, tuple(numbers), ground))
    return out


def solve_share(
    share: HideShare, time_limit: float, steps: int | None, seed: int
) -> tuple[PiecePlacement, ...]:
    """Return the best placements of one hide's share, numbered as in the whole problem.

    Args:
        share: the hide's.
        time_limit: seconds, once the search is compiled.
        steps: of the search instead of a time, or None.
        seed: of the random choices.
    """
    compile_search(share.problem.pieces)  # here too: this may be another machine
    # What is proven of some of the pieces says nothing of all of them.
    found = solve(share.problem, time_limit=time_limit, steps=steps, seed=seed, prove=False)
    return tuple(
        replace(placed, piece=share.pieces[placed.piece], ground=share.ground) for placed in found.placements
    )


def solve_shares(
    problem: Problem,
    first: Sequence[PiecePlacement],
    shares: Sequence[HideShare],
    *,
    time_limit: float,
    steps: int | None,
    seed: int,
    progress: Callable[[Solution], None] | None = None,
    executor: Executor | None = None,
    at_once: int = 1,
    prove: bool = True,
) -> Solution:
    """Solve every share by itself, then place what is over where there is room.

    Args:
        problem: the whole problem, its grounds in the order they are used up.
        first: a layout of it, kept where nothing better is found.
        shares: made of it.
        time_limit: seconds for all.
        steps: of each search instead of a time; then the result does not depend on the executor.
        seed: of the random choices.
        progress: called when a share is done.
        executor: where shares are searched; None: here, one after another.
        at_once: how many shares the executor searches at once; it only shares the time out.
        prove: as in :func:`solve`.
    """
    rounds = -(-len(shares) // max(1, at_once if executor is not None else 1))
    seconds = time_limit * (1 - _LAST) / rounds
    placements: list[PiecePlacement] = []
    most, stopped = sum(piece.value for piece in problem.pieces), False
    with noting_ctrl_c() as interrupted:
        for found in _results(shares, seconds, steps, seed, executor, interrupted):
            placements += found
            try:
                if progress is not None and not stopped:
                    value = sum(problem.pieces[placed.piece].value for placed in placements)
                    progress(Solution(tuple(placements), len(placements), value, most, len(placements)))
            except KeyboardInterrupt:
                stopped = True
        stopped = stopped or interrupted()
    over = replace(problem, locked=tuple(placements))
    last = solve(over, time_limit=0.0 if stopped else time_limit * _LAST, steps=steps, seed=seed, prove=prove)
    value = sum(problem.pieces[placed.piece].value for placed in first)
    begun, begun_first = (len({one.ground for one in lying}) for lying in (last.placements, first))
    if last.value < value - 1e-6 or (last.value < value + 1e-6 and begun > begun_first):
        return replace(last, placements=tuple(first), placed=len(first), value=value)
    return last


def _results(
    shares: Sequence[HideShare],
    seconds: float,
    steps: int | None,
    seed: int,
    executor: Executor | None,
    interrupted: Callable[[], bool],
) -> Iterator[tuple[PiecePlacement, ...]]:
    """Yield the placements of each share, in order; Ctrl-C leaves the others empty."""
    stopped = False
    futures: list[Future[tuple[PiecePlacement, ...]]] = []
    if executor is not None:
        futures = [executor.submit(solve_share, share, seconds, steps, seed) for share in shares]
    for number, share in enumerate(shares):
        found: tuple[PiecePlacement, ...] = ()
        try:
            if executor is not None:
                found = futures[number].result() if stopped else _awaited(futures[number], interrupted)
            elif not stopped and not interrupted():
                found = solve_share(share, seconds, steps, seed)
        except KeyboardInterrupt:
            stopped = True
            for future in futures:
                future.cancel()
        except CancelledError:
            pass
        yield found


def _awaited(
    future: Future[tuple[PiecePlacement, ...]], interrupted: Callable[[], bool]
) -> tuple[PiecePlacement, ...]:
    while not wait([future], _AGAIN).done:
        if interrupted():
            raise KeyboardInterrupt
    return future.result()
