"""The draft of a strap: its two ends, its definition, its pieces and its findings; and how one is drafted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from strapwright.core.calculation import Calculation, Step
from strapwright.core.units import json_mm
from strapwright.geometry.transform import mirrored
from strapwright.job.dimensions.end import end_figures
from strapwright.job.dimensions.layers import Layers
from strapwright.job.judge.strap import judge_strap
from strapwright.job.judge.strength import beside_the_holes, leather_findings, strength_of
from strapwright.job.judge.unit_slips import strap_slips
from strapwright.job.spec.fittings import Fastening, Stitch
from strapwright.parts.end import CutEnd, TurnedEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.part import Part, PartKind
from strapwright.parts.stitching import Stitching
from strapwright.parts.strap import Strap
from strapwright.trade.choice import edge_beveler, ounces

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.findings import Finding
    from strapwright.geometry.contour import Contour
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.end import EndFigures
    from strapwright.job.judge.strength import Strength
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.end import StrapEnd
    from strapwright.job.spec.job import House
    from strapwright.job.spec.strap import StrapTable
    from strapwright.parts.part import Feature
    from strapwright.parts.sketch.drawn import SketchPart
    from strapwright.trade.leather import Tannage


@dataclass(frozen=True)
class DraftedEnd:
    """One end of a drafted strap.

    Args:
        name: what lists call it, such as "end 1"; empty for a belt's, which has one buckle.
        words: what it is, in words.
        figures: what was worked out for it; None for a tip.
        bought: what is bought for it beside fasteners: what, its price if known, and the key that gives it.
    """

    name: str
    words: str
    figures: EndFigures | None = None
    bought: tuple[tuple[str, float | None, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class StrapDraft:
    """One strap, drafted; a belt is one with more to it.

    Args:
        id: of the strap.
        quantity: how many alike.
        asked: what was asked for.
        leather: its leather.
        strap: its definition, with every dimension.
        ends: its two ends; of a sketch, one that says what it was drawn in.
        findings: what a maker should know.
        strength: an estimate to compare designs by, not to rate them; None for a sketch.
        steps: the working.
        mirrored: whether it was drawn from the flesh side, and its pieces are mirrored to lie grain up.
        run: the id of the graded belt this is a size of; empty for a strap that stands alone.
        run_size: its size in that run, as people call it.
    """

    id: str
    quantity: int
    asked: Belt | StrapTable
    leather: Leather
    strap: Strap | SketchPart
    ends: tuple[DraftedEnd, ...]
    findings: tuple[Finding, ...]
    strength: Strength | None
    steps: tuple[Step, ...] = ()
    mirrored: bool = False
    run: str = ""
    run_size: str = ""

    @property
    def thickness(self) -> float:
        """Of all its layers at the edges, mm."""
        return self.leather.thickness

    @property
    def width(self) -> float:
        """Across, as cut, mm."""
        _, low, _, high = self.strap.outline.bounding_box
        return high - low

    @property
    def blank_length(self) -> float:
        """Along, as cut, mm."""
        low, _, high, _ = self.strap.outline.bounding_box
        return high - low

    @property
    def length(self) -> float:
        """Finished, mm; of a sketch, as long as it was drawn."""
        length: float | None = getattr(self.asked, "length", None)
        return self.blank_length if length is None else length

    @property
    def turned(self) -> tuple[tuple[str, EndFigures], ...]:
        """What was worked out for each turned end, with the end's name."""
        return tuple((one.name, one.figures) for one in self.ends if one.figures is not None)

    def pieces(self) -> Iterator[Part]:
        """Yield what is cut for one of it."""
        outline, features = self.strap.outline, self.strap.features()
        if self.mirrored:
            outline = mirrored(outline)
            features = tuple(replace(feature, contour=mirrored(feature.contour)) for feature in features)
        step = getattr(self.asked, "turn_step", None)
        yield self._piece(
            PartKind.STRAP,
            outline,
            features,
            hidden=self.strap.hidden,
            loaded=self.strap.loaded,
            turn_step=step,
        )

    def _piece(
        self,
        kind: PartKind,
        outline: Contour,
        features: tuple[Feature, ...],
        thickness: float | None = None,
        tannage: Tannage | None = None,
        **lie: Any,
    ) -> Part:
        """Return one piece, of the strap's own leather unless another is given."""
        thick, own = thickness or self.leather.thickness, tannage or self.leather.tannage
        return Part(f"{self.id}/{kind}", self.id, kind, outline, features, thick, own, **lie)

    def parts(self) -> list[Part]:
        """Return its pieces, once for every copy; copies share their contours."""
        pieces = list(self.pieces())
        if self.quantity == 1:
            return pieces
        copies = range(1, self.quantity + 1)
        return [replace(piece, id=f"{piece.id}-{copy}") for copy in copies for piece in pieces]

    def as_json(self) -> dict[str, Any]:
        """Return the strap as plain JSON values, mm; x from the first end, 0 at its fold line or its tip."""
        rows = self.strap.hole_rows
        return {
            "id": self.id,
            "quantity": self.quantity,
            "strap_width_mm": json_mm(self.width),
            "thickness_mm": json_mm(self.thickness),
            "thickness_oz": round(ounces(self.thickness), 2),
            "edge_beveler": edge_beveler(self.thickness),
            "finished_length_mm": json_mm(self.length),
            "blank_length_mm": json_mm(self.blank_length),
            "ends": [self._end_json(place, end) for place, end in enumerate(self.ends) if end.name],
            "hole_centres_mm": [[json_mm(x), json_mm(y)] for row in rows for x, y in row.centres],
            "hole_diameter_mm": json_mm(rows[0].diameter if rows else 0.0),
            "strength": self.strength.as_json() if self.strength else None,
            "findings": [finding.as_json() for finding in self.findings],
        }

    def _end_json(self, place: int, drafted: DraftedEnd) -> dict[str, Any]:
        turned = next((one for one in self.strap.turned if one.place == place), None)
        if turned is None or drafted.figures is None:
            return {"tip": drafted.words}
        end = turned.end
        return {
            "fold_line_mm": json_mm(turned.fold),
            "half_turn_mm": json_mm(end.half_turn),
            "turn_back_mm": json_mm(end.turn_back),
            "fastener_centres_mm": [[json_mm(turned.x(x)), json_mm(y)] for x, y in end.fastener_centres],
            "fastener_diameter_mm": json_mm(end.diameters[0][0] if end.diameters else 0.0),
            "fastener_diameters_mm": [json_mm(d) for _, _, d in end.fastener_holes],
            "posts": [post.as_json() for post in drafted.figures.posts],
        }


def draft_strap(asked: StrapTable, leather: Leather, house: House, catalogue: Catalogue) -> StrapDraft:
    """Draft one strap that is no belt.

    Args:
        asked: what is asked for.
        leather: its leather.
        house: the workshop's settings.
        catalogue: hardware and punches at hand.

    Raises:
        PartError: its numbers make no sound part, or the user's own code fails.
    """
    if asked.sketch is not None:
        from strapwright.parts.sketch.drawn import part_from_sketch

        return StrapDraft(
            id=asked.id,
            quantity=asked.quantity,
            asked=asked,
            leather=leather,
            strap=part_from_sketch(asked.sketch.source, asked.sketch.name),
            ends=(DraftedEnd("", asked.sketch.name),),
            findings=(*strap_slips(asked, leather), *leather_findings(asked, leather.thickness, leather)),
            strength=None,
            mirrored=asked.face_up == "flesh",
        )
    assert asked.width is not None
    assert asked.length is not None
    work, thickness = Calculation(), leather.thickness
    ends = tuple(
        _end(asked, asked.width, end, f"end {place}", leather, house, catalogue, work)
        for place, end in enumerate(asked.ends, 1)
    )
    halves = [end.figures.half_turn / 2 for end in ends if end.figures is not None]
    span = asked.length
    if halves:
        span = work.add(
            "fold line to fold line" if len(halves) == 2 else "fold line to tip",
            "length + B/2 at each turned end",
            " + ".join([f"{asked.length:g}", *(f"{half:.2f}" for half in halves)]),
            asked.length + sum(halves),
        )
    first, second = (_made(asked, asked.width, *pair) for pair in zip(asked.ends, ends, strict=True))
    strap = Strap(width=asked.width, span=span, ends=(first, second), hole_rows=_holes(asked, span))
    turned = tuple((end.name, end.figures) for end in ends if end.figures is not None)
    between = partial(beside_the_holes, asked, asked.width, thickness)
    strength = strength_of(asked.width, thickness, leather, turned, between)
    return StrapDraft(
        id=asked.id,
        quantity=asked.quantity,
        asked=asked,
        leather=leather,
        strap=strap,
        ends=ends,
        findings=judge_strap(
            asked, leather, house, catalogue, [end for _, end in turned], strap.hole_rows, strength
        ),
        strength=strength,
        steps=tuple(work.steps),
        mirrored=asked.face_up == "flesh",
    )


def _end(
    asked: StrapTable,
    width: float,
    end: StrapEnd,
    name: str,
    leather: Leather,
    house: House,
    catalogue: Catalogue,
    work: Calculation,
) -> DraftedEnd:
    """Work out one end."""
    if end.tip is not None:
        tip = end.tip.name
        return DraftedEnd(name, f"{tip.replace('_', ' ')} tip" if tip != "sketch" else "tip as drawn")
    t = leather.thickness
    layers = Layers(outer=t, lining=0.0, fold=asked.fold_thickness or t, tip=t, keeper=0.0)
    wanted = Fastening(asked.fastener, asked.fastener_holes, asked.stitch, end.turn_back)
    own = Calculation()
    got = end_figures(wanted, end.fitting, layers, width, house, catalogue, own)
    work.steps += [replace(step, label=f"{name}: {step.label}") for step in own.steps]
    bar = end.fitting.bar
    section = f"{bar.width:g} × {bar.height:g}" if bar.flat else f"{bar.width:g}"
    key = f"[[strap]] {asked.id} ends[{name.removeprefix('end ')}].price"
    return DraftedEnd(name, f"turned, bar {section} mm", got, ((f"ring or hook of {name}", end.price, key),))


def _made(asked: StrapTable, width: float, end: StrapEnd, got: DraftedEnd) -> TurnedEnd | CutEnd:
    """Return the definition of one end."""
    if got.figures is not None:
        return turned_end(asked, got.figures)
    assert end.tip is not None
    return CutEnd(end.tip.part(width))


def turned_end(asked: Belt | StrapTable, got: EndFigures) -> TurnedEnd:
    """Return the definition of a turned end.

    Args:
        asked: what is asked for.
        got: what was worked out for it.
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
        closes=asked.goods == "belt",
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
