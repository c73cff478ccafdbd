"""What a maker should know before punching by hand: findings from the punches that are owned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Finding, Severity
from strapwright.trade.punches import HOUSE_TOLERANCE, nearest_round, snap_to_punch, snap_to_slot_punch

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from strapwright.job.dimensions.posts import Post
    from strapwright.trade.punches import Punch


_FASTENER_KEY: Final = "fastener_holes.diameter"


@dataclass(frozen=True)
class HandHole:
    """A sort of hole that may be punched by hand.

    Args:
        what: the holes in the plural, in trade words: ``"adjusting holes"``, ``"prong slots"``.
        key: the job's key that sets their size, such as ``"holes.diameter"``; empty where it follows
            from other measures.
        length: overall, mm; of a round hole its diameter.
        width: mm; of a round hole its diameter.
    """

    what: str
    key: str
    length: float
    width: float

    @property
    def is_round(self) -> bool:
        """Whether it is as long as it is wide."""
        return self.length - self.width < 1e-6

    @property
    def size(self) -> str:
        """Its size in words."""
        return f"{self.width:.4g} mm" if self.is_round else f"{self.length:.4g} × {self.width:.4g} mm"


def fastener_hand_holes(posts: Iterable[Post]) -> tuple[HandHole, ...]:
    """Return the sorts of hole a turned end's fasteners want, front or turn-back, the first row's first.

    Args:
        posts: the fastener of each row.
    """
    rows: dict[float, list[str]] = {}
    for post in posts:
        for hole, mark in zip(post.holes, ("", "′"), strict=True):
            rows.setdefault(hole, []).append(f"{post.row}{mark}")
    return tuple(
        HandHole(" ".join(["fastener holes", *(names if len(rows) > 1 else ())]), _FASTENER_KEY, d, d)
        for d, names in rows.items()
    )


def punch_findings(
    belt_id: str,
    holes: Iterable[HandHole],
    owned: Mapping[str, Punch],
    tolerance: float = HOUSE_TOLERANCE,
) -> tuple[Finding, ...]:
    """Return what to know about a belt's holes and the punches at hand.

    Nothing where the maker lists no punch. A hole with a punch within the tolerance, yet not of its very
    size, gives the note ``punch-near``; a long hole that two blows of a round punch can end, the note
    ``punch-ends``; any other the caution ``no-punch``.

    Args:
        belt_id: of the belt.
        holes: what would be punched.
        owned: the user's own punches.
        tolerance: how far off a punch may be, mm.

    Example:
        >>> from strapwright.trade.punches import Punch
        >>> own = {"no. 4": Punch("no. 4", "round", 4.0, 4.0)}
        >>> [f.code for f in punch_findings("ines", [HandHole("adjusting holes", "", 5.0, 5.0)], own)]
        ['no-punch']
    """
    if not owned:
        return ()
    punches = tuple(owned.values())
    found = (_finding(belt_id, hole, punches, tolerance) for hole in holes)
    return tuple(finding for finding in found if finding is not None)


def _finding(belt_id: str, hole: HandHole, punches: tuple[Punch, ...], tolerance: float) -> Finding | None:
    if hole.is_round:
        punch = snap_to_punch(hole.width, punches, tolerance)
    else:
        punch = snap_to_slot_punch(hole.length, hole.width, punches, tolerance)
    if punch is not None:
        return _near(belt_id, hole, punch)
    if not hole.is_round and (end := snap_to_punch(hole.width, punches, tolerance)):
        return _ends(belt_id, hole, end)
    return _none(belt_id, hole, punches, tolerance)


def _near(belt_id: str, hole: HandHole, punch: Punch) -> Finding | None:
    """Return nothing where the punch is of the very size."""
    off = max(abs(punch.length - hole.length), abs(punch.width - hole.width))
    if off < 0.005:
        return None
    drawn = f"; set {hole.key} to {punch.size} to draw and cut it so" if hole.key else ": it is close enough"
    return Finding(
        "punch-near",
        Severity.NOTE,
        f"The {hole.what} are {hole.size}; your nearest punch, {punch.name}, makes {punch.size}.",
        f"By hand, use it{drawn}.",
        belt_id,
        {"wanted_mm": hole.width, "punch_mm": punch.width, "off_mm": off},
    )


def _ends(belt_id: str, hole: HandHole, punch: Punch) -> Finding:
    return Finding(
        "punch-ends",
        Severity.NOTE,
        f"You own no punch for the {hole.what} of {hole.size}; {punch.name} ({punch.size}) rounds the ends.",
        f"By hand, punch both ends, centres {hole.length - punch.width:.1f} mm apart, and cut between them.",
        belt_id,
        {"length_mm": hole.length, "width_mm": hole.width, "punch_mm": punch.width},
    )


def _none(belt_id: str, hole: HandHole, punches: tuple[Punch, ...], tolerance: float) -> Finding:
    near = nearest_round(hole.width, punches)
    have = f"the nearest round one, {near.name}, is {near.size}" if near else "none of yours is round"
    ways = [f"set {hole.key} to a size you own"] if hole.key else []
    ways.append("add the punch to your catalogue when you have it, or have the machine cut them")
    advice = ", ".join(ways)
    return Finding(
        "no-punch",
        Severity.CAUTION,
        f"You own no punch within {tolerance:g} mm for the {hole.what} of {hole.size}; {have}.",
        f"{advice[:1].upper()}{advice[1:]}.",
        belt_id,
        {"wanted_mm": hole.width, "nearest_mm": near.width if near else 0.0},
    )
