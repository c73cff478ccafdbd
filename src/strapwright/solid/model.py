"""A belt in the round: from its draft to named, coloured pieces, and whether they touch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import PartError
from strapwright.core.text import first_few
from strapwright.files.messages import did_you_mean
from strapwright.job.draft import draft
from strapwright.job.folding import fold
from strapwright.solid import hardware, leather
from strapwright.solid.modeller import cadquery, making
from strapwright.solid.touching import greatest_miss, touching

if TYPE_CHECKING:
    from collections.abc import Callable

    from strapwright.core.findings import Finding
    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.job.strap_draft import BeltDraft

TOLD: Final = 12
"""More ids than this are not listed in a message."""

COLOURS: Final = {
    "leather": (0.66, 0.38, 0.18),
    "lining": (0.80, 0.65, 0.46),
    "keeper": (0.58, 0.31, 0.14),
    "thread": (0.93, 0.89, 0.78),
    "posts": (0.80, 0.67, 0.36),
    "buckle": (0.74, 0.75, 0.77),
    "prongs": (0.68, 0.69, 0.71),
    "dee ring": (0.74, 0.75, 0.77),
}
"""What each piece is drawn in: red, green and blue, 0 to 1."""


@dataclass(frozen=True)
class ModelPiece:
    """One piece of the model.

    Args:
        name: in trade words; the same in every file.
        colour: red, green and blue, 0 to 1.
        shape: the modeller's solid, or a compound of several alike; mm.
    """

    name: str
    colour: tuple[float, float, float]
    shape: Any

    @property
    def volume(self) -> float:
        """Its volume, mm³."""
        return float(self.shape.Volume())


@dataclass(frozen=True)
class BeltModel:
    """A belt in the round.

    Args:
        id: of the belt.
        worn: whether it is closed as worn; else it lies flat.
        pieces: leather first.
        holes_miss: how far the worst pair of holes in front and turn-back lies apart once folded, mm.
        findings: whether things touch that should not.
    """

    id: str
    worn: bool
    pieces: tuple[ModelPiece, ...]
    holes_miss: float
    findings: tuple[Finding, ...]

    def piece(self, name: str) -> ModelPiece | None:
        """Return a piece by name, or None where the belt has none."""
        return next((piece for piece in self.pieces if piece.name == name), None)

    def as_json(self) -> dict[str, Any]:
        """Return the model's pieces and findings as plain JSON values."""
        return {
            "belt": self.id,
            "worn": self.worn,
            "pieces": [{"name": one.name, "volume_mm3": round(one.volume, 3)} for one in self.pieces],
            "holes_miss_mm": round(self.holes_miss, 4),
            "findings": [finding.as_json() for finding in self.findings],
            "version": 1,
        }


def model_belt(
    drafted: BeltDraft, *, worn: bool = False, stage: Callable[[str], None] = lambda _: None
) -> BeltModel:
    """Return one drafted belt in the round.

    Args:
        drafted: the belt.
        worn: close it in the hole in use, its tip through the keeper; else it lies flat.
        stage: called with what is done next, in words.

    Raises:
        PartError: the modeller is missing, or a piece that cannot be modelled, by name.
    """
    stage("loading the solid modeller")
    cadquery()
    folded = fold(drafted, worn=worn)
    pieces: list[ModelPiece] = []

    def make(name: str, shape: Callable[[], Any]) -> None:
        with making(f'belt "{drafted.id}": {name}'):
            made = shape()
        if made is not None:
            pieces.append(ModelPiece(name, COLOURS[name], made))

    stage("folding the strap round the bar")
    make("leather", lambda: leather.strap(folded))
    make("lining", lambda: leather.lining(folded))
    make("keeper", lambda: leather.keeper(folded))
    make("thread", lambda: leather.thread(folded))
    with making(f'belt "{drafted.id}": posts'):
        posts = hardware.fasteners(folded)
    if posts:
        make("posts", lambda: cadquery().Compound.makeCompound([post.shape for post in posts]))
    make("buckle", lambda: hardware.frame(folded))
    make("prongs", lambda: hardware.prongs(folded))
    make("dee ring", lambda: hardware.dee_ring(folded))
    stage("checking whether anything touches")
    with making(f'belt "{drafted.id}": touching pieces'):
        findings = touching(folded, {piece.name: piece.shape for piece in pieces}, posts)
    return BeltModel(drafted.id, worn, tuple(pieces), greatest_miss(folded), findings)


def model(
    job: Job,
    belt: str = "",
    *,
    worn: bool = False,
    drafted: Draft | None = None,
    stage: Callable[[str], None] = lambda _: None,
) -> BeltModel:
    """Return one belt of a job in the round; loading the solid modeller takes seconds.

    Args:
        job: the job.
        belt: the belt's id; may be left out where the job has only one.
        worn: close it in the hole in use, its tip through the keeper; else it lies flat.
        drafted: the job's draft, where it has been made before; None drafts it.
        stage: called with what is done next, in words.

    Raises:
        PartError: no such belt, no modeller, or a piece that cannot be modelled, by name.
    """
    return model_belt(belt_of(drafted or draft(job), belt), worn=worn, stage=stage)


def belt_of(drafted: Draft, belt: str = "") -> BeltDraft:
    """Return a belt of a draft by its id; without one, the only belt there is.

    Args:
        drafted: the draft.
        belt: the id, or nothing.

    Raises:
        PartError: none of that id, or several to choose from.
    """
    ids = [one.id for one in drafted.belts]
    if not ids:
        raise PartError("the job has no belt; only belts are modelled in the round")
    if not belt and len(ids) > 1:
        raise PartError(f"the job has {len(ids)} belts; choose one with --belt: {first_few(ids, TOLD)}")
    if belt and belt not in ids:
        known = f"{first_few(ids, TOLD)}{did_you_mean(belt, ids)}"
        raise PartError(f'the job has no belt "{belt}", only {known}')
    return drafted.belts[ids.index(belt)] if belt else drafted.belts[0]
