"""What a job says of prices: rates, margin, waste, and the minutes each step takes at the bench."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from strapwright.files.fields import Number, OneLine
from strapwright.files.validate import Strict

_Minutes = Annotated[Number, Field(ge=0, le=600)]


class Minutes(Strict):
    """How long each step takes at the bench, in minutes: house assumptions, to be timed by your own clock."""

    mark_out: Annotated[_Minutes, Field(description="Marking out one strap, default 6; none by machine.")] = (
        6.0
    )
    cut_out: Annotated[_Minutes, Field(description="Cutting out one piece, default 4; none by machine.")] = (
        4.0
    )
    hole: Annotated[_Minutes, Field(description="Punching one hole, default 0.5; none by machine.")] = 0.5
    slot: Annotated[_Minutes, Field(description="Making one prong slot, default 3; none by machine.")] = 3.0
    crease: Annotated[
        _Minutes, Field(description="Creasing a metre of edge, default 2; none by machine.")
    ] = 2.0
    skive: Annotated[_Minutes, Field(description="Skiving one turn-back, default 6.")] = 6.0
    edge: Annotated[
        _Minutes, Field(description="Bevelling, sanding and burnishing a metre of edge, default 6.")
    ] = 6.0
    finish: Annotated[_Minutes, Field(description="Dyeing and finishing one strap, default 10.")] = 10.0
    keeper: Annotated[_Minutes, Field(description="Closing one keeper, default 8.")] = 8.0
    fastener: Annotated[_Minutes, Field(description="Setting one post, rivet or snap, default 1.5.")] = 1.5
    stitch: Annotated[_Minutes, Field(description="Sewing one stitch by hand, default 0.5.")] = 0.5
    line: Annotated[_Minutes, Field(description="Gluing and trimming one lining, default 15.")] = 15.0
    assemble: Annotated[
        _Minutes, Field(description="Folding one end round its buckle or ring, default 5.")
    ] = 5.0
    check: Annotated[_Minutes, Field(description="Trying, checking and packing one strap, default 5.")] = 5.0


class PriceTable(Strict):
    """What the shop calculates with; what is not given is shown as not known, never taken as nothing."""

    currency: Annotated[
        str,
        Field(max_length=8, description="Sign or letters of your currency, for lists.", examples=["EUR"]),
        OneLine,
    ] = ""
    hourly_rate: Annotated[
        Number | None, Field(ge=0, description="An hour at the bench, in your currency.")
    ] = None
    machine_rate: Annotated[
        Number | None,
        Field(ge=0, description="An hour of the machine with whoever watches it, in your currency."),
    ] = None
    margin: Annotated[
        Number | None,
        Field(ge=0, le=10, description="What is put on the cost, as a share of it: 0.4 is 40 %."),
    ] = None
    waste: Annotated[
        Number,
        Field(
            ge=0,
            le=0.9,
            description="Share of the leather bought that does not become parts, 0 to 0.9, default 0.3; a "
            "nested layout gives the true one.",
        ),
    ] = 0.3
    sundries: Annotated[
        Number | None,
        Field(ge=0, description="Thread, dye, edge finish and wax for one belt or strap, in your currency."),
    ] = None
    minutes: Annotated[Minutes, Field(description="How long each step takes at the bench.")] = Minutes()
