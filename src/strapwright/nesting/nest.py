"""Find a good layout: a sound one at once, then better ones for as long as there is time.

Each layout is made from an order of the parts by `fill`. The search keeps the best order, takes some
parts out of it, puts them back elsewhere, and keeps what comes out no worse.
"""

from __future__ import annotations

import random
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from strapwright.errors import NestError
from strapwright.geometry.transform import Placement
from strapwright.nesting.bound import thickness_agrees
from strapwright.nesting.fill import STEP, Choice, Filled, Lot, Rows, Spot, fill
from strapwright.nesting.layout import Clearance, Layout, Placed, Unplaced
from strapwright.nesting.notes import notes_on
from strapwright.nesting.orders import changed, first_orders
from strapwright.nesting.reasons import Reasons
from strapwright.nesting.rows import leather_of, turned_points
from strapwright.nesting.shape import Shape, shapes_of
from strapwright.nesting.verify import verify

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.geometry.contour import Contour
    from strapwright.nesting.hide import Hide
    from strapwright.parts.part import Part, PartKind

_PATIENCE = 150
"""Once everything is placed, stop after so many tries in a row that save no leather."""

_LATE = 12
"""A layout is taken up if it is no worse than the one taken up this many tries ago."""


@dataclass(frozen=True)
class NestProgress:
    """How far the search is.

    Args:
        elapsed: seconds since it began.
        placed: parts placed in the best layout so far.
        asked: parts asked for.
        steps: layouts tried.
    """

    elapsed: float
    placed: int
    asked: int
    steps: int


@dataclass(frozen=True)
class _Order:
    """The parts sorted into lots, and what is known of each lot."""

    lots: tuple[Lot, ...]
    members: tuple[tuple[int, ...], ...]
    rows: Rows


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
    The first hide is filled before the next is begun. Ctrl-C ends the search and keeps the best.

    Args:
        parts: what is to be cut; their order decides nothing but the order of the answer.
        hides: in the order they are to be used up.
        clearance: what is kept free; the defaults of `Clearance` if None.
        time_limit: seconds to search, not counting the first layout, which is always finished.
        steps: layouts to try instead of a time: the same number gives the same layout every time.
        seed: of the random choices.
        progress: called after every layout tried.

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
    order = _sort_into_lots(parts, hides, clearance)
    choices, filled, tried = _search(order, time_limit, steps, seed, began, progress)
    placed, unplaced = _laid_out(parts, hides, order, choices, filled)
    notes = notes_on(parts, hides)
    layout = Layout(tuple(hides), placed, unplaced, clearance, notes, seed, tried)
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


def _sort_into_lots(parts: Sequence[Part], hides: Sequence[Hide], clearance: Clearance) -> _Order:
    """Gather parts of one outline, kind and set of hides; work out shapes once for each outline."""
    grouped: dict[tuple[PartKind, Contour, tuple[int, ...]], list[int]] = {}
    for number, part in enumerate(parts):
        allowed = tuple(i for i, hide in enumerate(hides) if thickness_agrees(part, hide))
        grouped.setdefault((part.kind, part.outline, allowed), []).append(number)
    shapes: list[Shape] = []
    known: dict[tuple[PartKind, Contour], tuple[int, ...]] = {}
    lots: list[Lot] = []
    for (kind, outline, allowed), members in grouped.items():
        part = parts[members[0]]
        if (kind, outline) not in known:
            found = shapes_of(part, clearance.between)
            known[kind, outline] = tuple(range(len(shapes), len(shapes) + len(found)))
            shapes += found
        turns = known[kind, outline]
        first = shapes[turns[0]]
        lots.append(Lot(turns, part.outline.area, first.length, first.height, allowed))
    leathers = tuple(leather_of(hide, clearance.edge) for hide in hides)
    return _Order(tuple(lots), tuple(tuple(m) for m in grouped.values()), Rows(leathers, tuple(shapes)))


def _search(
    order: _Order,
    time_limit: float,
    steps: int | None,
    seed: int,
    began: float,
    progress: Callable[[NestProgress], None] | None,
) -> tuple[list[Choice], Filled, int]:
    """Return the best order found, the layout it makes, and how many were tried."""
    chance = random.Random(seed)  # noqa: S311 -- a search, not a secret; its numbers never change
    orders = first_orders(order.lots, order.members, order.rows)
    best_choices = now = orders[0]
    best = fill(order.rows, order.lots, best_choices)
    now_spots = best.spots
    late = [best.key] * _LATE
    tried, idle, spent = 1, 0, 0.0
    try:
        while True:
            if progress is not None:
                placed = sum(spot is not None for spot in best.spots)
                elapsed = time.monotonic() - began
                progress(NestProgress(elapsed, placed, len(best.spots), tried))
            if steps is not None and tried >= steps:
                break
            if steps is None and time.monotonic() - began + spent > time_limit:
                break
            if not best.key[0] and idle >= _PATIENCE:
                break
            first = tried < len(orders)
            choices = orders[tried] if first else changed(now, now_spots, order.lots, chance)
            started = time.monotonic()
            filled = fill(order.rows, order.lots, choices)
            spent = time.monotonic() - started
            place = tried % _LATE
            tried, idle = tried + 1, idle + 1
            if filled.key < best.key:
                best, best_choices, idle = filled, choices, 0
            if first:
                now, now_spots, late = best_choices, best.spots, [best.key] * _LATE
            elif filled.key <= late[place]:
                now, now_spots = choices, filled.spots
                late[place] = filled.key
    except KeyboardInterrupt:
        pass  # the maker has seen enough: what was found so far is whole and sound
    return best_choices, best, tried


def _laid_out(
    parts: Sequence[Part],
    hides: Sequence[Hide],
    order: _Order,
    choices: Sequence[Choice],
    filled: Filled,
) -> tuple[tuple[Placed, ...], tuple[Unplaced, ...]]:
    """Hand each lot's places to its parts, in the order the parts were asked for."""
    places: dict[int, list[Spot]] = {lot: [] for lot in range(len(order.lots))}
    for choice, spot in zip(choices, filled.spots, strict=True):
        if spot is not None:
            places[choice.lot].append(spot)
    where: dict[int, Spot] = {}
    for lot, members in enumerate(order.members):
        where.update(zip(members, places[lot], strict=False))
    why: dict[int, str] = {}
    reasons = Reasons(order.rows, hides, tuple(where.values()))
    for lot, members in enumerate(order.members):
        missing = [number for number in members if number not in where]
        if missing:
            reason = reasons.of(parts[missing[0]], order.lots[lot])
            why.update(dict.fromkeys(missing, reason))
    placed = tuple(
        Placed(part, hides[where[n].hide].name, _placement(where[n], hides, order.rows))
        for n, part in enumerate(parts)
        if n in where
    )
    return placed, tuple(Unplaced(part, why[n]) for n, part in enumerate(parts) if n in why)


def _placement(spot: Spot, hides: Sequence[Hide], rows: Rows) -> Placement:
    """Return the placement in the hide's own frame."""
    shape, direction = rows.shapes[spot.shape], hides[spot.hide].strap_direction
    height = rows.leathers[spot.hide].y0 + spot.row * STEP
    at = np.array([[spot.x + shape.origin[0], height + shape.origin[1]]])
    x, y = turned_points(at, direction)[0]
    return Placement(direction + shape.turn, float(x), float(y))
