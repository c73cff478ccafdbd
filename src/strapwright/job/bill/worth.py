"""What each part of a draft is worth, where not everything fits: by price, or by the day it is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from strapwright.core.errors import NestError

if TYPE_CHECKING:
    from datetime import date

    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job

By = Literal["price", "due"]
"""What a part's worth goes by."""

MOST_DAYS = 12
"""So many different days count apart; later ones count as the last of them."""


def worths(job: Job, drafted: Draft, by: By) -> dict[str, float]:
    """Return what each part is worth, by its id.

    By price, a belt's price is divided among its pieces by their areas. By the day it is due, a square
    millimetre that is due on one day counts twice what it counts on the next later day of the job; what has
    no day counts as due after all others.

    Args:
        job: the job.
        drafted: its draft, or a part of it.
        by: ``"price"`` or ``"due"``.

    Raises:
        NestError: no belt has a price, or some have none; or no belt is due on any day.
    """
    asked = {one.id: one for one in job.items}
    concerned = [asked[id_] for id_ in dict.fromkeys(part.belt_id for part in drafted.parts)]
    if by == "due":
        days = {one.id: one.due for one in concerned}
        if all(day is None for day in days.values()):
            raise NestError(
                "no belt says when it is due; write it, such as due = 2026-03-14, or choose another aim"
            )
        weight = _weights(days)
        return {part.id: part.outline.area * weight[part.belt_id] for part in drafted.parts}
    without = [one.id for one in concerned if one.price is None]
    if without:
        more = f" and {len(without) - 1} more" if len(without) > 1 else ""
        raise NestError(
            f'"{without[0]}"{more}: no price; to lay what is worth most, give every belt and strap its price'
        )
    areas: dict[str, float] = {}
    for part in drafted.parts:
        areas[part.belt_id] = areas.get(part.belt_id, 0.0) + part.outline.area
    total = {one.id: (one.price or 0.0) * one.quantity for one in concerned}
    if not any(total.values()):
        raise NestError("every price is 0; give at least one belt a price above 0, or choose another aim")
    return {part.id: total[part.belt_id] * part.outline.area / areas[part.belt_id] for part in drafted.parts}


def _weights(days: dict[str, date | None]) -> dict[str, float]:
    """Return how much a part's area counts for, by the id of its belt: twice as much for each day earlier.

    Example:
        >>> from datetime import date
        >>> _weights({"a": date(2026, 3, 1), "b": date(2026, 4, 1), "c": None})
        {'a': 4.0, 'b': 2.0, 'c': 1.0}
    """
    known = sorted({day for day in days.values() if day is not None})
    rank = {day: min(number, MOST_DAYS) for number, day in enumerate(known)}
    last = min(len(known), MOST_DAYS)
    return {id_: 2.0 ** (last - (last if day is None else rank[day])) for id_, day in days.items()}
