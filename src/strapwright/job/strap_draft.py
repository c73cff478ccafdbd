"""A drafted strap or belt: its ends, definition, pieces, numbers and findings, and how each figure came."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.calculation import Step
from strapwright.core.units import json_mm
from strapwright.geometry.transform import mirrored
from strapwright.parts.part import EVERYWHERE, Part, PartKind
from strapwright.rules.leather import edge_beveler, ounces
from strapwright.rules.sizing import GIRTH_UNCERTAINTY

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.findings import Finding
    from strapwright.geometry.contour import Contour
    from strapwright.job.catalogue.buckle import Buckle
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.strength_estimate import Strength
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.house import House
    from strapwright.job.spec.strap import Belt, EndSpec, StrapTable
    from strapwright.parts.keeper import KeeperStrip
    from strapwright.parts.own_shape import OwnPart
    from strapwright.parts.part import Feature
    from strapwright.parts.strap import Lining, Strap
    from strapwright.rules.leather import Tannage


@dataclass(frozen=True)
class DraftedEnd:
    """One end of a drafted strap.

    Args:
        spec: what was asked for.
        figures: what was worked out for it; None for a tip.
    """

    spec: EndSpec
    figures: EndFigures | None = None


@dataclass(frozen=True, kw_only=True)
class StrapDraft:
    """One strap, drafted; a belt is one with more to it.

    Args:
        spec: what was asked for.
        quantity: how many alike.
        leather: its leather.
        house: the workshop's settings.
        strap: its definition, with every dimension.
        ends: its two ends; of a sketch, one that says what it was drawn in.
        findings: what you should know before you cut.
        strength: an estimate to compare designs by, not to rate them; None for a sketch.
        figures: how it fits the wearer, if it is a belt.
        keeper: its keeper's definition, if it has one.
        lining: its lining's definition, if it has one.
        steps: the calculation.
    """

    spec: Belt | StrapTable
    quantity: int
    leather: Leather
    house: House
    strap: Strap | OwnPart
    ends: tuple[DraftedEnd, ...]
    findings: tuple[Finding, ...] = ()
    strength: Strength | None = None
    figures: BeltFigures | None = None
    keeper: KeeperStrip | None = None
    lining: Lining | None = None
    steps: tuple[Step, ...] = ()

    @property
    def id(self) -> str:
        """Its name in lists."""
        return self.spec.id

    @property
    def run(self) -> str:
        """The id of the graded belt this is a size of; empty for a strap that stands alone."""
        return self.spec.run

    @property
    def run_size(self) -> str:
        """Its size in that run, as people call it."""
        return self.spec.run_size

    @property
    def thickness(self) -> float:
        """Of all its layers at the edges, mm."""
        return self.leather.thickness + (self.spec.lining.thickness if self.spec.lining else 0.0)

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
        return self.spec.length or self.blank_length

    @property
    def closes(self) -> bool:
        """Whether it closes into its first end, in a row of adjusting holes."""
        return any(end.spec.closes for end in self.ends)

    @property
    def turned(self) -> tuple[tuple[str, EndFigures], ...]:
        """What was worked out for each turned end, with the end's name."""
        return tuple((one.spec.name, one.figures) for one in self.ends if one.figures is not None)

    def pieces(self) -> Iterator[Part]:
        """Yield what is cut for one of it: the strap, its lining and its keeper."""
        outline, features = self.strap.outline, self.strap.features()
        if self.spec.face_up == "flesh":  # drawn from there, and laid grain up
            outline = mirrored(outline)
            features = tuple(replace(feature, contour=mirrored(feature.contour)) for feature in features)
        yield self._piece(
            PartKind.STRAP,
            outline,
            features,
            hidden=self.strap.hidden,
            loaded=self.strap.loaded,
            turn_step=self.spec.turn_step,
        )
        if self.lining is not None and (lining := self.spec.lining) is not None:
            outline, holes = self.lining.outline, self.lining.features()
            tip = self.ends[-1].spec.tip
            if self.lining.strap.drawn or (tip is not None and tip.drawing is not None):
                # It lies flesh to flesh, and what is drawn need not be alike on both sides of the middle.
                outline = mirrored(outline)
                holes = tuple(replace(hole, contour=mirrored(hole.contour)) for hole in holes)
            yield self._piece(PartKind.LINING, outline, holes, lining.thickness, lining.tannage)
        if self.keeper is not None and self.figures is not None and self.figures.keeper is not None:
            yield self._piece(
                PartKind.KEEPER,
                self.keeper.outline,
                self.keeper.features(),
                self.figures.layers.keeper,
                hidden=self.keeper.hidden,
                loaded=EVERYWHERE,
                turn_step=self.figures.keeper.turn_step,
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
            "ends": [self._end_json(place, end) for place, end in enumerate(self.ends) if end.spec.name],
            "hole_centres_mm": [[json_mm(x), json_mm(y)] for row in rows for x, y in row.centres],
            "hole_diameter_mm": json_mm(rows[0].diameter if rows else 0.0),
            "strength": self.strength.as_json() if self.strength else None,
            "findings": [finding.as_json() for finding in self.findings],
        }

    def _end_json(self, place: int, drafted: DraftedEnd) -> dict[str, Any]:
        turned = next((one for one in self.strap.turned if one.place == place), None)
        if turned is None or drafted.figures is None:
            return {"tip": drafted.spec.words}
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


@dataclass(frozen=True, kw_only=True)
class BeltDraft(StrapDraft):
    """One belt, drafted: a strap with a buckle's end, a tip, a row of adjusting holes and a size."""

    spec: Belt
    strap: Strap
    strength: Strength
    figures: BeltFigures

    @property
    def buckle(self) -> Buckle:
        """Its buckle."""
        return self.spec.buckle

    @property
    def tip_shape(self) -> str:
        """The tip's name; "sketch" for one of your own."""
        return self.spec.tip.name

    @property
    def posts(self) -> tuple[Post, ...]:
        """What each fastener row takes; empty for a stitched end."""
        return self.figures.end.posts

    def as_json(self) -> dict[str, Any]:
        """Return the belt as plain JSON values, mm."""
        got, holes, end = self.figures, self.strap.holes, self.strap.buckle_end
        return {
            "id": self.id,
            "quantity": self.quantity,
            "strap_width_mm": json_mm(got.width),
            "thickness_mm": json_mm(self.thickness),
            "thickness_oz": round(ounces(self.thickness), 2),
            "edge_beveler": edge_beveler(self.thickness),
            "fold_thickness_mm": json_mm(got.layers.fold),
            "blank_length_mm": json_mm(self.blank_length),
            "half_turn_mm": json_mm(got.end.half_turn),
            "middle_hole_mm": json_mm(holes.middle),
            "hole_in_use_mm": json_mm(got.hole_in_use),
            "hole_centres_mm": [[json_mm(x), json_mm(y)] for x, y in holes.centres],
            "hole_diameter_mm": json_mm(holes.diameter),
            "hole_length_mm": json_mm(holes.reach),
            "slot_mm": [json_mm(size) for size in got.end.slot],
            "slot_centres_mm": [[0.0, json_mm(y)] for y in got.end.slot_ys],
            "fastener_centres_mm": [[json_mm(x), json_mm(y)] for x, y in end.fastener_centres],
            "fastener_diameter_mm": json_mm(end.diameters[0][0] if end.diameters else 0.0),
            "fastener_diameters_mm": [json_mm(d) for _, _, d in end.fastener_holes],
            "dee_mm": json_mm(got.end.dee),
            "turn_back_mm": json_mm(got.end.turn_back),
            "tip_mm": json_mm(got.last_to_tip),
            "keeper_length_mm": json_mm(got.keeper_length),
            "keeper_width_mm": json_mm(self.keeper.width if self.keeper else 0.0),
            "lining_length_mm": json_mm(self.strap.span - self.lining.start if self.lining else 0.0),
            "hole_seat_mm": json_mm(got.seat.hole_seat),
            "hole_seat_measured": self.buckle.seat_is_measured,
            "climb_mm": json_mm(got.climb),
            "girth_mm": [json_mm(girth) for girth in got.girths],
            "girth_uncertainty_mm": GIRTH_UNCERTAINTY,
            "reach_mm": [json_mm(reach) for reach in got.reaches],
            "posts": [post.as_json() for post in self.posts],
            "strength": self.strength.as_json(),
            "findings": [finding.as_json() for finding in self.findings],
            **({"run": self.run, "run_size": self.run_size} if self.run else {}),
        }


_TO_HOLE: Final = (
    "bar to the edge of the hole that bears",
    "bearing edge of the hole in use",
    "fold to the hole's centre",
    "centre of the",
)

_TO_TIP: Final = ("last hole to tip", "raised so that the tip passes the keeper")

_TO_ROW: Final = (
    "half-turn",
    "prong slot, length",
    "fastener holes",
    "fastener row A",
    "first stitch",
    "row A",
)

_TO_PITCH: Final = ("row pitch", "raised so that the rows close")

_TO_MATES: Final = ("half-turn", "hole ")

_SIZE: Final = ("size.girth", "size.worn_to_hole", "size.belt_size", "size.trousers", "sizes")

FIGURES: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "width": (("strap width",), ("width", "buckle.opening", "buckle.for_strap", "buckle")),
    "leather": ((), ("leather.thickness",)),
    "blank": (("turn-back", *_TO_HOLE, *_TO_TIP, "fold line to"), (*_SIZE, "length")),
    "fits": ((*_TO_HOLE, "least waist", "greatest waist"), _SIZE),
    "hole in use": (_TO_HOLE, _SIZE),
    "last to tip": (_TO_TIP, ("holes.last_to_tip", "holes.first")),
    "pitch": ((), ("holes.spacing",)),
    "holes": (("adjusting holes",), ("holes.diameter", "holes.count")),
    "tip": ((), ("tip.length", "tip.shape")),
    "corner": ((), ("corner_radius",)),
    "span": (("half-turn", "fold line to"), ("length",)),
    "turn-back": ((*_TO_MATES, "turn-back"), ("turn_back",)),
    "row A": (_TO_ROW, ()),
    "row B": ((*_TO_ROW, *_TO_PITCH), ("fastener_holes.spacing_along",)),
    "row C": (("row beyond the dee ring",), ("dee.bar_diameter",)),
    "row A′": (("half-turn", "hole A′"), ()),
    "row B′": (("half-turn", "hole A′", "hole B′"), ()),
    "row C′": (("half-turn", "hole A′", "hole B′", "hole C′"), ()),
    "slot": (("half-turn", "prong slot"), ("buckle",)),
    "fasteners": (("fastener holes",), ("fastener_holes.diameter", "fastener_holes.spacing_across")),
    "posts": ((), ("fastener", "fastener_holes.stacks")),
    "fold": ((), ("fold_thickness", "leather.thickness")),
    "bar": (("half-turn",), ("buckle.bar_diameter", "buckle")),
    "lining": ((), ("lining.thickness",)),
    "keeper leather": (("keeper between the layers",), ("keeper.thickness",)),
    "keeper length": (("keeper, ",), ("keeper.cut_long",)),
    "keeper width": ((), ("keeper.width",)),
    "keeper join": ((), ("keeper.lap", "keeper.join")),
}
"""Every figure that drawing and summary show: how the labels of its steps begin, and the keys that set it."""


@dataclass(frozen=True)
class Working:
    """How one figure was worked out.

    Args:
        steps: of the calculation, in order; none of a figure that was given, or is usual.
        keys: of the belt's or strap's table that set it, or what it hangs on most, the likeliest first.
    """

    steps: tuple[Step, ...]
    keys: tuple[str, ...]


def working_of(item: StrapDraft, figure: str) -> Working:
    """Return how a figure of a belt or strap was worked out, its steps those of the whole calculation.

    Args:
        item: its draft.
        figure: its name, such as ``"blank"``; of a strap's end, ``"end 2: turn-back"``.

    Raises:
        KeyError: there is no such figure.
    """
    end, _, name = figure.rpartition(": ")
    begins, keys = FIGURES[name]
    if end:
        place = int(end.removeprefix("end ")) - 1
        keys = tuple(f"ends.{place}.{key}" if key in ("turn_back", "buckle") else key for key in keys)
    steps = [step for step in item.steps if _label(step, end).startswith(begins)]
    if name == "blank":
        steps += _blank(item)
    return Working(tuple(steps), keys)


def _label(step: Step, end: str) -> str:
    """Return a step's label without the end it is of; of another end, nothing a figure begins with."""
    whose, _, label = step.label.rpartition(": ") if step.label.startswith("end ") else ("", "", step.label)
    return label if whose == end or not end else f"{whose}: {label}"


def _blank(item: StrapDraft) -> Iterator[Step]:
    """Yield the sum that a blank's length is, where it is one."""
    parts = [(f"{name}: turn-back" if name else "turn-back", end.turn_back) for name, end in item.turned]
    fit = item.figures
    if fit is not None:
        beyond = fit.holes.count - fit.spec.hole_in_use
        parts += [("hole in use", fit.hole_in_use), ("holes beyond it", beyond * fit.holes.spacing)]
        parts.append(("last hole to tip", fit.last_to_tip))
    elif item.strap.ends:
        parts.append(("between the ends", item.blank_length - sum(part for _, part in parts)))
    parts = [(name, mm) for name, mm in parts if mm]
    if len(parts) > 1 and abs(sum(mm for _, mm in parts) - item.blank_length) < 1e-6:
        formula, numbers = " + ".join(name for name, _ in parts), " + ".join(f"{mm:.2f}" for _, mm in parts)
        yield Step("blank", formula, numbers, item.blank_length)
