"""A job on paper as asked for on the page: pattern, drawing, strap cutter's list, card, bill, handout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, PaperError, PartError, PlanError, StrapwrightError
from strapwright.core.units import format_length, lengths_in
from strapwright.files.bounded import in_bounds
from strapwright.page.forms.field import units_of
from strapwright.page.forms.page_words import finding_words, in_page_words
from strapwright.page.sheet.cut_form import fumes_refused
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from starlette.datastructures import QueryParams

    from strapwright.api import BenchCard
    from strapwright.api.handouts import Handout
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.nesting.layout.types import Layout
    from strapwright.write.card.blocks import Paper, Paper as CardPaper
    from strapwright.write.pattern.pattern import Pattern

_SECONDS: Final = 180.0
"""Longest that a handout may take, s: showing a belt in the round takes some seconds."""

SHOWN: Final = 12
"""So many sheets of a pattern are shown on the page; the file has them all."""

_KEYS: Final = ("paper", "correct", "belt", "sizes")

_KINDS: Final = ((PaperError, "paper"), (PartError, "belt"), (PlanError, "belt"))
"""Fields that a refusal of no key belongs to, by its kind."""

KINDS: Final[Mapping[str, str]] = {
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".html": "text/html",
    ".csv": "text/csv",
}
"""Media types of what is saved, by its ending."""


@dataclass(frozen=True)
class OpenJob:
    """A job that is worked by hand.

    Args:
        job: as it was read.
        draft: its draft.
        layout: where its parts lie; None where it is not laid out, or was before it was changed.
    """

    job: Job
    draft: Draft
    layout: Layout | None


def open_job(path: Path, hides: tuple[Path, ...]) -> OpenJob:
    """Return a job, drafted, with its layout where that still holds.

    Args:
        path: the job's file.
        hides: files of the layout's hides; none where it has no layout.
    """
    from strapwright import api

    job = check_programs(api.read_job(path))
    drafted = api.draft(job)
    layout = None
    if hides:
        try:
            layout = api.read_layout(path.parent / LAYOUT, drafted, api.read_hides(hides))
        except StrapwrightError:
            layout = None  # of an older job: what it would say is no longer true
    return OpenJob(job, drafted, layout)


def pattern_of(opened: OpenJob, asked: QueryParams, font: Path | None = None) -> Pattern:
    """Return a job's pattern as it is asked for.

    Raises:
        PaperError: there is no such paper, belt or printer.
    """
    from strapwright import api

    paper = asked.get("paper") or "a4"
    if paper == "roll":
        paper = f"roll:{asked.get('roll', '').strip()}"
    return api.pattern(
        opened.draft,
        paper,
        whole=asked.get("whole") == "yes",
        belts=asked.getlist("belt"),
        correct=_correction(paper, asked),
        units=units_of(asked),
        font=font,
        layout=opened.layout if asked.get("placed") == "yes" else None,
    )


def pattern_mistake(error: StrapwrightError, asked: QueryParams) -> dict[str, str]:
    """Return what is wrong with a pattern by the field of its form; under ``""`` what concerns none.

    Args:
        error: why it cannot be made.
        asked: the form.
    """
    ((key, words),) = mistake_by_field(error).items()
    if key == "paper" and asked.get("paper") == "roll":
        key = "roll"
    measured = {name: words for name in ("short", "long") if key == "correct" and asked.get(name)}
    return {key: words} | measured


def mistake_by_field(error: StrapwrightError) -> dict[str, str]:
    """Return what is wrong with a pattern or a handout by the field of its form; under ``""`` if by none.

    A key before the words names the field; without one, what was refused does.

    Example:
        >>> mistake_by_field(PaperError('paper: found "b5"')), mistake_by_field(PartError("no such belt"))
        ({'paper': 'found "b5"'}, {'belt': 'no such belt'})
    """
    words = in_page_words(str(error))
    key, colon, rest = words.partition(": ")
    if colon and key in _KEYS:
        return {key: rest}
    if ".ttf" in str(error):
        return {"font": words}
    return {next((field for kind, field in _KINDS if isinstance(error, kind)), ""): words}


def _correction(paper: str, asked: QueryParams) -> str:
    """Return what was measured on a printer's check bars as `--correct` has it; empty for nothing."""
    from strapwright.write.pattern.paper_sizes import read_paper

    keys = [side.split()[0] for side in read_paper(paper).sides]
    measured = [asked.get(name, "").strip() for name in ("short", "long")]
    bar = asked.get("bar", "").strip() or "100"
    return ",".join(
        f"{key}={bar}:{found}" for key, found in zip(keys, measured, strict=True) if found and found != bar
    )


def card_of(opened: OpenJob, asked: QueryParams, machine: Path | None) -> BenchCard:
    """Return a job's bench card as it is asked for.

    Raises:
        SafetyError: the machine's fumes could hurt someone.
    """
    from strapwright import api

    cutter = None if machine is None else api.read_machine(str(machine))
    typed = asked.get("fumes", "")
    taken = bool(typed) and cutter is not None and not fumes_refused(typed, opened.draft.parts, cutter)
    return api.card(
        opened.job,
        drafted=opened.draft,
        layout=opened.layout,
        machine=cutter,
        accept_fume_risk=taken,
        units=units_of(asked),
        brief=asked.get("brief") == "yes",
        paper=card_paper(asked),
    )


def card_paper(asked: Mapping[str, str]) -> CardPaper:
    """Return the paper asked for, of those a card or a handout is printed on."""
    return "letter" if asked.get("paper") == "letter" else "a4"


def paper_of(
    opened: OpenJob, file: str, asked: QueryParams, machine: Path | None, font: Path | None = None
) -> str | bytes:
    """Return a paper of a job to be printed or saved.

    Raises:
        FileProblems: there is no such paper.
    """
    from strapwright import api

    if file == "pattern.pdf":
        return pattern_of(opened, asked, font).pdf
    if file in ("drawing.pdf", "drawing.svg", "drawing.png"):
        return api.drawing(opened.draft, file.removeprefix("drawing"), units=units_of(asked))
    if file in ("card.pdf", "card.html", "bill.csv"):
        card = card_of(opened, asked, machine)
        return card.pdf() if file == "card.pdf" else card.html() if file == "card.html" else card.bill.csv()
    names = "pattern.pdf, drawing.pdf, drawing.svg, drawing.png, card.pdf, card.html, bill.csv"
    raise FileProblems((f"found no paper {file!r}, expected one of {names}",))


def pattern_seen(opened: OpenJob, asked: QueryParams, font: Path | None = None) -> dict[str, Any]:
    """Return a pattern's sheets as drawings, and what to know of them."""
    from strapwright.drawing.svg import element

    made = pattern_of(opened, asked, font)
    return {
        "count": len(made.sheets),
        "pages": [
            element(page.canvas, own=f"p{number}-") for number, page in enumerate(made.pages[:SHOWN], 1)
        ],
        "findings": finding_words(made.findings, units_of(asked)),
    }


def straps_seen(opened: OpenJob, units: Units = "mm") -> list[dict[str, Any]]:
    """Return what a strap cutter is set to, hide by hide and pull by pull; none without a layout.

    Args:
        opened: the job.
        units: of the figures; inches with the exact millimetres after them.
    """
    from strapwright.nesting.layout.strap_cutter import rips_of

    if opened.layout is None:
        return []
    return [
        {
            "hide": hide.name,
            "begins": lengths_in(one.begins, units),
            "rips": [
                {
                    "start": _set_to(rip.start, units),
                    "width": _set_to(rip.width, units),
                    "kind": rip.kind,
                    "said": lengths_in(rip.said, units),
                }
                for rip in one.rips
            ],
            "sentences": [lengths_in(line, units) for line in one.sentences],
        }
        for hide in opened.layout.hides
        if opened.layout.placed_on(hide.name)
        for one in rips_of(opened.layout, hide.name)
    ]


def _set_to(mm: float, units: Units) -> str:
    return f"{mm:.1f} mm" if units == "mm" else f"{format_length(mm, units)} ({mm:.1f} mm)"


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
