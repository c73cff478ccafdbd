"""Many hides at once: each searched by itself with what lies on it and a share of what is left, anywhere.

A first layout says what lies where. The hide begun last is given up: what lay there, and what found no
place, is dealt out to the hides before it. Each of these is then a problem of its own that needs nothing
of the others, so they may be searched side by side, in other processes or on other machines. What is over
afterwards goes where there is room still.
"""

from __future__ import annotations

from concurrent.futures import CancelledError
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from strapwright.nesting.problem import Problem, Spot
from strapwright.nesting.solve import Solution, solve

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from concurrent.futures import Executor, Future

MANY = 4
"""From so many hides begun on, each is searched by itself; fewer are filled one after another."""

_LAST = 0.2
"""Share of the time for what is over in the end."""


@dataclass(frozen=True)
class Lot:
    """What one hide is searched with; it can be sent anywhere.

    Args:
        problem: with this one ground.
        pieces: the numbers its pieces have in the whole problem.
        ground: the number its ground has there.
        first: where pieces of the lot lay before.
    """

    problem: Problem
    pieces: tuple[int, ...]
    ground: int
    first: tuple[Spot, ...]


def lots_of(problem: Problem, first: Sequence[Spot], order: Sequence[int]) -> list[Lot]:
    """Return a lot for each ground that is begun, but for the last; none where fewer than `MANY` are.

    Args:
        problem: the whole problem.
        first: a layout of it.
        order: its grounds' numbers in the order they are used up.
    """
    used = {spot.ground for spot in first}
    begun = [ground for ground in order if ground in used]
    if len(begun) < MANY:
        return []
    kept = begun if len(first) < len(problem.pieces) else begun[:-1]
    where = {spot.piece: spot for spot in first}
    held: dict[int, list[int]] = {ground: [] for ground in kept}
    over = []
    for number in range(len(problem.pieces)):
        if number in where and where[number].ground in held:
            held[where[number].ground].append(number)
        else:
            over.append(number)
    # Dealt out like cards, those worth most first, so that every ground has some of each sort.
    turn = 0
    for number in sorted(over, key=lambda n: (-problem.pieces[n].value, n)):
        allowed = problem.pieces[number].grounds
        fitting = [ground for ground in kept if allowed is None or ground in allowed]
        if fitting:
            held[fitting[turn % len(fitting)]].append(number)
            turn += 1
    return [_lot(problem, ground, held[ground], where) for ground in kept]


def _lot(problem: Problem, ground: int, numbers: Sequence[int], where: dict[int, Spot]) -> Lot:
    pieces = tuple(replace(problem.pieces[n], grounds=None) for n in numbers)
    first = tuple(where[n] for n in numbers if n in where and where[n].ground == ground)
    own = replace(problem, pieces=pieces, grounds=(problem.grounds[ground],))
    return Lot(own, tuple(numbers), ground, first)


def searched(lot: Lot, time_limit: float, steps: int | None, seed: int) -> tuple[Spot, ...]:
    """Return where pieces of a lot lie best, numbered as in the whole problem; never worth less than before.

    Args:
        lot: the lot.
        time_limit: seconds.
        steps: of the search instead of a time, or None.
        seed: of the random choices.
    """
    found = solve(lot.problem, time_limit=time_limit, steps=steps, seed=seed)
    value = {n: piece.value for n, piece in zip(lot.pieces, lot.problem.pieces, strict=True)}
    if found.value < sum(value[spot.piece] for spot in lot.first):
        return lot.first
    return tuple(replace(spot, piece=lot.pieces[spot.piece], ground=lot.ground) for spot in found.spots)


def solve_lots(
    problem: Problem,
    first: Sequence[Spot],
    lots: Sequence[Lot],
    *,
    time_limit: float,
    steps: int | None,
    seed: int,
    progress: Callable[[Solution], None] | None = None,
    executor: Executor | None = None,
    at_once: int = 1,
) -> Solution:
    """Search every lot by itself, then lay what is over where there is room.

    Args:
        problem: the whole problem, its grounds in the order they are used up.
        first: a layout of it.
        lots: made of that layout.
        time_limit: seconds for all.
        steps: of each search instead of a time; then the result does not depend on the executor.
        seed: of the random choices.
        progress: called when a lot is done.
        executor: where lots are searched; None: here, one after another.
        at_once: how many lots the executor searches at once; it only shares the time out.
    """
    rounds = -(-len(lots) // max(1, at_once if executor is not None else 1))
    seconds = time_limit * (1 - _LAST) / rounds
    spots: list[Spot] = []
    stopped = False
    for found in _results(lots, seconds, steps, seed, executor):
        spots += found
        try:
            if progress is not None and not stopped:
                value = sum(problem.pieces[spot.piece].value for spot in spots)
                progress(Solution((), len(spots), value, _at_most(problem), len(spots)))
        except KeyboardInterrupt:
            stopped = True
    over = replace(problem, locked=tuple(spots))
    last = solve(over, time_limit=0.0 if stopped else time_limit * _LAST, steps=steps, seed=seed)
    value = sum(problem.pieces[spot.piece].value for spot in first)
    worse = last.value < value - 1e-6
    if worse or (last.value < value + 1e-6 and _begun(last.spots) > _begun(first)):
        return replace(last, spots=tuple(first), placed=len(first), value=value)
    return last


def _begun(spots: Sequence[Spot]) -> int:
    return len({spot.ground for spot in spots})


def _results(
    lots: Sequence[Lot], seconds: float, steps: int | None, seed: int, executor: Executor | None
) -> Iterator[tuple[Spot, ...]]:
    """Yield what each lot came to, in order; Ctrl-C leaves the others as they were."""
    stopped = False
    futures: list[Future[tuple[Spot, ...]]] = []
    if executor is not None:
        futures = [executor.submit(searched, lot, seconds, steps, seed) for lot in lots]
    for number, lot in enumerate(lots):
        found = lot.first
        try:
            if executor is not None:
                found = futures[number].result()
            elif not stopped:
                found = searched(lot, seconds, steps, seed)
        except KeyboardInterrupt:
            stopped = True
            for future in futures:
                future.cancel()
        except CancelledError:
            found = lot.first
        yield found


def _at_most(problem: Problem) -> float:
    return sum(piece.value for piece in problem.pieces)
