"""From a job to a draft: every belt's parts, numbers and findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from strapwright.core.errors import PartError
from strapwright.core.notebook import svg_of
from strapwright.core.units import json_mm
from strapwright.job.dimensions.belt import Figures, figures
from strapwright.job.judge.strap import judge
from strapwright.job.judge.strength import at_the_hole, strength_of
from strapwright.job.marks import with_marks
from strapwright.job.strap_draft import DraftedEnd, StrapDraft, draft_strap, turned_end
from strapwright.parts.end import CutEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.keeper import KeeperStrip
from strapwright.parts.lining import Lining
from strapwright.parts.part import EVERYWHERE, PartKind
from strapwright.parts.strap import Strap
from strapwright.trade.choice import edge_beveler, ounces
from strapwright.trade.sizing import GIRTH_UNCERTAINTY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from strapwright.core.findings import Finding
    from strapwright.job.catalogue.buckle import Buckle
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.dimensions.posts import Post
    from strapwright.job.judge.strength import Strength
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.job import House, Job
    from strapwright.parts.part import Part

JSON_VERSION = 1

LINING_CLEARANCE = 2.0
"""A lining begins this far behind the prong slot, mm, so that it does not thicken the fold."""


@dataclass(frozen=True, kw_only=True)
class BeltDraft(StrapDraft):
    """One belt, drafted: a strap with a buckle's end, a tip, a row of adjusting holes and a size.

    Args:
        asked: what was asked for.
        strap: its definition, with every dimension.
        strength: an estimate to compare designs by, not to rate them.
        buckle: its buckle.
        house: the workshop's settings.
        figures: its numbers.
        tip_shape: the tip's name; "sketch" for a maker's own.
        keeper: its keeper's definition, if it has one.
        lining: its lining's definition, if it has one.
    """

    asked: Belt
    strap: Strap
    strength: Strength
    buckle: Buckle
    house: House
    figures: Figures
    tip_shape: str
    keeper: KeeperStrip | None
    lining: Lining | None

    @property
    def posts(self) -> tuple[Post, ...]:
        """What each fastener row takes; empty for a stitched end."""
        return self.figures.end.posts

    @property
    def thickness(self) -> float:
        """Of strap and lining, mm."""
        return self.figures.layers.strap

    def pieces(self) -> Iterator[Part]:
        """Yield what is cut for one of it: the strap, its lining and its keeper."""
        yield from super().pieces()
        layers, asked = self.figures.layers, self.asked
        if self.lining is not None and asked.lining is not None:
            outline, holes = self.lining.outline, self.lining.features()
            yield self._piece(PartKind.LINING, outline, holes, layers.lining, asked.lining.tannage)
        if self.keeper is not None:
            yield self._piece(
                PartKind.KEEPER,
                self.keeper.outline,
                self.keeper.features(),
                layers.keeper,
                hidden=self.keeper.hidden,
                loaded=EVERYWHERE,
                turn_step=asked.keeper.turn_step if asked.keeper else None,
            )

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
            "middle_hole_mm": json_mm(got.middle_hole),
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
    """Draft every belt of a job.

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
    """Draft those belts of a job whose numbers make sound parts.

    Args:
        job: as read from a job file.
        progress: called with how many belts are done, and how many there are.

    Returns:
        The draft of those belts and straps; and for every other its place among the job's belts, straps
        counted on after them, and what is wrong.
    """
    belts: list[BeltDraft] = []
    parts: list[Part] = []
    wrong: list[tuple[int, str]] = []
    for index, belt in enumerate(job.belts):
        if progress is not None:
            progress(index, len(job.belts))
        leather = job.leather_of(belt)
        try:
            drafted = draft_belt(belt, job.buckle_of(belt), leather, job.house, job.catalogue)
            parts.extend(drafted.parts())
        except PartError as error:
            wrong.append((index, f'belt "{belt.id}": {error}'))
            continue
        belts.append(drafted)
    straps: list[StrapDraft] = []
    for index, asked in enumerate(job.straps, len(job.belts)):
        leather = job.leather_of(asked)
        try:
            straps.append(draft_strap(asked, leather, job.house, job.catalogue))
            parts.extend(straps[-1].parts())
        except PartError as error:
            wrong.append((index, f'strap "{asked.id}": {error}'))
    return Draft(job.name, job.digest, tuple(belts), tuple(parts), tuple(straps)), tuple(wrong)


def draft_belt(belt: Belt, buckle: Buckle, leather: Leather, house: House, catalogue: Catalogue) -> BeltDraft:
    """Draft one belt.

    Args:
        belt: what is asked for.
        buckle: its buckle.
        leather: its leather.
        house: the workshop's settings.
        catalogue: hardware and punches at hand.

    Raises:
        PartError: its numbers make no sound part.
    """
    got = figures(belt, buckle, leather, house, catalogue)
    strap, mark_findings = with_marks(belt, got, _strap(belt, got))
    strength = strength_of(
        got.width, got.layers.strap, leather, [("", got.end)], partial(at_the_hole, belt, got)
    )
    return BeltDraft(
        id=belt.id,
        quantity=belt.quantity,
        asked=belt,
        buckle=buckle,
        leather=leather,
        house=house,
        figures=got,
        strap=strap,
        ends=_ends(belt, got),
        steps=got.steps,
        tip_shape=belt.tip.name,
        keeper=_keeper(got),
        lining=Lining(strap=strap, start=_lining_start(got)) if belt.lining else None,
        strength=strength,
        findings=judge(belt, buckle, leather, house, catalogue, got, strength) + mark_findings,
        run=belt.run,
        run_size=belt.sizes[0].label if belt.run and belt.sizes else "",
    )


def _strap(belt: Belt, got: Figures) -> Strap:
    row = HoleRow(
        middle=got.middle_hole,
        count=belt.holes.count,
        spacing=got.spacing,
        diameter=got.hole_diameter,
        length=got.hole_length if belt.holes.shape == "oval" else 0.0,
        rows=len(got.hole_ys),
        across=got.hole_ys[-1] - got.hole_ys[0],
    )
    return Strap(
        width=got.width,
        span=row.xs[-1] + got.last_to_tip,
        ends=(turned_end(belt, got.end), CutEnd(belt.tip.part(got.width))),
        hole_rows=(row,),
        crease=belt.crease.distance if belt.crease else 0.0,
    )


def _ends(belt: Belt, got: Figures) -> tuple[DraftedEnd, DraftedEnd]:
    name, key = belt.buckle.name, f"[[belt]] {belt.id}"
    buckle = f"buckle {name}" if name else "buckle as measured"
    bought = [(buckle, belt.buckle.price, f"[buckle.{name}] price" if name else f"{key} buckle.price")]
    if belt.dee is not None:
        bought.append((f"dee ring {belt.dee.width:g} mm", belt.dee.price, f"{key} dee.price"))
    return DraftedEnd("", buckle, got.end, tuple(bought)), DraftedEnd("", f"{belt.tip.name} tip")


def _keeper(got: Figures) -> KeeperStrip | None:
    asked = got.keeper
    if asked is None:
        return None
    lap = asked.lap if asked.join == "lap" else 0.0
    return KeeperStrip(got.keeper_length, asked.width, asked.join, lap, asked.cut_long, asked.guides)


def _lining_start(got: Figures) -> float:
    """Return where a lining begins: behind the slot, or behind the bar where there is none."""
    return max(got.end.slot[0], got.end.half_turn) / 2 + LINING_CLEARANCE
