"""From a job to a draft: every belt's parts, numbers and findings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from strapwright.errors import PartError
from strapwright.job.figures import Figures, figures
from strapwright.job.judge import judge
from strapwright.parts.buckle_end import BuckleEnd
from strapwright.parts.hole_row import HoleRow
from strapwright.parts.keeper import KeeperStrip
from strapwright.parts.part import Part, PartKind
from strapwright.parts.strap import Strap
from strapwright.parts.tips import make_tip
from strapwright.trade.fasteners import post_length

if TYPE_CHECKING:
    from strapwright.findings import Finding
    from strapwright.job.belt import Belt, Leather, Tip
    from strapwright.job.buckle import Buckle
    from strapwright.job.model import House, Job

JSON_VERSION = 1


@dataclass(frozen=True)
class Post:
    """The screw post of one fastener row.

    Args:
        row: "A" nearest the buckle, then "B".
        stack: uncompressed leather under the heads, mm.
        length: barrel to buy, mm; None where every post is longer than the stack.
    """

    row: str
    stack: float
    length: float | None


@dataclass(frozen=True)
class BeltDraft:
    """One belt, drafted.

    Args:
        id: of the belt.
        quantity: how many alike.
        figures: its numbers.
        strap: its definition, with every dimension.
        tip_shape: the tip's name.
        keeper: its keeper's definition, if it has one.
        posts: screw posts by row; empty for other fasteners.
        findings: what a maker should know.
    """

    id: str
    quantity: int
    figures: Figures
    strap: Strap
    tip_shape: str
    keeper: KeeperStrip | None
    posts: tuple[Post, ...]
    findings: tuple[Finding, ...]

    @property
    def blank_length(self) -> float:
        """End of the turn-back to the tip, mm."""
        return self.figures.turn_back + self.strap.tip_end

    def as_json(self) -> dict[str, Any]:
        """Return the belt as plain JSON values, mm."""
        got, holes = self.figures, self.strap.holes
        return {
            "id": self.id,
            "quantity": self.quantity,
            "strap_width_mm": _mm(got.width),
            "thickness_mm": _mm(got.thickness),
            "blank_length_mm": _mm(self.blank_length),
            "half_turn_mm": _mm(got.half_turn),
            "middle_hole_mm": _mm(got.middle_hole),
            "hole_in_use_mm": _mm(got.hole_in_use),
            "hole_centres_mm": [[_mm(x), _mm(y)] for x, y in holes.centres],
            "hole_diameter_mm": _mm(holes.diameter),
            "slot_mm": [_mm(size) for size in got.slot],
            "slot_centres_mm": [[0.0, _mm(y)] for y in got.slot_ys],
            "fastener_centres_mm": [[_mm(x), _mm(y)] for x, y in self.strap.buckle_end.fastener_centres],
            "fastener_diameter_mm": _mm(self.strap.buckle_end.fastener_diameter),
            "turn_back_mm": _mm(got.turn_back),
            "tip_mm": _mm(got.last_to_tip),
            "keeper_length_mm": _mm(got.keeper_length),
            "keeper_width_mm": _mm(self.keeper.width if self.keeper else 0.0),
            "girth_mm": [_mm(girth) for girth in got.girths],
            "posts": [
                {
                    "row": post.row,
                    "stack_mm": _mm(post.stack),
                    "length_mm": None if post.length is None else _mm(post.length),
                }
                for post in self.posts
            ],
            "findings": [finding.as_json() for finding in self.findings],
        }


@dataclass(frozen=True)
class Draft:
    """A job, drafted.

    Args:
        name: of the job.
        digest: of the job.
        belts: in the job's order.
        parts: every piece to cut, copies included, ids unique.
    """

    name: str
    digest: str
    belts: tuple[BeltDraft, ...]
    parts: tuple[Part, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, belt by belt."""
        return tuple(finding for belt in self.belts for finding in belt.findings)

    def as_json(self) -> dict[str, Any]:
        """Return the draft as plain JSON values, mm."""
        return {"belts": [belt.as_json() for belt in self.belts], "version": JSON_VERSION}


def _mm(value: float) -> float:
    return round(value, 4) + 0.0


def draft(job: Job) -> Draft:
    """Draft every belt of a job.

    Args:
        job: as read from a job file.

    Returns:
        Parts in the one geometry's frame, numbers and findings.

    Raises:
        PartError: belts whose numbers make no sound part, one line each: belt, field, value, what is allowed.
    """
    belts: list[BeltDraft] = []
    parts: list[Part] = []
    wrong: list[str] = []
    for belt in job.belts:
        leather = job.leather_of(belt)
        try:
            drafted = draft_belt(belt, job.buckle_of(belt), leather, job.house)
            parts.extend(_parts(drafted, leather))
        except PartError as error:
            wrong.append(f'belt "{belt.id}": {error}')
            continue
        belts.append(drafted)
    if wrong:
        raise PartError("\n".join(wrong))
    return Draft(job.name, job.digest, tuple(belts), tuple(parts))


def draft_belt(belt: Belt, buckle: Buckle, leather: Leather, house: House) -> BeltDraft:
    """Draft one belt.

    Args:
        belt: what is asked for.
        buckle: its buckle.
        leather: its leather.
        house: the workshop's settings.

    Raises:
        PartError: its numbers make no sound part.
    """
    got = figures(belt, buckle, leather, house)
    row = HoleRow(
        got.middle_hole,
        belt.holes.count,
        belt.holes.spacing,
        got.hole_diameter,
        len(got.hole_ys),
        got.hole_ys[-1] - got.hole_ys[0],
    )
    end = BuckleEnd(
        turn_back=got.turn_back,
        slot_length=got.slot[0],
        slot_width=got.slot[1],
        slot_ys=got.slot_ys,
        rows=got.rows,
        mates=got.mates,
        fastener_ys=got.fastener_ys,
        fastener_diameter=belt.fastener_holes.diameter,
        corner_radius=belt.corner_radius,
    )
    strap = Strap(
        width=got.width,
        tip_end=row.xs[-1] + got.last_to_tip,
        tip=make_tip(belt.tip.shape, got.width, _given(belt.tip)),
        buckle_end=end,
        holes=row,
        crease=belt.crease.distance if belt.crease else 0.0,
    )
    keeper = None
    if got.keeper is not None:
        lap = got.keeper.lap if got.keeper.join == "lap" else 0.0
        keeper = KeeperStrip(got.keeper_length, got.keeper.width, got.keeper.join, lap)
    posts: tuple[Post, ...] = ()
    if belt.fastener == "screw_post":
        stack = 2 * got.thickness
        posts = tuple(Post(name, stack, post_length(stack)) for name, _ in zip("AB", got.rows, strict=False))
    drafted = BeltDraft(belt.id, belt.quantity, got, strap, belt.tip.shape, keeper, posts, ())
    return replace(drafted, findings=judge(belt, buckle, got, posts))


def _given(tip: Tip) -> dict[str, float]:
    return {name: value for name, value in tip if name != "shape" and value is not None}


def _parts(drafted: BeltDraft, leather: Leather) -> list[Part]:
    """Return the belt's pieces, once for every copy; copies share their contours."""
    pieces = [(PartKind.STRAP, drafted.strap.outline, drafted.strap.features(), leather.thickness)]
    if drafted.keeper is not None and drafted.figures.keeper is not None:
        thickness = drafted.figures.keeper.thickness or leather.thickness
        pieces.append((PartKind.KEEPER, drafted.keeper.outline, drafted.keeper.features(), thickness))
    found = []
    for copy in range(1, drafted.quantity + 1):
        number = f"-{copy}" if drafted.quantity > 1 else ""
        found += [
            Part(f"{drafted.id}/{kind}{number}", drafted.id, kind, outline, features, t, leather.tannage)
            for kind, outline, features, t in pieces
        ]
    return found
