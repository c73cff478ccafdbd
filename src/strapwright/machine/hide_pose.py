"""The pose of a hide on the bed: as drawn, or found from two of its points touched on the machine."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError
from strapwright.core.findings import Finding, Severity
from strapwright.core.units import beyond, percent_beyond
from strapwright.geometry.transform import Placement

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.machine.profile.machine import Machine
    from strapwright.nesting.hide.types import Hide

MOST_APART: Final = 1.0
"""Ways between the two points that differ by more than this from hide to machine are a caution, mm."""

MOST_STRETCH: Final = 0.005
"""The way between the two points may differ by this share from hide to machine; more is a slip."""

LEAST_APART: Final = 50.0
"""Points nearer than this say too little of the turn, mm: 0.5 mm off over 50 mm is 9 mm off at 900."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Touch:
    """One point of the hide, and where the machine stood when its pointer or blade touched it.

    Args:
        hide: in the hide's coordinates, mm.
        machine: in bed coordinates, mm.
        name: of the point, where it has one: a registration hole's.
    """

    hide: Point
    machine: Point
    name: str = ""


def touch_at(hide: Point, own: Point, machine: Machine) -> Touch:
    """Return a touch from what the machine shows: its own coordinates, counted from its own origin.

    Args:
        hide: in the hide's coordinates, mm.
        own: as the machine shows them, in the profile's units.
        machine: where its origin is, and which way its axes count.

    Example:
        >>> from strapwright.machine.profile.machine import read_machine
        >>> touch_at((5, 5), (30.0, 40.0), read_machine("wide-laser")).hide
        (5, 5)
    """
    return Touch(hide, machine.axes.bed(own[0] * machine.unit_mm, own[1] * machine.unit_mm))


@dataclass(frozen=True)
class HidePose:
    """The pose of a hide on the bed: its turn and shift, and how they were found.

    Args:
        placement: from the hide's coordinates to the bed's.
        how: as drawn; turned and moved by the plan, to be laid so by hand; or touched.
        touches: the two points touched, none otherwise.
    """

    placement: Placement = field(default_factory=Placement)
    how: str = "drawn"
    touches: tuple[Touch, ...] = ()

    @property
    def greatest_miss(self) -> float:
        """How far either point lies from where it was touched, mm: turn and shift cannot undo stretch."""
        return max(
            (math.dist(self.placement.apply_to_point(*touch.hide), touch.machine) for touch in self.touches),
            default=0.0,
        )

    @property
    def spans(self) -> tuple[float, float] | None:
        """How far the two touches are apart on the hide and on the machine, mm; None without touches."""
        if not self.touches:
            return None
        one, two = self.touches
        return math.dist(one.hide, two.hide), math.dist(one.machine, two.machine)

    def words(self, machine: Machine) -> str:
        """Return the pose in words, in the machine's own numbers, for sheets and headers."""
        put = self.placement
        side = "counter-clockwise" if put.turn > 0 else "clockwise"
        turned = f"turned {math.degrees(abs(put.turn)):.4g} deg {side}" if put.turn else ""
        if self.how == "touched":
            points = " and ".join(
                f"{touch.name or f'point {_typed(touch.hide)} mm of the hide file'} at "
                f"{_typed(machine.shown(*touch.machine), 'x ', 'y ')}"
                for touch in self.touches
            )
            return f"touched: {points} {machine.frame}{', ' if turned else ''}{turned}"
        where = f"the hide file's 0, 0 at {machine.shown_words(put.x, put.y)} {machine.frame}"
        if self.how == "laid":
            return f"{turned}, {where}" if turned else where
        return f"as drawn, {where}"

    def span_words(self, machine: Machine) -> str:
        """Return in words how far apart the touches are in the file and on the machine; empty without."""
        if self.spans is None:
            return ""
        ours, theirs = self.spans
        difference = f"{machine.length_words(abs(theirs - ours))} {'more' if theirs > ours else 'less'}"
        return (
            f"between the touches the file has {machine.length_words(ours)}, the machine "
            f"{machine.length_words(theirs)}, {difference}"
        )


AS_DRAWN: Final = HidePose()
"""The hide's coordinates are the bed's."""


def hide_pose(touches: Sequence[Touch], least_apart: float = LEAST_APART, slack: float = 0.0) -> HidePose:
    """Return how a hide lies from two of its points touched on the machine.

    The turn is that of the line through them, and their middle is where it was touched: what the two
    ways differ by in length is shared between the ends.

    Args:
        touches: two.
        least_apart: points nearer to each other are refused, mm.
        slack: ways that differ by no more than this are taken even where it is more than 0.5 %, mm.

    Raises:
        PlanError: not two points, two too near each other, or ways that differ by more than 0.5 %.

    Example:
        >>> pose = hide_pose([Touch((0, 0), (10, 20)), Touch((100, 0), (10, 120))])
        >>> round(math.degrees(pose.placement.turn), 6), pose.placement.x, pose.placement.y
        (90.0, 10.0, 20.0)
    """
    if len(touches) != 2:
        raise PlanError(
            f"--touch was given {len(touches)} time{'' if len(touches) == 1 else 's'}; expected twice, at "
            "two points of the hide far from each other"
        )
    one, two = touches
    on_hide, on_bed = math.dist(one.hide, two.hide), math.dist(one.machine, two.machine)
    for way, where in ((on_hide, "on the hide"), (on_bed, "on the machine")):
        if way < least_apart:
            raise PlanError(
                f"--touch: the two points are {way:.1f} mm apart {where}; expected {least_apart:g} mm or "
                "more, and as far as the hide allows"
            )
    scale = on_bed / on_hide
    if abs(scale - 1) > MOST_STRETCH and abs(on_bed - on_hide) > slack:
        most = f"{slack:g} mm or {MOST_STRETCH * 100:g}%" if slack else f"{MOST_STRETCH * 100:g}%"
        raise PlanError(
            f"--touch: the two points are {on_hide:.2f} mm apart on the hide and {on_bed:.2f} mm on "
            f"the machine, {percent_beyond(abs(scale - 1), MOST_STRETCH)} {'more' if scale > 1 else 'less'}; "
            f"expected {most} at most; touch them again, or check whether the numbers belong to other "
            "points"
        )
    turn = math.remainder(_direction(one.machine, two.machine) - _direction(one.hide, two.hide), 2 * math.pi)
    x, y = Placement(turn).apply_to_point(*_middle(one.hide, two.hide))
    at_x, at_y = _middle(one.machine, two.machine)
    return HidePose(Placement(turn, at_x - x, at_y - y), "touched", (one, two))


def pose_findings(hide: Hide, pose: HidePose) -> Iterator[Finding]:
    """Yield a caution for a hide whose place on the bed was not measured, or not closely enough."""
    if pose.how == "touched":
        yield from touch_findings(hide.name, pose)
        return
    flaws = len(hide.flaws)
    what = "a cut may run through a flaw" if flaws else "a cut may run off its edge"
    yield Finding(
        "hide-not-touched",
        Severity.CAUTION if flaws else Severity.NOTE,
        f"You have not said where the hide sits on the bed. Unless it sits exactly as drawn, {what}.",
        "Touch two points of it and give them with --touch, or run the outline check first and watch it.",
        hide.name,
    )


def touch_findings(hide: str, pose: HidePose) -> Iterator[Finding]:
    """Yield a caution where the two touches are not as far apart as their points are on the hide.

    Args:
        hide: its name.
        pose: from two touches.
    """
    assert pose.spans is not None
    ours, theirs = pose.spans
    apart = abs(theirs - ours)
    if apart > MOST_APART:
        yield Finding(
            "touches-differ",
            Severity.CAUTION,
            f"The two touched points are {ours:.2f} mm apart in the file and {theirs:.2f} mm on the machine: "
            f"{beyond(apart, MOST_APART, 2)} mm {'more' if theirs > ours else 'less'}, and {MOST_APART:g} mm "
            f"is the most allowed. Cuts may be {apart / 2:.2f} mm off.",
            "Make sure the leather is flat and not stretched and that these are the points given, and touch "
            "both again.",
            hide,
            {"difference_mm": apart},
        )


def _typed(point: Point, x: str = "", y: str = "") -> str:
    """Return two coordinates with the decimals they were given with."""
    return f"{x}{point[0]:.9g}, {y}{point[1]:.9g}"


def _direction(one: Point, two: Point) -> float:
    return math.atan2(two[1] - one[1], two[0] - one[0])


def _middle(one: Point, two: Point) -> Point:
    return (one[0] + two[0]) / 2, (one[1] + two[1]) / 2
