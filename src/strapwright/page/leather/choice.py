"""Which hides a job is laid on: those that fit its leather, in the order they are used up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import StrapwrightError
from strapwright.core.units import format_length
from strapwright.nesting.hide.thickness import agrees, tanned_as
from strapwright.page.sheet.job_view import hides_of_layout
from strapwright.page.sheet.permission import check_programs
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.page.leather.stock import HideRow, StockList
    from strapwright.page.sheet.shop import Shop

AT_ONCE: Final = 0.2
"""Seconds that hides are worked out for before a job's sheet is shown."""

Leather = tuple[float, Tannage]
"""A thickness, mm, and a tannage."""


@dataclass(frozen=True)
class Choice:
    """The hides a job is to be laid on.

    Args:
        chosen: in the order they are used up.
        fitting: files of those in stock that any of its parts could lie on.
        stock: how many good hides there are.
        left: how many files are not worked out yet.
        words: the leather its parts take against that of the hides.
    """

    chosen: tuple[HideRow, ...]
    fitting: frozenset[str]
    stock: int
    left: int
    words: str


def choice_of(stock: StockList, shop: Shop, name: str) -> Choice:
    """Return the hides of a job's layout; where there is none, the first in stock that fits its leather.

    Args:
        stock: the shop's.
        shop: the shop.
        name: the job's.
    """
    wanted = hides_of_layout(shop.job(name).parent)
    found = stock.rows_within(AT_ONCE)
    if found.left and not {row.name for row in found.rows}.issuperset(wanted):
        found = stock.rows_within(math.inf)
    good = [row for row in found.rows if not row.wrong]
    needed = needed_leather(shop.job(name))
    fitting = frozenset(row.file for row in good if fits(row, needed))
    by_name = {row.name: row for row in reversed(good)}
    chosen = [by_name[one] for one in wanted if one in by_name]
    if not chosen:
        suited = [row for row in good if row.file in fitting]
        chosen = sorted(suited or good, key=lambda row: row.thicknesses == (None,))[:1]  # measured ones first
    return Choice(tuple(chosen), fitting, len(good), found.left, in_words(needed, chosen, shop.units))


def needed_leather(job: Path) -> dict[Leather, float] | None:
    """Return the area of a job's parts, mm², by their leather; None where the job is not ready."""
    from strapwright import api

    try:
        parts = api.draft(check_programs(api.read_job(job))).parts
    except StrapwrightError:
        return None
    needed: dict[Leather, float] = {}
    for part in parts:
        key = (part.thickness, part.tannage)
        needed[key] = needed.get(key, 0.0) + part.outline.area
    return needed


def fits(row: HideRow, needed: dict[Leather, float] | None) -> bool:
    """Whether any part of a job could lie on a hide, by thickness and tannage."""
    tannage = Tannage(row.tannage) if row.tannage else None
    return needed is None or any(
        tanned_as(tannage, wanted) and any(agrees(thick, thickness) for thick in row.thicknesses)
        for thickness, wanted in needed
    )


def in_words(needed: dict[Leather, float] | None, chosen: Sequence[HideRow], units: Units) -> str:
    """Return the leather that the parts of a job take, against that of some hides, in a line."""
    usable = sum(row.usable for row in chosen)
    many = f"{len(chosen)} hide{'s' if len(chosen) != 1 else ''}"
    have = f"{many} chosen, {_area(usable, units)} usable" if chosen else "no hide chosen"
    if needed is None:
        return f"{have[:1].upper()}{have[1:]}. What the parts take is known once every belt is ready."
    takes = " and ".join(
        f"{_area(area, units)} of {format_length(thickness, units)} {tannage}"
        for (thickness, tannage), area in sorted(needed.items())
    )
    short = "; that is less than the parts alone take" if usable < sum(needed.values()) else ""
    return f"The parts alone take {takes or 'no leather'}; {have}{short}."


def _area(mm2: float, units: Units) -> str:
    from strapwright.drawing.layout.hide_thumbnails import area_text

    return area_text(mm2, units == "in")
