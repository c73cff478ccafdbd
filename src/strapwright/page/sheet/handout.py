"""A belt of a job given away as one document, as it is asked for on the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PaperError, StrapwrightError
from strapwright.files.bounded import in_bounds
from strapwright.page.forms.field import units_of
from strapwright.page.sheet.page_words import finding_words
from strapwright.page.sheet.papers import card_paper, mistake_by_field
from strapwright.page.sheet.permission import check_programs

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import QueryParams

    from strapwright.api.handouts import Handout
    from strapwright.core.units import Units
    from strapwright.write.card.blocks import Paper

_SECONDS: Final = 180.0
"""Longest that a handout may take, s: showing a belt in the round takes some seconds."""


@dataclass(frozen=True)
class HandoutAsked:
    """A handout as it is asked for.

    Args:
        job: the job's file.
        belt: its short name, or that of all its sizes.
        sizes: a run of sizes, such as ``"30-46/2"``; empty for the job's own.
        paper: it is printed on.
        units: of the lengths shown.
        font: a TrueType font of one's own; None takes the usual one.
    """

    job: Path
    belt: str = ""
    sizes: str = ""
    paper: Paper = "a4"
    units: Units = "mm"
    font: Path | None = None


def handout_asked(job: Path, asked: QueryParams, font: Path | None) -> HandoutAsked:
    """Return a handout as its form asks for it.

    Args:
        job: the job's file.
        asked: the form.
        font: the one chosen; None takes the usual one.
    """
    belt, sizes = asked.get("belt", ""), asked.get("sizes", "").strip()
    return HandoutAsked(job, belt, sizes, card_paper(asked), units_of(asked), font)


def handout_seen(asked: HandoutAsked) -> tuple[dict[str, Any], dict[str, str]]:
    """Return what a handout will hold, or what is wrong with it by the form's fields.

    Args:
        asked: the handout.

    Returns:
        Its sizes, sheets and findings, none where something is wrong; and the mistakes, those of no field
        under ``""``.
    """
    try:
        made = _made(asked, in_the_round=False)
    except StrapwrightError as error:
        return {}, mistake_by_field(error)
    belts = made.draft.belts
    return {
        "sizes": [belt.run_size for belt in belts] if len(belts) > 1 else [],
        "sheets": len(made.pattern.sheets),
        "findings": finding_words(made.findings, asked.units),
    }, {}


def handout_pdf(asked: HandoutAsked) -> bytes:
    """Return a handout, made in a process of its own: what shows a belt in the round is large.

    Raises:
        StrapwrightError: it cannot be made, or takes too long.
    """
    try:
        return in_bounds(_pdf, asked, seconds=_SECONDS)
    except TimeoutError:
        raise PaperError(f"the handout took longer than {_SECONDS:.0f} s, and was given up") from None
    except MemoryError:
        raise PaperError("the handout ended before it was done; try again") from None


def _pdf(asked: HandoutAsked) -> bytes:
    return _made(asked, in_the_round=True).pdf


def _made(asked: HandoutAsked, *, in_the_round: bool) -> Handout:
    from strapwright import api

    return api.handout(
        check_programs(api.read_job(asked.job)),
        asked.belt,
        sizes=asked.sizes,
        paper=asked.paper,
        units=asked.units,
        font=asked.font,
        in_the_round=in_the_round,
    )
