"""What to know before you punch by hand: findings from the punches you own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Cure, Finding, Severity
from strapwright.rules.punches import (
    AWL_HOLE,
    HOUSE_TOLERANCE,
    nearest_round,
    snap_to_punch,
    snap_to_slot_punch,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.rules.punches import Punch


_FASTENER_KEY: Final = "fastener_holes.diameter"
_ADJUSTING_KEY: Final = "holes.diameter"


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


def hand_holes(item: StrapDraft) -> Iterator[HandHole]:
    """Yield the sorts of hole one would punch by hand in a belt or strap.

    Args:
        item: its draft.
    """
    for row in item.strap.hole_rows:
        yield HandHole("adjusting holes" if item.closes else "holes", _ADJUSTING_KEY, row.reach, row.diameter)
    circles = (one.contour.as_circle(1e-6) for one in item.strap.openings)
    drawn = {round(circle[2], 3) for circle in circles if circle is not None}
    for d in sorted(d for d in drawn if d >= AWL_HOLE):
        yield HandHole("drawn holes", "", d, d)
    for _, end in item.turned:
        yield from fastener_hand_holes(end.posts)
        if end.slot_ys:
            yield HandHole("prong slots" if len(end.slot_ys) > 1 else "prong slot", "", *end.slot)


def punch_findings(belt_id: str, holes: Iterable[HandHole], owned: Mapping[str, Punch]) -> Iterator[Finding]:
    """Yield what to know about the holes of a belt or strap and the punches at hand.

    Nothing where no punch is listed. A hole with a punch within the tolerance, yet not of its very
    size, gives the note ``punch-near``; a long hole that two blows of a round punch can end, the note
    ``punch-ends``; any other the caution ``no-punch``.

    Args:
        belt_id: of the belt or strap.
        holes: what would be punched.
        owned: the user's own punches.

    Example:
        >>> from strapwright.rules.punches import Punch
        >>> own = {"no. 4": Punch("no. 4", "round", 4.0, 4.0)}
        >>> [f.code for f in punch_findings("ines", [HandHole("adjusting holes", "", 5.0, 5.0)], own)]
        ['no-punch']
    """
    for hole in holes if owned else ():
        yield from _of_one_sort(belt_id, hole, tuple(owned.values()))


def _of_one_sort(belt_id: str, hole: HandHole, punches: tuple[Punch, ...]) -> Iterator[Finding]:
    punch = end = snap_to_punch(hole.width, punches)
    if not hole.is_round:
        punch = snap_to_slot_punch(hole.length, hole.width, punches)
    keys = (hole.key,) if hole.key else ()
    if punch is not None:
        off = max(abs(punch.length - hole.length), abs(punch.width - hole.width))
        drawn = (
            f"; set {hole.key} to {punch.size} to draw and cut it so" if hole.key else ": it is close enough"
        )
        if off >= 0.005:  # else it is of the very size
            yield Finding(
                "punch-near",
                Severity.NOTE,
                f"The {hole.what} are {hole.size}; your nearest punch, {punch.name}, makes {punch.size}.",
                f"By hand, use it{drawn}.",
                belt_id,
                {"wanted_mm": hole.width, "punch_mm": punch.width, "off_mm": off},
                keys,
                # Fastener holes are drilled for their fastener: two sorts of them may share one key.
                (Cure(hole.key, punch.size),) if hole.is_round and hole.key == _ADJUSTING_KEY else (),
            )
    elif end is not None:
        yield Finding(
            "punch-ends",
            Severity.NOTE,
            f"You own no punch for the {hole.what} of {hole.size}; {end.name} ({end.size}) rounds the ends.",
            f"By hand, punch both ends, centres {hole.length - end.width:.1f} mm apart, and cut between "
            "them.",
            belt_id,
            {"length_mm": hole.length, "width_mm": hole.width, "punch_mm": end.width},
            keys,
        )
    else:
        near = nearest_round(hole.width, punches)
        have = f"the nearest round one, {near.name}, is {near.size}" if near else "none of yours is round"
        add = "add the punch to your catalogue when you have it, or have the machine cut them"
        advice = f"set {hole.key} to a size you own, {add}" if hole.key else add
        yield Finding(
            "no-punch",
            Severity.CAUTION,
            f"You own no punch within {HOUSE_TOLERANCE:g} mm for the {hole.what} of {hole.size}; {have}.",
            f"{advice[:1].upper()}{advice[1:]}.",
            belt_id,
            {"wanted_mm": hole.width, "nearest_mm": near.width if near else 0.0},
            keys,
        )
