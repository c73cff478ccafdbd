"""From a job to a draft: every strap's and belt's parts, numbers and findings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from strapwright.core.calculation import Calculation
from strapwright.core.errors import PartError
from strapwright.core.notebook import svg_of
from strapwright.job.dimensions.fit import belt_figures
from strapwright.job.dimensions.layers import layers_of
from strapwright.job.dimensions.strength_estimate import strength_of
from strapwright.job.dimensions.turned_end import end_figures
from strapwright.job.drawn_in import not_shown, with_drawings
from strapwright.job.findings.strap import findings_of
from strapwright.job.marks import with_marks
from strapwright.job.spec.strap import Belt
from strapwright.job.strap_draft import BeltDraft, DraftedEnd, StrapDraft
from strapwright.parts.drawn import part_from_drawing
from strapwright.parts.end import CutEnd, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.keeper import KeeperStrip
from strapwright.parts.lining import Lining
from strapwright.parts.stitching import Stitching
from strapwright.parts.strap import Strap
from strapwright.rules.sizing import strap_width

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.core.findings import Finding
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.spec.job import House, Job
    from strapwright.job.spec.strap import EndSpec, StrapTable
    from strapwright.parts.end import End
    from strapwright.parts.own_shape import OwnPart
    from strapwright.parts.part import Part

JSON_VERSION = 1

LINING_CLEARANCE = 2.0
"""A lining begins this far behind the prong slot, mm, so that it does not thicken the fold."""


@dataclass(frozen=True)
class Draft:
    """A job, drafted.

    Args:
        name: of the job.
        digest: of the job.
        belts: in the job's order.
        parts: every piece to cut, copies included, ids unique.
        straps: those that are no belts, in the job's order.
    """

    name: str
    digest: str
    belts: tuple[BeltDraft, ...]
    parts: tuple[Part, ...]
    straps: tuple[StrapDraft, ...] = ()

    def _repr_svg_(self) -> str | None:
        """Return its picture for a notebook."""
        return svg_of(self)

    @property
    def items(self) -> tuple[StrapDraft, ...]:
        """Its belts, then its other straps."""
        return (*self.belts, *self.straps)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, belt by belt, then strap by strap."""
        return tuple(finding for item in self.items for finding in item.findings)

    def as_json(self) -> dict[str, Any]:
        """Return the draft as plain JSON values, mm."""
        return {
            "belts": [belt.as_json() for belt in self.belts],
            "straps": [strap.as_json() for strap in self.straps],
            "version": JSON_VERSION,
        }


def draft(job: Job, *, progress: Callable[[int, int], None] | None = None) -> Draft:
    """Draft every belt and strap of a job.

    Args:
        job: as read from a job file.
        progress: called with how many belts are done, and how many there are.

    Returns:
        Parts in the one geometry's frame, numbers and findings.

    Raises:
        PartError: belts whose numbers make no sound part, one line each: the line of a CSV file, belt, field,
            value, what is allowed.
    """
    drafted, wrong = draft_sound(job, progress=progress)
    if wrong:
        raise PartError("\n".join(f"{job.place(index)}{text}" for index, text in wrong))
    return drafted


def draft_sound(
    job: Job, *, progress: Callable[[int, int], None] | None = None
) -> tuple[Draft, tuple[tuple[int, str], ...]]:
    """Draft those belts and straps of a job whose numbers make sound parts.

    Args:
        job: as read from a job file.
        progress: called with how many belts are done, and how many there are.

    Returns:
        The draft of those belts and straps; and for every other its place among the job's belts, straps
        counted on after them, and what is wrong.
    """
    sound: list[StrapDraft] = []
    parts: list[Part] = []
    wrong: list[tuple[int, str]] = []
    for index, asked in enumerate(job.items):
        if progress is not None and index < len(job.belts):
            progress(index, len(job.belts))
        try:
            drafted = draft_strap(asked, job.leather_of(asked), job.house, job.catalogue)
            parts.extend(drafted.parts())
        except PartError as error:
            wrong.append((index, f'{asked.goods} "{asked.id}": {error}'))
            continue
        sound.append(drafted)
    belts = tuple(one for one in sound if isinstance(one, BeltDraft))
    return Draft(job.name, job.digest, belts, tuple(parts), tuple(sound[len(belts) :])), tuple(wrong)


def draft_strap(asked: Belt | StrapTable, leather: Leather, house: House, catalogue: Catalogue) -> StrapDraft:
    """Draft one strap, be it a belt or another.

    Args:
        asked: what is asked for.
        leather: its leather.
        house: the workshop's settings.
        catalogue: hardware and punches at hand.

    Returns:
        A :class:`BeltDraft` for a belt.

    Raises:
        PartError: its numbers make no sound part, or the user's own code fails.
    """
    if asked.sketch is not None or asked.drawing is not None:
        drawn = StrapDraft(
            spec=asked,
            quantity=asked.quantity,
            leather=leather,
            house=house,
            strap=_own_part(asked, leather),
            ends=tuple(DraftedEnd(spec) for spec in asked.end_specs),
        )
        return replace(drawn, findings=(*findings_of(drawn, catalogue), *not_shown(asked)))
    work, layers = Calculation(), layers_of(asked, leather)
    width = strap_width_of(asked, house, work)
    ends = tuple(_end(spec, layers, width, house, catalogue, work) for spec in asked.end_specs)
    fit: BeltFigures | None = None
    kind: type[StrapDraft] = StrapDraft
    rows: tuple[HoleRow, ...]
    if isinstance(asked, Belt):
        assert ends[0].figures is not None
        fit, kind = belt_figures(asked, width, ends[0].figures, house, work), BeltDraft
        rows, span = (fit.holes,), fit.holes.xs[-1] + fit.last_to_tip
    else:
        span = _span(asked, ends, work)
        rows = _hole_rows(asked, span)
    plain = Strap(
        width=width,
        span=span,
        ends=(_shape(ends[0], width), _shape(ends[1], width)),
        hole_rows=rows,
        crease=asked.crease.distance if asked.crease else 0.0,
    )
    drawn_findings: tuple[Finding, ...] = ()
    if isinstance(asked, Belt) and fit is not None:
        plain, drawn_findings = with_drawings(asked, plain, fit, leather)
    strap, mark_findings = with_marks(asked, plain, ends[0].figures)
    turned = [(end.spec.name, end.figures) for end in ends if end.figures is not None]
    made = kind(
        spec=asked,
        quantity=asked.quantity,
        leather=leather,
        house=house,
        strap=strap,
        ends=ends,
        strength=strength_of(width, layers.strap, leather, turned, rows, fit, strap),
        figures=fit,
        keeper=_keeper(fit),
        lining=Lining(strap=strap, start=_lining_start(fit)) if fit and asked.lining else None,
        steps=tuple(work.steps),
    )
    found = (*findings_of(made, catalogue), *drawn_findings, *not_shown(asked), *mark_findings)
    return replace(made, findings=found)


def _own_part(asked: Belt | StrapTable, leather: Leather) -> OwnPart:
    """Return the whole part that a user has drawn, in Python or elsewhere."""
    if asked.drawing is not None:
        return part_from_drawing(asked.drawing.shapes, asked.drawing.name, leather.thickness)
    from strapwright.parts.sketch.drawn import part_from_sketch

    assert asked.sketch is not None
    return part_from_sketch(asked.sketch.source, asked.sketch.name)


def strap_width_of(asked: Belt | StrapTable, house: House, work: Calculation) -> float:
    """Return the strap's width as asked for, or as its buckle takes it, mm."""
    buckle = asked.buckle
    if buckle is None:
        assert asked.width is not None
        return asked.width
    if buckle.opening is None:
        width = buckle.for_strap or 0.0
        return work.add("strap width", "W = nominal width of the buckle", f"{width:g}", width)
    numbers = f"{buckle.opening:g} − {house.strap_clearance:g}"
    return work.add(
        "strap width", "W = opening − clearance", numbers, strap_width(buckle.opening, house.strap_clearance)
    )


def _end(
    spec: EndSpec, layers: Layers, width: float, house: House, catalogue: Catalogue, work: Calculation
) -> DraftedEnd:
    """Work out one end; of a strap with two, its name stands before each step."""
    if spec.fitting is None:
        return DraftedEnd(spec)
    own = Calculation()
    figures = end_figures(spec, layers, width, house, catalogue, own)
    if spec.name:
        own.steps = [replace(step, label=f"{spec.name}: {step.label}") for step in own.steps]
    work.steps += own.steps
    return DraftedEnd(spec, figures)


def _shape(end: DraftedEnd, width: float) -> End:
    """Return the definition of one end."""
    spec, got = end.spec, end.figures
    if got is None:
        assert spec.tip is not None
        return CutEnd(spec.tip.part(width))
    sewn = Stitching(runs=got.stitches, shift=got.shift, inset=spec.stitch.inset) if got.stitches else None
    return TurnedEnd(
        turn_back=got.turn_back,
        slot_length=got.slot[0],
        slot_width=got.slot[1],
        slot_ys=got.slot_ys,
        rows=got.rows,
        mates=got.mates,
        fastener_ys=got.fastener_ys,
        diameters=tuple(post.holes for post in got.posts),
        corner_radius=spec.corner_radius,
        half_turn=got.half_turn,
        stitching=sewn,
        closes=spec.closes,
    )


def _span(asked: StrapTable, ends: Sequence[DraftedEnd], work: Calculation) -> float:
    """Return the length of a strap that is given finished, from fold line or tip to the other, mm."""
    assert asked.length is not None
    halves = [end.figures.half_turn / 2 for end in ends if end.figures is not None]
    if not halves:
        return asked.length
    return work.add(
        "fold line to fold line" if len(halves) == 2 else "fold line to tip",
        "length + B/2 at each turned end",
        " + ".join([f"{asked.length:g}", *(f"{half:.2f}" for half in halves)]),
        asked.length + sum(halves),
    )


def _hole_rows(asked: StrapTable, span: float) -> tuple[HoleRow, ...]:
    """Return the row of holes that is measured from a tip, if one is asked for."""
    holes = asked.holes
    if holes is None:
        return ()
    tips = [place for place, end in enumerate(asked.ends, 1) if end.tip is not None]
    middle = holes.first + (holes.count - 1) / 2 * holes.spacing
    if (holes.end or tips[-1]) == 2:
        middle = span - middle
    return (HoleRow(middle, holes.count, holes.spacing, holes.diameter),)


def _keeper(fit: BeltFigures | None) -> KeeperStrip | None:
    asked = fit.keeper if fit is not None else None
    if fit is None or asked is None:
        return None
    lap = asked.lap if asked.join == "lap" else 0.0
    return KeeperStrip(fit.keeper_length, asked.width, asked.join, lap, asked.cut_long, asked.guides)


def _lining_start(fit: BeltFigures) -> float:
    """Return where a lining begins: behind the slot, or behind the bar where there is none."""
    return max(fit.end.slot[0], fit.end.half_turn) / 2 + LINING_CLEARANCE
