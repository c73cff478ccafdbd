"""Find a good layout: a sound one at once, then better ones for as long as there is time."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.errors import NestError
from strapwright.nesting.asked import placement_of, problem_of
from strapwright.nesting.layout import Clearance, Layout, Placed, Unplaced
from strapwright.nesting.notes import notes_on
from strapwright.nesting.reasons import Reasons
from strapwright.nesting.solve import solve
from strapwright.nesting.verify import verify

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.hide import Hide
    from strapwright.nesting.problem import Problem
    from strapwright.nesting.solve import Solution
    from strapwright.parts.part import Part


@dataclass(frozen=True)
class NestProgress:
    """How far the search is.

    Args:
        elapsed: seconds since it began.
        placed: parts placed in the best layout so far.
        asked: parts asked for.
        steps: steps of the search.
        more: share by which any layout could place more, at most, as far as that is known.
    """

    elapsed: float
    placed: int
    asked: int
    steps: int
    more: float


def nest(
    parts: Sequence[Part],
    hides: Sequence[Hide],
    clearance: Clearance | None = None,
    *,
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[NestProgress], None] | None = None,
) -> Layout:
    """Lay parts out on hides.

    Straps lie along each hide's strap direction, either end first; keepers in quarter turns from it.
    The first hide is filled before the next is begun. Marks may lie under what is hidden of a part, loose
    leather under what carries no load. Ctrl-C ends the search and keeps the best.

    Args:
        parts: what is to be cut; their order decides nothing but the order of the answer.
        hides: in the order they are to be used up.
        clearance: what is kept free; the defaults of `Clearance` if None.
        time_limit: seconds to search, not counting the first layout, which is always finished.
        steps: steps of the search instead of a time: the same number gives the same layout every time.
        seed: of the random choices.
        progress: called after every step.

    Returns:
        The best layout found, checked by `verify`.

    Raises:
        NestError: nothing to nest, no hide, a name twice, or a part that crosses itself.

    Example:
        >>> import numpy as np
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.hide import Hide
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.trade.leather import Tannage
        >>> strip = Contour.from_points([(0, -20), (1100, -20), (1100, 20), (0, 20)])
        >>> strap = Part("ines/strap", "ines", PartKind.STRAP, strip, (), 3.6, Tannage.VEGETABLE)
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> nest([strap], [bend], steps=1).placed[0].placement
        Placement(turn=0.0, x=2.0, y=22.0)
    """
    began = time.monotonic()
    clearance = clearance or Clearance()
    _check(parts, hides, time_limit, steps)
    problem = problem_of(parts, hides, clearance)

    def tell(found: Solution) -> None:
        if progress is not None:
            more = max(0.0, found.bound / found.value - 1) if found.value else 0.0
            elapsed = time.monotonic() - began
            progress(NestProgress(elapsed, found.placed, len(parts), found.steps, more))

    found = solve(problem, time_limit=time_limit, steps=steps, seed=seed, progress=tell)
    placed, unplaced = _laid_out(parts, hides, problem, found)
    layout = Layout(
        tuple(hides),
        placed,
        unplaced,
        clearance,
        notes_on(parts, hides),
        seed,
        found.steps,
        found.bound,
    )
    verify(layout, [part.id for part in parts])
    return layout


def _check(parts: Sequence[Part], hides: Sequence[Hide], time_limit: float, steps: int | None) -> None:
    if not parts:
        raise NestError("there is nothing to nest: the order has no parts")
    if not hides:
        raise NestError("there is no hide to nest on; name at least one hide file")
    for what, names in (
        ("parts", [part.id for part in parts]),
        ("hides", [hide.name for hide in hides]),
    ):
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
    parts: Sequence[Part], hides: Sequence[Hide], problem: Problem, found: Solution
) -> tuple[tuple[Placed, ...], tuple[Unplaced, ...]]:
    """Return the parts where the spots put them, and the others with the reason, in the order asked for."""
    where = {spot.piece: spot for spot in found.spots}
    placed = tuple(
        Placed(part, hides[where[n].ground].name, placement_of(where[n], hides[where[n].ground]))
        for n, part in enumerate(parts)
        if n in where
    )
    reasons = Reasons(problem, hides, found.spots)
    why: dict[tuple[int, tuple[int, ...] | None], str] = {}
    unplaced = []
    for n, part in enumerate(parts):
        if n not in where:
            key = (problem.pieces[n].shape, problem.pieces[n].grounds)
            if key not in why:
                why[key] = reasons.of(part, n)
            unplaced.append(Unplaced(part, why[key]))
    return placed, tuple(unplaced)
