"""What a job says of prices: rates, margin, waste, and the minutes each step takes at the bench."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from strapwright.files.fields import Number, OneLine
from strapwright.files.validate import Strict

_Minutes = Annotated[Number, Field(ge=0, le=600)]


class Minutes(Strict):
    """How long each step takes at the bench, in minutes: house assumptions, to be timed by your own clock."""

    mark_out: _Minutes = 6.0
    """Marking out one strap, default 6; none by machine."""
    cut_out: _Minutes = 4.0
    """Cutting out one piece, default 4; none by machine."""
    hole: _Minutes = 0.5
    """Punching one hole, default 0.5; none by machine."""
    slot: _Minutes = 3.0
    """Making one prong slot, default 3; none by machine."""
    crease: _Minutes = 2.0
    """Creasing a metre of edge, default 2; none by machine."""
    skive: _Minutes = 6.0
    """Skiving one turn-back, default 6."""
    edge: _Minutes = 6.0
    """Bevelling, sanding and burnishing a metre of edge, default 6."""
    finish: _Minutes = 10.0
    """Dyeing and finishing one strap, default 10."""
    keeper: _Minutes = 8.0
    """Closing one keeper, default 8."""
    fastener: _Minutes = 1.5
    """Setting one post, rivet or snap, default 1.5."""
    stitch: _Minutes = 0.5
    """Sewing one stitch by hand, default 0.5."""
    line: _Minutes = 15.0
    """Gluing and trimming one lining, default 15."""
    assemble: _Minutes = 5.0
    """Folding one end round its buckle or ring, default 5."""
    check: _Minutes = 5.0
    """Trying, checking and packing one strap, default 5."""


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
    minutes: Minutes = Minutes()
    """How long each step takes at the bench."""
