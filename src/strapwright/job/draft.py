"""From a job to a draft: every strap's and belt's parts, numbers and findings.

What a user drew is set in its place along the strap, and marks on the turn-back, once the plain strap is
known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.calculation import Calculation
from strapwright.core.errors import PartError
from strapwright.core.findings import Cure, Finding, Severity
from strapwright.core.notebook import svg_of
from strapwright.geometry.characters import LEAST_HEIGHT
from strapwright.job.dimensions.fit import belt_figures
from strapwright.job.dimensions.layers import layers_of
from strapwright.job.dimensions.strength_estimate import strength_of
from strapwright.job.dimensions.turned_end import end_figures
from strapwright.job.findings.strap import findings_of
from strapwright.job.spec.strap import Belt, drawings_of
from strapwright.job.strap_draft import BeltDraft, DraftedEnd, StrapDraft
from strapwright.parts.drawn import Drawing, check_opening, part_from_drawing, repeated
from strapwright.parts.end import CutEnd, Stitching, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.keeper import KeeperStrip
from strapwright.parts.marks import place_marks
from strapwright.parts.part import Operation
from strapwright.parts.strap import Lining, Strap
from strapwright.rules.sizing import centre_from_belt_size, strap_width

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.drawing import AlongStrap
    from strapwright.job.spec.house import House
    from strapwright.job.spec.job import Job
    from strapwright.job.spec.size import Size
    from strapwright.job.spec.strap import EndSpec, StrapTable
    from strapwright.parts.end import End
    from strapwright.parts.own_shape import OwnPart
    from strapwright.parts.part import Part


JSON_VERSION = 1


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
        return _with_findings(drawn, (*findings_of(drawn, catalogue), *not_shown(asked)))
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
        lining=Lining(strap=strap, start=fit.lining_start) if fit and asked.lining else None,
        steps=tuple(work.steps),
    )
    return _with_findings(
        made, (*findings_of(made, catalogue), *drawn_findings, *not_shown(asked), *mark_findings)
    )


def _with_findings(drafted: StrapDraft, found: Iterable[Finding]) -> StrapDraft:
    """Return a strap's draft with what is to know of it, each finding about this strap."""
    return replace(drafted, findings=tuple(replace(one, subject=drafted.id) for one in found))


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


def with_drawings(
    asked: Belt, strap: Strap, fit: BeltFigures, leather: Leather
) -> tuple[Strap, tuple[Finding, ...]]:
    """Return a belt's strap with the drawn openings and ornaments asked for, and which were left out.

    Args:
        asked: what is asked for.
        strap: without them.
        fit: how it fits.
        leather: its leather.

    Raises:
        PartError: one finds no room: its table, the file, the shape and what to do.
    """
    findings: list[Finding] = []
    for number, hole in enumerate(asked.drawn_holes, 1):
        try:
            drawing = Drawing(hole.drawing.name, hole.drawing.shapes, Operation.CUT)
            features = drawing.at(place_along(hole.at, strap, fit), hole.across, hole.turn)
            check_opening(drawing, features, strap, leather.thickness)
        except PartError as error:
            raise PartError(f"hole[{number}]: {error}") from error
        strap = replace(strap, drawn=strap.drawn + features)
    for number, one in enumerate(asked.ornaments, 1):
        run = (place_along(one.start, strap, fit), place_along(one.end, strap, fit))
        try:
            drawing = Drawing(one.drawing.name, one.drawing.shapes, Operation(one.operation or "score"))
            features, made, left = repeated(
                drawing, strap, (min(run), max(run)), one.repeat, one.across, one.margin, one.clear
            )
        except PartError as error:
            raise PartError(f"ornament[{number}]: {error}") from error
        strap = replace(strap, drawn=strap.drawn + features)
        if left:
            findings.append(
                Finding(
                    "ornament-left-out",
                    Severity.NOTE,
                    f"{one.drawing.name} is made {made} times; {left} more would lie within {one.clear:g} mm "
                    "of holes, lines or the edge and are left out.",
                    "Leave it so, or choose another from, to or repeat.",
                    numbers={"made": float(made), "left_out": float(left)},
                )
            )
    return strap, tuple(findings)


def place_along(place: AlongStrap, strap: Strap, fit: BeltFigures) -> float:
    """Return x of a place along a belt, mm from its fold line.

    Args:
        place: as written.
        strap: the belt's.
        fit: how it fits, which says where the outer end of the fold lies.
    """
    if place.origin == "tip":
        return strap.span - place.distance
    return place.distance if place.origin == "fold" else centre_from_belt_size(place.distance, fit.seat)


def not_shown(asked: Belt | StrapTable) -> Iterator[Finding]:
    """Yield what the drawings of a belt or strap hold but do not show."""
    for file in dict.fromkeys(drawings_of(asked)):
        if file.left_out:
            yield Finding(
                "drawing-not-shown",
                Severity.CAUTION,
                f"{file.name}: left out, because the drawing does not show it: {file.left_out}.",
                "If it belongs to the part, show it in the drawing and save again.",
            )


_OWN: Final = "maker's mark"

_HELD: Final = "\N{NO-BREAK SPACE}"
"""A blank at which no line is broken: a size or a number stays in one piece."""


def with_marks(
    asked: Belt | StrapTable, strap: Strap, end: EndFigures | None
) -> tuple[Strap, tuple[Finding, ...]]:
    """Return a strap with the marks that are asked for, and what is to be said of them.

    Args:
        asked: what is asked for.
        strap: without marks.
        end: what was worked out for its first end; None for a tip, which carries none.

    Raises:
        PartError: a mark has a character that cannot be written.
    """
    wanted = marks_of(asked)
    if asked.marks is None or end is None or not wanted:
        return strap, ()
    height = asked.marks.height
    try:
        made = place_marks(
            tuple(text if what == _OWN else text.replace(" ", _HELD) for what, text in wanted),
            strap,
            height=height,
            fold_end=end.half_turn / 2,
            head_radius=end.head_radius,
        )
    except PartError as error:
        raise PartError(f"marks: {error}") from error
    findings = [_no_room(*wanted[index]) for index in made.left_out]
    if made.features and made.height < height:
        findings.append(
            Finding(
                "mark-smaller",
                Severity.NOTE,
                f"The marks are made {made.height:g} mm high: {height:g} mm does not fit on the turn-back.",
                "Leave it so, or make turn_back longer or the marks fewer if you want them larger.",
                numbers={"height_mm": made.height, "asked_mm": height},
                keys=("marks.height",),
                cures=(Cure("marks.height", f"{made.height:g} mm"),),
            )
        )
    return replace(strap, marks=made.features), tuple(findings)


def marks_of(asked: Belt | StrapTable) -> tuple[tuple[str, str], ...]:
    """Return the marks asked for: what each is, in words, and what it says.

    Args:
        asked: what is asked for.
    """
    marks = asked.marks
    if marks is None:
        return ()
    found = [(_OWN, " ".join(marks.text.split()))] if marks.text else []
    if marks.number:
        found.append(("belt's number", asked.id))
    if marks.size and asked.size:
        found.append(("size", size_in_short(asked.size)))
    return tuple(found)


def size_in_short(size: Size) -> str:
    """Return the size a belt is made to, in a word or two: the trouser size, or the length given in cm.

    Args:
        size: as the job says it.

    Example:
        >>> from strapwright.job.spec.size import Size
        >>> size_in_short(Size(girth="96 cm")), size_in_short(Size(trousers=34))
        ('96 cm', '34')
    """
    if size.trousers is not None:
        return f"{size.trousers:g}"
    given = (size.girth, size.belt_size, size.worn_to_hole)
    length = next((one for one in given if one is not None), 0.0)
    return f"{round(length / 10, 1):g} cm"


def _no_room(what: str, text: str) -> Finding:
    return Finding(
        "mark-no-room",
        Severity.CAUTION,
        f'The {what} "{text}" does not fit on the turn-back at {LEAST_HEIGHT:g} mm, the least height, and '
        "is left out.",
        "Make turn_back longer, ask for fewer or shorter marks, or stamp it by hand.",
        numbers={"least_height_mm": LEAST_HEIGHT},
        keys=("marks.text", "turn_back"),
    )
