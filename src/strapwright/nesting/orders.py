"""Orders of parts for `fill`: a few sensible ones to begin with, and changed ones to search among."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from typing import TYPE_CHECKING

from strapwright.nesting.fill import Choice

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

    from strapwright.nesting.fill import Lot, Rows, Spot

_SHARES = (1.0, 0.97, 0.92, 0.85, 0.75)
"""Rows are made up for a hide of full length and for what its ends and flaws may leave of it."""

_SAME_WIDTH = 0.5
"""Parts whose widths differ by less than this share rows as if of one width, mm."""


def first_orders(lots: Sequence[Lot], members: Sequence[Sequence[int]], rows: Rows) -> list[list[Choice]]:
    """Return a few sensible orders, the likeliest first.

    Args:
        lots: kinds of part.
        members: the parts of each lot.
        rows: what is known of the hides.
    """
    every = [lot for lot, group in enumerate(members) for _ in group]
    by_length = sorted(every, key=lambda lot: -lots[lot].length)
    by_area = sorted(every, key=lambda lot: -lots[lot].area)
    by_width = sorted(every, key=lambda lot: (-lots[lot].height, -lots[lot].length))
    reach = max((leather.x1 - leather.x0 for leather in rows.leathers), default=0.0)
    in_rows = [row_by_row(lots, by_width, reach * share) for share in _SHARES]
    out: list[list[Choice]] = []
    for side in (2, 0, 1):
        for ranked in (in_rows[0], by_length, *in_rows[1:], by_area, by_width):
            out.append([Choice(lot, side) for lot in ranked])  # noqa: PERF401 -- reads better
    out += [
        [Choice(lot, 2, number % 2) for number, lot in enumerate(ranked)]
        for ranked in (in_rows[0], by_length)
    ]
    return out


def row_by_row(lots: Sequence[Lot], parts: Sequence[int], reach: float) -> list[int]:
    """Return an order in which parts that together nearly fill a row follow one another.

    Widest parts first; among parts of one width the best filled row first.

    Args:
        lots: kinds of part.
        parts: the lot of each part.
        reach: length of a row, mm.

    Example:
        >>> from strapwright.nesting.fill import Lot
        >>> lots = [Lot((0,), 1.0, length, 40.0, (0,)) for length in (1200.0, 1100.0, 900.0)]
        >>> row_by_row(lots, [0, 1, 2], 2000.0)
        [1, 2, 0]
    """
    groups: list[list[int]] = []
    for lot in sorted(parts, key=lambda n: -lots[n].height):
        if not groups or lots[groups[-1][0]].height - lots[lot].height > _SAME_WIDTH:
            groups.append([])
        groups[-1].append(lot)
    out: list[int] = []
    for group in groups:
        left = sorted(group, key=lambda n: lots[n].length)
        while left:
            candidates = [_row(lots, left, at, reach) for at in _one_each(left)]
            row = max(candidates, key=lambda row: sum(lots[left[at]].length for at in row))
            out += [left[at] for at in sorted(row, reverse=True)]
            for at in sorted(row, reverse=True):
                del left[at]
    return out


def _one_each(left: Sequence[int]) -> list[int]:
    """Return one place of each lot, at most sixty of them, spread evenly."""
    places = [at for at, lot in enumerate(left) if at == 0 or left[at - 1] != lot]
    return places[:: max(1, len(places) // 60)]


def _row(lots: Sequence[Lot], left: Sequence[int], first: int, reach: float) -> list[int]:
    """Return places of parts that lie in one row with a first one, longest that still fits next."""
    lengths = [lots[lot].length for lot in left]
    row, room = [first], reach - lengths[first]
    while True:
        at = bisect_right(lengths, room) - 1
        while at in row:
            at -= 1
        if at < 0:
            return row
        row.append(at)
        room -= lengths[at]


def changed(
    choices: Sequence[Choice],
    spots: Sequence[Spot | None],
    lots: Sequence[Lot],
    chance: random.Random,
) -> list[Choice]:
    """Return another order: some parts moved, exchanged or laid another way.

    Args:
        choices: the order to change.
        spots: what became of each choice; parts left over are put where placed ones stood.
        lots: kinds of part.
        chance: makes the choices.
    """
    out = list(choices)
    down = [at for at, spot in enumerate(spots) if spot is not None]
    over = [at for at, spot in enumerate(spots) if spot is None]
    for _ in range(1 + int(chance.expovariate(0.6))):
        at = chance.choice(down) if down else chance.randrange(len(out))
        kind = chance.random()
        if over and kind < 0.35:
            other = chance.choice(over)
            out[at], out[other] = out[other], out[at]
        elif kind < 0.6:
            taken = out.pop(at)
            out.insert(chance.choice(down) if down else 0, taken)
        elif kind < 0.8:
            other = chance.choice(down) if down else 0
            out[at], out[other] = out[other], out[at]
        elif kind < 0.9:
            out[at] = replace(out[at], side=chance.randrange(3))
        else:
            turns = len(lots[out[at].lot].turns)
            out[at] = replace(out[at], first_turn=chance.randrange(turns))
    return out
