"""The workshop's settings and prices, as a job or ``house.toml`` holds them."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import AfterValidator, Field

from strapwright.core.text import quoted
from strapwright.core.units import Units
from strapwright.files.fields import Measure, Number, OneLine, mistake
from strapwright.files.messages import nearest
from strapwright.files.validate import Strict

LARGEST_ALLOWANCE: Final = 50.0
"""Largest girth allowance, mm either way: two hole spacings; beyond it the girth itself is wrong."""

LONGEST_STEP: Final = 40
"""Longest name of a step of one's own, in characters."""

USUAL_MINUTES: Final = {
    "mark_out": 6.0,  # one strap; none by machine
    "cut_out": 4.0,  # one piece; none by machine
    "hole": 0.5,  # one hole; none by machine
    "slot": 3.0,  # one prong slot; none by machine
    "crease": 2.0,  # a metre of edge; none by machine
    "skive": 6.0,  # one turn-back
    "edge": 6.0,  # bevelling, sanding and burnishing a metre of edge
    "finish": 10.0,  # dyeing and finishing one strap
    "keeper": 8.0,  # closing one keeper
    "fastener": 1.5,  # setting one post, rivet or snap
    "stitch": 0.5,  # sewing one stitch by hand
    "line": 15.0,  # gluing and trimming one lining
    "assemble": 5.0,  # folding one end round its buckle or ring
    "check": 5.0,  # trying, checking and packing one strap
}
"""How long each step takes at the bench, in minutes: house assumptions, to be timed by your own clock."""


def _own_steps(minutes: dict[str, float]) -> dict[str, float]:
    """Refuse a name that is nearly a known step's: it would count as another step of each strap."""
    for name in minutes.keys() - USUAL_MINUTES.keys():
        if not name.isprintable() or not 1 <= len(name.strip()) <= LONGEST_STEP:
            raise mistake(f"found the step {quoted(name)}, expected 1 to {LONGEST_STEP} printable characters")
        if near := nearest(name, list(USUAL_MINUTES)):
            raise mistake(f'found the step {quoted(name)}; did you mean "{near}"? Rename a step of your own')
    return minutes


class PriceTable(Strict):
    """What the shop calculates with; what is not given is shown as not known, never taken as nothing."""

    currency: Annotated[str, Field(max_length=8, examples=["EUR"]), OneLine] = ""
    """Sign or letters of your currency, for lists."""
    hourly_rate: Annotated[Number | None, Field(ge=0)] = None
    """An hour at the bench, in your currency."""
    machine_rate: Annotated[Number | None, Field(ge=0)] = None
    """An hour of the machine with whoever watches it, in your currency."""
    margin: Annotated[Number | None, Field(ge=0, le=10)] = None
    """What is put on the cost, as a share of it: 0.4 is 40 %."""
    waste: Annotated[Number, Field(ge=0, le=0.9)] = 0.3
    """Share of the leather bought that does not become parts, 0 to 0.9, default 0.3; a nested layout gives
    the true one."""
    sundries: Annotated[Number | None, Field(ge=0)] = None
    """Thread, dye, edge finish and wax for one belt or strap, in your currency."""
    minutes: Annotated[
        dict[str, Annotated[Number, Field(ge=0, le=600)]],
        AfterValidator(_own_steps),
        Field(examples=[{"hole": 0.5, "tooling": 20}]),
    ] = {}  # noqa: RUF012  # pydantic copies it
    """How long a step takes at the bench, 0 to 600 minutes each. Of one strap: mark_out 6, finish 10,
    check 5; of one piece: cut_out 4; of one: hole 0.5, slot 3, skive 6 (a turn-back), keeper 8, fastener 1.5,
    stitch 0.5, line 15 (a lining), assemble 5 (an end); of a metre of edge: edge 6, crease 2. Any other name
    is a step of your own, once a strap."""


class House(Strict):
    """Settings of the workshop that hold for every belt of the job."""

    strap_clearance: Annotated[float, Measure(least=0.0, most=8.0)] = 2.0
    """How much narrower the strap is made than a measured opening, 0 to 8 mm, default 2 mm: edges swell with
    finish and the strap must run freely."""
    neutral_axis: Annotated[float, Field(strict=True, ge=0.3, le=0.6)] = 0.5
    """K, where the unstretched layer lies at the fold, as a share of the thickness from the inside, 0.3 to
    0.6, default 0.5."""
    fold_play: Annotated[float, Measure(least=0.0, most=3.0)] = 0.25
    """Air between bar and fold, 0 to 3 mm, default 0.25 mm; the fold is never wrapped dead tight."""
    keeper_ease_width: Annotated[float, Measure(least=0.0, most=10.0)] = 1.0
    """How much wider a keeper is inside than the strap, 0 to 10 mm, default 1 mm."""
    keeper_ease_height: Annotated[float, Measure(least=0.0, most=10.0)] = 1.5
    """How much higher a keeper is inside than the layers it holds, 0 to 10 mm, default 1.5 mm."""
    girth_allowance: Annotated[float, Measure(least=-LARGEST_ALLOWANCE, most=LARGEST_ALLOWANCE)] = 0.0
    """How much longer a belt is made than its girth asks, -50 to 50 mm, default 0 mm: what finished belts are
    found short by, whatever their buckle. The girths a belt is said to fit are less by as much."""

    strain_caution: Annotated[float, Field(strict=True, ge=0.1, le=0.7)] = 0.4
    """Stretch of the grain in the fold, as a share, above which the draft warns, 0.1 to 0.7, default 0.4; a
    published requirement for vegetable leather allows 0.5."""
    longest_tail: Annotated[float, Measure(least=60.0, most=600.0)] = 280.0
    """Free end past the bar at the tightest hole above which the draft warns, 60 to 600 mm, default 280 mm: a
    longer end runs into the next trouser loop."""


class HouseFile(Strict):
    """What holds for every job of a shop: ``house.toml``, in the folder that is the shop."""

    units: Units = "mm"
    """Units that figures are shown in, mm (default) or in; a length without a unit typed into the page is of
    this one."""
    house: House = House()
    """The workshop's settings."""
    price: PriceTable = PriceTable()
    """What the shop calculates with, for the bill."""
