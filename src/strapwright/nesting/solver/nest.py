"""Nest parts on hides: a sound layout at once, then better ones for as long as there is time."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import NestError
from strapwright.nesting.bound.area import area_bounds
from strapwright.nesting.cancellation import broken_off, deferring_ctrl_c
from strapwright.nesting.hide.backbone import starts_both_ways
from strapwright.nesting.hide.repair import thinned
from strapwright.nesting.layout.flesh_side import as_they_lie, grain_up
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart, UnplacedPart, Worth
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.problem import build_problem, placement_of, with_finer_outlines
from strapwright.nesting.solver.backbone_halves import LAYINGS, SHARE as FOR_BACK, lay_from_backbone
from strapwright.nesting.solver.findings import broken_off_finding, nest_findings
from strapwright.nesting.solver.hide_assignment import assign_to_hides, solve_shares
from strapwright.nesting.solver.objective import AIMS, choose_hide_order, in_ground_order, with_values
from strapwright.nesting.solver.pull_together import pull_together
from strapwright.nesting.solver.solve import Solution, solve
from strapwright.nesting.solver.strap_direction import SHARE, best_strap_directions
from strapwright.nesting.solver.unplaced_reasons import UnplacedReasons
from strapwright.nesting.solver.warm_up import compile_search

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from concurrent.futures import Executor

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.problem import PiecePlacement, Problem
    from strapwright.nesting.solver.objective import Aim
    from strapwright.parts.part import Part


_FOR_ORDER = 0.75
"""No more orders of the hides are tried once less than this share of the time is left."""


SEARCHING: Final = "no place was found for it yet"
"""Why a part is not in a layout while the search goes on."""


@dataclass(frozen=True)
class NestProgress:
    """How far the search is.

    Args:
        elapsed: seconds since it began.
        placed: parts placed in the best layout so far.
        asked: parts asked for.
        steps: steps of the search.
        more: share by which any layout could place more, at most, as far as that is known.
        layout: gives the best layout so far, its straps not yet drawn together to share edges; it takes
            milliseconds and is good only until whoever looks on returns. None where it is not known.
    """

    elapsed: float
    placed: int
    asked: int
    steps: int
    more: float
    layout: Callable[[], Layout] | None = None


def nest(
    parts: Sequence[Part],
    hides: Sequence[Hide],
    clearance: Clearance | None = None,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[NestProgress], None] | None = None,
    stage: Callable[[str], None] | None = None,
    ending: Callable[[str], None] | None = None,
    aim: Aim = "fewest",
    worths: Mapping[str, float] | None = None,
    executor: Executor | None = None,
    at_once: int = 2,
) -> Layout:
    """Lay parts out on hides.

    Straps lie along each hide's strap direction, either end first; keepers in quarter turns from it. Where a
    hide's tolerance allows, all its parts are turned together off that direction if more finds room so.
    The hides are used up in the order given unless another takes fewer of them, or less leather, whichever
    is aimed at. Marks may lie under what is hidden of a part, loose leather under what carries no load. On a
    hide that lies flesh side up, parts are mirrored. Where the back runs through a hide, straps start from it
    both ways where that costs neither a part nor leather. Ctrl-C ends the search and keeps the best.

    Args:
        parts: what is to be cut; their order decides nothing but the order of the answer.
        hides: in the order they are to be used up, as far as the aim leaves that open.
        clearance: what is kept free; the defaults of `Clearance` if None.
        time_limit: seconds to search, not counting the first layout, which is always finished, nor the scan
            of a hide's rows, nor the half minute in which the search is compiled once on a machine.
        steps: steps of the search instead of a time: the same number gives the same layout every time.
        seed: of the random choices.
        progress: called after every step.
        stage: called with what is done before the search, in words, where that takes long.
        ending: called likewise with what is done after it.
        aim: ``"fewest"``: everything on the fewest hides; ``"least"``: everything on as little leather as may
            be, other hides left whole; ``"value"``: as much worth as fits, the hides in the order given.
        worths: what each part is worth, by its id; its area if None.
        executor: where hides are searched side by side once four or more are begun: processes, or a
            cluster. The same number of steps gives the same layout with any, and with none.
        at_once: how many hides the executor searches at once; it only shares the time out.

    Returns:
        The best layout found, checked by `verify`.

    Raises:
        NestError: nothing to nest, no hide, a name twice, or a part that crosses itself.

    Example:
        >>> import numpy as np
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.hide.types import Hide
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.rules.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> strap = Part("ines/strap", "ines", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> nest([strap], [bend], steps=1).placed[0].placement
        Placement(turn=0.0, x=2.0, y=22.0)
    """
    clearance = clearance or Clearance()
    _check(parts, hides, time_limit, steps)
    if aim not in AIMS:
        raise NestError(f'aim: found "{aim}", expected {", ".join(AIMS)}')
    as_lying, hides = hides, [grain_up(hide) for hide in hides]

    def problem_on(grounds: Sequence[Hide]) -> Problem:
        problem = build_problem(parts, grounds, clearance)
        return problem if worths is None else with_values(problem, worths)

    searched = [thinned(hide) for hide in hides]
    problem = problem_on(searched)
    compile_search(problem.pieces, stage)
    began = time.monotonic()

    stopped = False

    def ended() -> bool:
        return stopped or broken_off()

    lying: Sequence[Hide] = searched
    order: tuple[int, ...] = tuple(range(len(hides)))
    first: tuple[PiecePlacement, ...] = ()

    def so_far(found: Solution) -> Layout:
        """Return the best layout while the search goes on: what it has, or the first one."""
        lies = max(
            (found.so_far() if found.so_far else found.placements, first),
            key=lambda some: sum(problem.pieces[one.piece].value for one in some),
        )
        where = {one.piece: replace(one, ground=order[one.ground]) for one in lies}
        unplaced = tuple(UnplacedPart(part, SEARCHING) for n, part in enumerate(parts) if n not in where)
        bound = found.bound if worths is None else None
        placed = _placed(parts, lying, where)
        layout = Layout(tuple(hides), placed, unplaced, clearance, (), seed, found.steps, bound)
        return as_they_lie(layout, as_lying)

    def report(found: Solution) -> None:
        nonlocal stopped
        if progress is not None:
            more = max(0.0, found.bound / found.value - 1) if found.value else 0.0
            elapsed = time.monotonic() - began
            layout = partial(so_far, found)
            try:
                progress(NestProgress(elapsed, found.placed, len(parts), found.steps, more, layout))
            except KeyboardInterrupt:  # whoever looks on may break it off as well
                stopped = True
                raise

    say = ending or (lambda _: None)
    double = sum(starts_both_ways(hide) for hide in hides)
    whole = time_limit * (1 - FOR_BACK) if double else time_limit

    def on_half(share: Sequence[Part], half: Hide) -> Sequence[PiecePlacement]:
        """Lay parts on half a hide."""
        if ended() or (steps is None and time.monotonic() - began > time_limit):
            return ()
        one, each = build_problem(share, [half], clearance), time_limit * FOR_BACK / (double * LAYINGS)
        found = solve(one, time_limit=each, steps=steps, seed=seed, prove=False)
        if one.shared is not None:
            fine = with_finer_outlines(one, share)
            found = pull_together(one, fine, found, time_limit=each, steps=steps, seed=seed, prove=False)
        return found.placements

    with deferring_ctrl_c():

        def left() -> float:
            return 0.0 if ended() else max(0.0, whole - (time.monotonic() - began))

        turned = any(hide.tolerance for hide in hides)
        if turned:
            lying = best_strap_directions(
                searched,
                lambda hide: problem_on([hide]),
                time_limit=whole * SHARE,
                steps=steps,
                seed=seed,
                going=lambda: not ended() and (steps is not None or left() > whole * (1 - SHARE)),
            )
            problem = problem_on(lying)
        begins, starts = left() * _FOR_ORDER, time.monotonic()

        def made() -> None:
            nonlocal whole
            whole += time.monotonic() - starts

        def going() -> bool:
            return not ended() and (steps is not None or left() > begins)

        order, first = choose_hide_order(aim, problem, seed=seed, going=going, made=made)
        own = in_ground_order(problem, order)
        shares = assign_to_hides(own)
        if ended() and first:
            found = _only(own, first)
        elif shares:
            found = solve_shares(
                own,
                first,
                shares,
                time_limit=left(),
                steps=steps,
                seed=seed,
                progress=report,
                executor=executor,
                at_once=at_once,
                prove=not turned,
            )
        else:
            found = solve(
                own,
                time_limit=left(),
                steps=steps,
                seed=seed,
                progress=report,
                prove=not turned,
                ending=say,
            )
            if ended() and first:
                found = max(found, _only(own, first), key=lambda one: one.value)
        if own.shared is not None:
            say("drawing straps together, so that one cut makes two edges")
            fine = with_finer_outlines(own, parts)
            found = pull_together(
                own, fine, found, time_limit=left(), steps=steps, seed=seed, prove=not turned
            )
        placements = tuple(replace(one, ground=order[one.ground]) for one in found.placements)
        placed, unplaced = _laid_out(parts, lying, problem, placements)
        bound = found.bound if worths is None else None
        worth = None if worths is None else _worth(parts, worths, placed, found)
        layout = Layout(tuple(hides), placed, unplaced, clearance, (), seed, found.steps, bound, worth=worth)
        if double and not ended():
            say("laying straps from the backbone both ways")
            layout = lay_from_backbone(layout, lying, on_half)
        layout = as_they_lie(layout, as_lying)
        noticed = [replace(hide, findings=s.findings) for hide, s in zip(as_lying, searched, strict=True)]
        notes = nest_findings(parts, noticed, layout.placed, unplaced)
        if ended():
            spent, allowed = time.monotonic() - began, None if steps else time_limit
            notes = (*notes, broken_off_finding(spent, allowed, len(placed), len(parts)))
        layout = replace(layout, findings=notes)
        say("checking every part against the edge, the flaws and the others")
        verify(layout, [part.id for part in parts])
        return layout


def _only(problem: Problem, placements: tuple[PiecePlacement, ...]) -> Solution:
    """Return a first layout as all that was found."""
    value = sum(problem.pieces[placement.piece].value for placement in placements)
    bound = min(sum(piece.value for piece in problem.pieces), sum(area_bounds(problem)))
    return Solution(placements, len(placements), value, max(value, bound), 1)


def _worth(
    parts: Sequence[Part], worths: Mapping[str, float], placed: Sequence[PlacedPart], found: Solution
) -> Worth:
    """Return the worth of what lies in the unit it was given in."""
    lies = math.fsum(worths[one.part.id] for one in placed)
    asked = math.fsum(worths[part.id] for part in parts)
    return Worth(lies, asked, max(lies, min(asked, lies * found.bound / found.value if lies else asked)))


def _check(parts: Sequence[Part], hides: Sequence[Hide], time_limit: float, steps: int | None) -> None:
    if not parts:
        raise NestError("there is nothing to nest: the order has no parts")
    if not hides:
        raise NestError("there is no hide to nest on; name at least one hide file")
    for what, names in (("parts", [part.id for part in parts]), ("hides", [hide.name for hide in hides])):
        seen: set[str] = set()
        for name in names:
            if name in seen:
                raise NestError(f"two {what} are named {name}; give each a name of its own")
            seen.add(name)
    if not time_limit >= 0:
        raise NestError(f"time limit: found {time_limit:g} s, expected 0 s or more")
    if steps is not None and steps < 1:
        raise NestError(f"steps: found {steps}, expected 1 or more")


def _laid_out(
    parts: Sequence[Part], hides: Sequence[Hide], problem: Problem, placements: Sequence[PiecePlacement]
) -> tuple[tuple[PlacedPart, ...], tuple[UnplacedPart, ...]]:
    """Return the parts where the placements put them, and the others with the reason, as asked for."""
    where = {placement.piece: placement for placement in placements}
    reasons = UnplacedReasons(problem, hides, placements)
    why: dict[tuple[int, tuple[int, ...] | None], str] = {}
    unplaced = []
    for n, part in enumerate(parts):
        if n in where:
            continue
        key = (problem.pieces[n].shape, problem.pieces[n].grounds)
        if key not in why:
            why[key] = reasons.of(part, n)
        unplaced.append(UnplacedPart(part, why[key]))
    return _placed(parts, hides, where), tuple(unplaced)


def _placed(
    parts: Sequence[Part], hides: Sequence[Hide], where: Mapping[int, PiecePlacement]
) -> tuple[PlacedPart, ...]:
    return tuple(
        PlacedPart(part, hide.name, placement_of(where[n], hide))
        for n, part in enumerate(parts)
        if n in where
        for hide in [hides[where[n].ground]]
    )
