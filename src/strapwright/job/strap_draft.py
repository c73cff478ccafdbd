"""The draft of a strap that is no belt: its ends' figures, its definition, its pieces and its findings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from strapwright.geometry.transform import mirrored
from strapwright.job.dimensions.end import end_figures
from strapwright.job.dimensions.layers import Layers
from strapwright.job.dimensions.posts import post_findings
from strapwright.job.dimensions.strap import TurnedFigures
from strapwright.job.dimensions.working import Step, Working, json_mm
from strapwright.job.judge.belt import fold_findings, turn_back_findings
from strapwright.job.judge.punches import HandHole, fastener_hand_holes, punch_findings
from strapwright.job.judge.strap_strength import strap_choice_findings, strap_strength
from strapwright.job.judge.strength import leather_findings
from strapwright.job.judge.unit_slips import strap_slips
from strapwright.job.spec.fittings import Fastening, Stitch
from strapwright.parts.end import CutEnd, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.part import Part, PartKind
from strapwright.parts.stitching import Stitching
from strapwright.parts.strap import Strap
from strapwright.trade.choice import edge_beveler, ounces

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from strapwright.core.findings import Finding
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.end import EndFigures
    from strapwright.job.judge.strength import Strength
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.job import House
    from strapwright.job.spec.strap import StrapEnd, StrapTable
    from strapwright.parts.sketch.drawn import SketchPart


@dataclass(frozen=True)
class StrapDraft:
    """One strap, drafted.

    Args:
        id: of the strap.
        quantity: how many alike.
        asked: what was asked for.
        leather: its leather.
        length: finished, mm; of a sketch, as long as it was drawn.
        made: its definition.
        ends: the figures of its two ends, None for a tip; empty for a sketch.
        ends_named: what the ends are, in words.
        mirrored: whether it was drawn from the flesh side, and its pieces are mirrored to lie grain up.
        steps: the working.
        findings: what a maker should know.
        strength: an estimate to compare designs by, not to rate them; None for a sketch.
    """

    id: str
    quantity: int
    asked: StrapTable
    leather: Leather
    length: float
    made: Strap | SketchPart
    ends: tuple[TurnedFigures | None, ...]
    ends_named: tuple[str, ...]
    steps: tuple[Step, ...]
    findings: tuple[Finding, ...]
    mirrored: bool = False
    strength: Strength | None = None

    @property
    def thickness(self) -> float:
        """Of its leather, mm."""
        return self.leather.thickness

    @property
    def width(self) -> float:
        """Across, as cut, mm."""
        _, low, _, high = self.made.outline.bounding_box
        return high - low

    @property
    def blank_length(self) -> float:
        """Along, as cut, mm."""
        low, _, high, _ = self.made.outline.bounding_box
        return high - low

    @property
    def hole_rows(self) -> tuple[HoleRow, ...]:
        """Its rows of holes."""
        return self.made.hole_rows

    def as_json(self) -> dict[str, Any]:
        """Return the strap as plain JSON values, mm; x from the first end, 0 at its fold line or its tip."""
        rows = self.hole_rows
        return {
            "id": self.id,
            "quantity": self.quantity,
            "strap_width_mm": json_mm(self.width),
            "thickness_mm": json_mm(self.thickness),
            "thickness_oz": round(ounces(self.thickness), 2),
            "edge_beveler": edge_beveler(self.thickness),
            "finished_length_mm": json_mm(self.length),
            "blank_length_mm": json_mm(self.blank_length),
            "ends": [self._end_json(place) for place in range(len(self.ends))],
            "hole_centres_mm": [[json_mm(x), json_mm(y)] for row in rows for x, y in row.centres],
            "hole_diameter_mm": json_mm(rows[0].diameter if rows else 0.0),
            "strength": self.strength.as_json() if self.strength else None,
            "findings": [finding.as_json() for finding in self.findings],
        }

    def _end_json(self, place: int) -> dict[str, Any]:
        got = self.ends[place]
        turned = next((one for one in self.made.turned if one.place == place), None)
        if got is None or turned is None:
            return {"tip": self.ends_named[place]}
        end = turned.end
        return {
            "fold_line_mm": json_mm(turned.fold),
            "half_turn_mm": json_mm(got.end.half_turn),
            "turn_back_mm": json_mm(got.end.turn_back),
            "fastener_centres_mm": [[json_mm(turned.x(x)), json_mm(y)] for x, y in end.fastener_centres],
            "fastener_diameter_mm": json_mm(end.diameters[0][0] if end.diameters else 0.0),
            "fastener_diameters_mm": [json_mm(d) for _, _, d in end.fastener_holes],
            "posts": [post.as_json() for post in got.posts],
        }


def draft_strap(asked: StrapTable, leather: Leather, house: House, catalogue: Catalogue) -> StrapDraft:
    """Draft one strap.

    Args:
        asked: what is asked for.
        leather: its leather.
        house: the workshop's settings.
        catalogue: hardware and punches at hand.

    Raises:
        PartError: its numbers make no sound part, or the maker's own code fails.
    """
    if asked.sketch is not None:
        from strapwright.parts.sketch.drawn import part_from_sketch

        drawn = part_from_sketch(asked.sketch.source, asked.sketch.name)
        low, _, high, _ = drawn.outline.bounding_box
        return StrapDraft(
            id=asked.id,
            quantity=asked.quantity,
            asked=asked,
            leather=leather,
            length=high - low,
            made=drawn,
            ends=(),
            ends_named=(asked.sketch.name,),
            steps=(),
            findings=(
                *strap_slips(asked, leather),
                *leather_findings(asked, leather.thickness, leather),
            ),
            mirrored=asked.face_up == "flesh",
        )
    assert asked.width is not None
    assert asked.length is not None
    work = Working()
    got = tuple(
        _turned_figures(asked, end, place, leather, house, catalogue, work) if end.is_turned else None
        for place, end in enumerate(asked.ends)
    )
    halves = [one.end.half_turn / 2 for one in got if one is not None]
    span = asked.length
    if halves:
        span = work.add(
            "fold line to fold line" if len(halves) == 2 else "fold line to tip",
            "length + B/2 at each turned end",
            " + ".join([f"{asked.length:g}", *(f"{half:.2f}" for half in halves)]),
            asked.length + sum(halves),
        )
    first, second = (
        turned_end(asked, one.end, closes=False) if one else _cut(end, asked.width)
        for end, one in zip(asked.ends, got, strict=True)
    )
    made = Strap(width=asked.width, span=span, ends=(first, second), hole_rows=_holes(asked, span))
    strength = strap_strength(asked, asked.width, got, leather)
    return StrapDraft(
        id=asked.id,
        quantity=asked.quantity,
        asked=asked,
        leather=leather,
        length=asked.length,
        made=made,
        ends=got,
        ends_named=tuple(_named(end) for end in asked.ends),
        steps=tuple(work.steps),
        findings=(
            *strap_slips(asked, leather),
            *_findings(asked, made, got, house, catalogue),
            *strap_choice_findings(asked, leather, strength),
        ),
        mirrored=asked.face_up == "flesh",
        strength=strength,
    )


def parts_of(drafted: StrapDraft, leather: Leather) -> list[Part]:
    """Return the strap's pieces, one for every copy; copies share their contours.

    Args:
        drafted: the strap.
        leather: its leather.
    """
    outline, features = drafted.made.outline, drafted.made.features()
    if drafted.mirrored:
        outline = mirrored(outline)
        features = tuple(replace(feature, contour=mirrored(feature.contour)) for feature in features)
    made = drafted.made
    numbers = [f"-{copy}" for copy in range(1, drafted.quantity + 1)] if drafted.quantity > 1 else [""]
    kind = PartKind.STRAP
    return [
        Part(
            f"{drafted.id}/{kind}{number}",
            drafted.id,
            kind,
            outline,
            features,
            leather.thickness,
            leather.tannage,
            made.hidden,
            made.loaded,
            drafted.asked.turn_step,
        )
        for number in numbers
    ]


def _turned_figures(
    asked: StrapTable,
    end: StrapEnd,
    place: int,
    leather: Leather,
    house: House,
    catalogue: Catalogue,
    work: Working,
) -> TurnedFigures:
    """Work out one turned end."""
    assert asked.width is not None
    t = leather.thickness
    layers = Layers(outer=t, lining=0.0, fold=asked.fold_thickness or t, tip=t, keeper=0.0)
    wanted = Fastening(asked.fastener, asked.fastener_holes, asked.stitch, end.turn_back)
    own = Working()
    got = TurnedFigures(end_figures(wanted, end.fitting, layers, asked.width, house, catalogue, own), layers)
    work.steps += [replace(step, label=f"end {place + 1}: {step.label}") for step in own.steps]
    return got


def _cut(end: StrapEnd, width: float) -> CutEnd:
    assert end.tip is not None
    return CutEnd(end.tip.part(width))


def turned_end(asked: Belt | StrapTable, got: EndFigures, *, closes: bool) -> TurnedEnd:
    """Return the definition of a turned end.

    Args:
        asked: what is asked for.
        got: what was worked out for it.
        closes: whether a hole of the strap comes to bear on what it holds, as on a buckle.
    """
    stitching = None
    if got.stitches:
        inset = (asked.stitch or Stitch()).inset
        stitching = Stitching(runs=got.stitches, shift=got.shift, inset=inset)
    return TurnedEnd(
        turn_back=got.turn_back,
        slot_length=got.slot[0],
        slot_width=got.slot[1],
        slot_ys=got.slot_ys,
        rows=got.rows,
        mates=got.mates,
        fastener_ys=got.fastener_ys,
        diameters=tuple(post.holes for post in got.posts),
        corner_radius=asked.corner_radius,
        half_turn=got.half_turn,
        stitching=stitching,
        closes=closes,
    )


def _holes(asked: StrapTable, span: float) -> tuple[HoleRow, ...]:
    holes = asked.holes
    if holes is None:
        return ()
    tips = [place for place, end in enumerate(asked.ends, 1) if not end.is_turned]
    middle = holes.first + (holes.count - 1) / 2 * holes.spacing
    if (holes.end or tips[-1]) == 2:
        middle = span - middle
    return (HoleRow(middle, holes.count, holes.spacing, holes.diameter),)


def _named(end: StrapEnd) -> str:
    if end.tip is not None:
        return f"{end.tip.name.replace('_', ' ')} tip" if end.tip.name != "sketch" else "tip as drawn"
    if end.bar_section is not None:
        return f"turned, bar {end.bar_section[0]:g} × {end.bar_section[1]:g} mm"
    return f"turned, bar {end.bar_diameter:g} mm"


def _findings(
    asked: StrapTable,
    made: Strap,
    got: Sequence[TurnedFigures | None],
    house: House,
    catalogue: Catalogue,
) -> tuple[Finding, ...]:
    """Return the findings of both ends and of the holes; two ends alike say it once."""
    found: list[Finding] = []
    for one in got:
        if one is not None:
            found += fold_findings(asked, one, house)
            found += turn_back_findings(asked, one)
            found += post_findings(asked, one.posts, catalogue)
    found += punch_findings(asked.id, _hand_holes(made, got), catalogue.owned_punches)
    return tuple(one for place, one in enumerate(found) if one not in found[:place])


def _hand_holes(made: Strap, got: Sequence[TurnedFigures | None]) -> Iterable[HandHole]:
    for one in got:
        if one is not None:
            yield from fastener_hand_holes(one.posts)
    for row in made.hole_rows:
        yield HandHole("holes", "holes.diameter", row.diameter, row.diameter)
