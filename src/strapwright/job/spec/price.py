"""What a job says of prices: rates, margin, waste, and the minutes each step takes at the bench."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import AfterValidator, Field

from strapwright.core.text import quoted
from strapwright.files.fields import Number, OneLine, mistake
from strapwright.files.messages import nearest
from strapwright.files.validate import Strict

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
