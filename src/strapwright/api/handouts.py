"""The handout: a design given away as one document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.write.card.blocks import Paper
    from strapwright.write.pattern.pattern import Pattern


@dataclass(frozen=True)
class Handout:
    """A handout.

    Args:
        pdf: the file's bytes.
        draft: of the design, one belt a size.
        pattern: its paper pattern.
        drawn: why the belt is drawn and not shown in the round; empty where it is shown.
    """

    pdf: bytes
    draft: Draft
    pattern: Pattern
    drawn: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What there is to know of the design, and of printing its pattern."""
        from strapwright.job.grading import findings_of

        return (*findings_of(self.draft.belts), *self.pattern.findings)


def handout(
    job: Job,
    belt: str = "",
    *,
    sizes: str = "",
    paper: Paper = "a4",
    text: Path | None = None,
    units: Units = "mm",
    font: Path | None = None,
    in_the_round: bool = True,
    stage: Callable[[str], None] = lambda _: None,
) -> Handout:
    """Return a belt of a job as a document for a person who owns no software.

    Args:
        job: the job.
        belt: its id, or that of all sizes of a graded belt; may be left out where the job has only one.
        sizes: a run of sizes, such as ``"30-46/2"``; empty for the job's own.
        paper: ``"a4"`` or ``"letter"``.
        text: a translation of its words; None takes the English ones.
        units: of the lengths shown.
        font: a TrueType font of your own, for letters the usual one lacks.
        in_the_round: show the belt in the round where the solid modeller is installed; else its strap is
            drawn.
        stage: called with what is done next, in words.

    Raises:
        PartError: no such belt, or numbers that make no sound part.
        FileProblems: sizes, words or a font that cannot be read.
        PlanError: a finding that stops it.
        PaperError: a piece that has no room on the paper.
    """
    from strapwright.job.design import by_thickness, design_of
    from strapwright.job.draft import draft
    from strapwright.write.card.work import CALLIPER_WITHIN
    from strapwright.write.handout.content import Design
    from strapwright.write.handout.pdf import handout_pdf
    from strapwright.write.handout.words import read_words, shipped_words
    from strapwright.write.pattern.pattern import pattern

    words = shipped_words() if text is None else read_words(text)
    alone = design_of(job, belt, sizes)
    drafted = draft(alone)
    made = pattern(drafted, paper, units=units, font=font, given=True)
    design = Design(drafted, by_thickness(alone, CALLIPER_WITHIN), words, units)
    picture, drawn = None, "not asked for"
    if in_the_round:
        stage("showing the belt in the round")
        picture, drawn = _picture(alone, drafted)
    stage("setting the pages")
    pdf = handout_pdf(design, made.pages, paper, picture=picture, font=font)
    return Handout(pdf, drafted, made, drawn)


def _picture(alone: Job, drafted: Draft) -> tuple[bytes | None, str]:
    """Return the belt closed in the round as PNG, or why there is none."""
    from strapwright.core.errors import PartError
    from strapwright.solid.model import model
    from strapwright.solid.picture import picture_png

    try:
        return picture_png(model(alone, drafted.belts[0].id, worn=True, drafted=drafted)), ""
    except PartError as error:
        return None, str(error)
