"""From what a file gives to a sound hide: checked, mended where allowed, thinned out where crowded."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Finding, Severity
from strapwright.nesting.hide.mend_outline import mended, thinned_out
from strapwright.nesting.hide.outline_check import flaw_problem, leather_of, outline_problem
from strapwright.nesting.hide.types import Hide, ThicknessZone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.nesting.hide.types import Flaw

    Floats = NDArray[np.float64]

THINNED: Final = "outline-thinned-out"
"""Code of the finding that an outline was thinned out."""


def sound_hide(
    source: str,
    name: str,
    outline: Floats,
    flaws: tuple[Flaw, ...],
    *,
    zones: tuple[ThicknessZone, ...] = (),
    key: str = "outline",
    flaw_keys: Sequence[str] = (),
    repair: bool = False,
) -> Hide:
    """Build a hide from what a file gives, or tell all that is wrong with its shapes.

    Args:
        source: the file's name as the person gave it.
        name: the hide's name.
        outline: its outline, (N, 2) mm.
        flaws: its flaws; those with a key first.
        zones: places thicker or thinner than the rest.
        key: where the outline stands in the file.
        flaw_keys: where flaws stand in the file; drawn ones have none.
        repair: whether an outline or flaw that crosses itself may be mended.

    Returns:
        The hide, with a finding for everything that was changed.

    Raises:
        FileProblems: every unsound shape, one line each.
    """
    reading = _Reading(source, name, repair)
    sound = reading.shape(outline, key, "outline")
    wrong = outline_problem(sound)
    reading.tell(key, wrong)
    leather = None if wrong else leather_of(sound)
    good_flaws = []
    for number, flaw in enumerate(flaws):
        where = flaw_keys[number] if number < len(flaw_keys) else str(flaw.kind)
        polygon = reading.shape(flaw.polygon, where, f"{flaw.kind} {number + 1}")
        reading.tell(where, flaw_problem(polygon, leather))
        good_flaws.append(replace(flaw, polygon=polygon))
    good_zones = []
    for number, zone in enumerate(zones, start=1):
        where = f"zone[{number}]"
        polygon = reading.shape(zone.polygon, where, where)
        reading.tell(where, flaw_problem(polygon, leather))
        good_zones.append(ThicknessZone(zone.thickness, polygon))
    reading.stop()
    sound = reading.thinner(sound, "inward", "outline")
    hide = Hide(
        name,
        sound,
        tuple(
            replace(flaw, polygon=reading.thinner(flaw.polygon, "outward", f"{flaw.kind} {number}"))
            for number, flaw in enumerate(good_flaws, start=1)
        ),
        thickness_zones=tuple(good_zones),
        findings=tuple(reading.findings),
    )
    if hide.wholly_void:
        reading.tell(
            key,
            "the holes and cuts cover the whole hide, so nothing can be cut from it; remove it from the list",
        )
        reading.stop()
    return hide


def thinned(hide: Hide) -> Hide:
    """Return a hide with the crowded outlines of it and its flaws thinned out, and what that costs told.

    What was read from a file is so already; one made in Python may have any number of corners.

    Args:
        hide: a sound hide.

    Returns:
        The hide itself where nothing is crowded.
    """
    reading = _Reading("", hide.name, repair=False)
    outline = reading.thinner(hide.outline, "inward", "outline")
    flaws = tuple(
        replace(flaw, polygon=reading.thinner(flaw.polygon, "outward", f"{flaw.kind} {number}"))
        for number, flaw in enumerate(hide.flaws, start=1)
    )
    if not reading.findings:
        return hide
    leather = leather_of(outline)
    # What lay in the rim that was given away lies off the hide now, and matters no more.
    return replace(
        hide,
        outline=outline,
        flaws=tuple(flaw for flaw in flaws if flaw_problem(flaw.polygon, leather) is None),
        thickness_zones=tuple(z for z in hide.thickness_zones if flaw_problem(z.polygon, leather) is None),
        findings=(*hide.findings, *reading.findings),
    )


class _Reading:
    """What was found while one file's shapes were looked at."""

    def __init__(self, source: str, name: str, repair: bool) -> None:
        self.findings: list[Finding] = []
        self._source, self._name, self._repair = source, name, repair
        self._problems: list[str] = []

    def tell(self, where: str, text: str | None) -> None:
        """Note a mistake, if there is one."""
        if text:
            self._problems.append(f"{self._source}: {where}: {text}")

    def stop(self) -> None:
        """Raise what mistakes were found, if any."""
        if self._problems:
            raise FileProblems(tuple(self._problems))

    def shape(self, points: Floats, where: str, what: str) -> Floats:
        """Return corners, mended where they need it and the maker allows it."""
        array = np.asarray(points, dtype=np.float64)
        better = mended(array) if self._repair else None
        if better is None:
            return array
        self.findings.append(
            Finding(
                "outline-repaired",
                Severity.CAUTION,
                f"The {what} was repaired: {better[1]}.",
                f"Compare the picture with the leather before cutting, or measure {where} again.",
                subject=self._name,
                numbers={"corners": float(len(better[0]))},
            )
        )
        return better[0]

    def thinner(self, points: Floats, side: str, what: str) -> Floats:
        """Return corners thinned out where there are too many, and tell what that cost."""
        import shapely

        fewer = thinned_out(points, "inward" if side == "inward" else "outward")
        if len(fewer) == len(points):
            return fewer
        lost = abs(float(shapely.Polygon(points).area - shapely.Polygon(fewer).area))
        share = lost / float(shapely.Polygon(points).area)
        what_happened = "gives away" if side == "inward" else "takes up"
        self.findings.append(
            Finding(
                THINNED,
                Severity.NOTE,
                f"The {what}'s {len(points)} corners were thinned out to {len(fewer)}, {side} only, which "
                f"{what_happened} {lost / 100:.1f} cm² ({share:.2%}).",
                "Nothing to do; a coarser drawing with a corner every 5 mm loads faster.",
                subject=self._name,
                numbers={"corners": float(len(points)), "kept": float(len(fewer)), "lost_mm2": lost},
            )
        )
        return fewer
