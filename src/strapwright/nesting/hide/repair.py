"""A sound hide from what a file gives: checked, repaired where allowed, thinned out where crowded.

One whose outline is not known exactly is taken smaller by what it may be off, its flaws larger.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import shapely

from strapwright.core.errors import FileProblems, NestError
from strapwright.core.findings import Finding, Severity
from strapwright.core.tolerances import NESTING_CHORD
from strapwright.geometry.drawings.gathered import place, without_repeats
from strapwright.geometry.polygon import polygons_in
from strapwright.nesting.hide.outline_check import (
    flaw_problem,
    leather_of,
    meets_itself_at,
    outline_problem,
    shape_problem,
)
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, round_flaw

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.nesting.hide.types import ThicknessZone

MOST_UNSURE: Final = 20.0
"""An outline that may be off by more is to be measured again, mm."""

_CORNER: Final = 4
"""Corners to a quarter turn where a flaw is grown."""

_ROUND: Final = 1 / np.cos(1.5 * np.pi / (4 * _CORNER))
"""What a distance is taken times for chords between corners to keep it; GEOS rounds their count."""

MOST_CORNERS: Final = 1500
"""An outline of more corners is thinned out: more than a photograph of a hide needs at 5 mm a corner."""


_COARSEST: Final = 20.0
"""Thinning out never moves an edge further than this, mm."""


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
    """Build a hide from what a file gives, or report all that is wrong with its shapes.

    Args:
        source: the file's name as the person gave it.
        name: the hide's name.
        outline: its outline, (N, 2) mm.
        flaws: its flaws; those with a key first.
        zones: places thicker or thinner than the rest.
        key: where the outline stands in the file.
        flaw_keys: where flaws stand in the file; drawn ones have none.
        repair: whether an outline or flaw that crosses itself may be repaired.

    Returns:
        The hide, with a finding for everything that was changed.

    Raises:
        FileProblems: every unsound shape, one line each.
    """
    reading = _Reading(source, name, repair)
    sound = reading.shape(outline, key, "outline")
    wrong = outline_problem(sound)
    reading.note(key, wrong)
    leather = None if wrong else leather_of(sound)

    def within(polygon: Floats, where: str, what: str) -> Floats:
        polygon = reading.shape(polygon, where, what)
        reading.note(where, flaw_problem(polygon, leather))
        return polygon

    keys = [*flaw_keys, *(str(flaw.kind) for flaw in flaws[len(flaw_keys) :])]
    good_flaws = [
        replace(flaw, polygon=within(flaw.polygon, key, f"{flaw.kind} {number}"))
        for number, (flaw, key) in enumerate(zip(flaws, keys, strict=True), start=1)
    ]
    good_zones = [
        replace(zone, polygon=within(zone.polygon, f"zone[{number}]", f"zone[{number}]"))
        for number, zone in enumerate(zones, start=1)
    ]
    reading.stop()
    sound = reading.thinner(sound, "inward", "outline")
    thin_flaws = reading.thinner_flaws(good_flaws)
    hide = Hide(name, sound, thin_flaws, thickness_zones=tuple(good_zones), findings=tuple(reading.findings))
    if hide.consumed:
        reading.note(
            key,
            "the holes and cuts cover the whole hide, so nothing can be cut from it; remove it from the list",
        )
        reading.stop()
    return hide


def thinned(hide: Hide) -> Hide:
    """Return a hide with crowded outlines thinned out, its own and its flaws', and findings that say so.

    What was read from a file is so already; one made in Python may have any number of corners.

    Args:
        hide: a sound hide.

    Returns:
        The hide itself where nothing is crowded.
    """
    reading = _Reading("", hide.name, repair=False)
    outline = reading.thinner(hide.outline, "inward", "outline")
    flaws = reading.thinner_flaws(hide.flaws)
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

    def note(self, where: str, text: str | None) -> None:
        """Note a mistake, if there is one."""
        if text:
            self._problems.append(f"{self._source}: {where}: {text}")

    def stop(self) -> None:
        """Raise what mistakes were found, if any."""
        if self._problems:
            raise FileProblems(tuple(self._problems))

    def shape(self, points: Floats, where: str, what: str) -> Floats:
        """Return corners, repaired where they need it and that is allowed."""
        array = np.asarray(points, dtype=np.float64)
        better = repaired(array) if self._repair else None
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

    def thinner_flaws(self, flaws: Sequence[Flaw]) -> tuple[Flaw, ...]:
        """Return flaws with corners thinned out where there are too many, and note what that cost."""
        return tuple(
            replace(flaw, polygon=self.thinner(flaw.polygon, "outward", f"{flaw.kind} {number}"))
            for number, flaw in enumerate(flaws, start=1)
        )

    def thinner(self, points: Floats, side: Literal["inward", "outward"], what: str) -> Floats:
        """Return corners thinned out where there are too many, and note what that cost."""
        import shapely

        fewer = thinned_out(points, side)
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


def repaired(points: Floats) -> tuple[Floats, str] | None:
    """Return an unsound outline's largest sound piece, and in words what was changed.

    Corners given twice are dropped. Where the outline crosses itself, what it encloses falls into pieces;
    the largest is kept, without the holes in it.

    Args:
        points: corners, (N, 2) mm.

    Returns:
        None where nothing is wrong, or nothing can be made of it.

    Example:
        >>> bow = np.array([(0.0, 0.0), (100.0, 0.0), (0.0, 50.0), (100.0, 100.0)])
        >>> corners, words = repaired(bow)
        >>> len(corners), words
        (3, 'it crossed itself near (33.3, 33.3) mm; of its 2 pieces the largest is kept, 16.67 of 33.33 cm²')
    """
    import shapely

    if points.ndim != 2 or not np.isfinite(points).all():
        return None
    wrong = shape_problem(points)
    if wrong is None:
        return None
    corners, said = without_repeats(points), []
    if count := len(points) - len(corners):
        said.append(
            f"{count} corner{'s' if count > 1 else ''} given twice {'were' if count > 1 else 'was'} removed"
        )
    if len(corners) < 3:
        return None
    shape = shapely.Polygon(corners)
    if not shape.is_valid:
        at = meets_itself_at(corners)
        near = "" if at is None else f" near {place(at)}"
        sound = shapely.make_valid(shape, method="structure", keep_collapsed=False)
        pieces = polygons_in(sound)
        if not pieces:
            return None
        largest = max(pieces, key=lambda piece: float(piece.area))
        corners = shapely.get_coordinates(largest.exterior)[:-1]
        area, total = shapely.Polygon(corners).area / 100, sum(piece.area for piece in pieces) / 100
        of = f"of its {len(pieces)} pieces the largest" if len(pieces) > 1 else "its outer edge"
        said.append(f"it crossed itself{near}; {of} is kept, {area:.4g} of {max(area, total):.4g} cm²")
    if not said or shape_problem(corners) is not None:
        return None
    return corners, " and ".join(said)


def thinned_out(points: Floats, side: Literal["inward", "outward"]) -> Floats:
    """Return an outline with at most `MOST_CORNERS` corners that keeps to one side of the given one.

    The whole edge is moved to that side by a tolerance, then corners are left out that stray by no more;
    the tolerance is the least, in steps of a half, that leaves few enough.

    Args:
        points: corners of a sound outline, (N, 2) mm.
        side: ``"inward"``: the answer lies within the outline, for leather; ``"outward"``: it covers it,
            for flaws.

    Returns:
        Corners, (M, 2) mm; the given ones where there are few enough.
    """
    import shapely

    if len(points) <= MOST_CORNERS:
        return points
    whole = shapely.Polygon(points)
    shapely.prepare(whole)
    outward = 1.0 if side == "outward" else -1.0
    tolerance = NESTING_CHORD
    while tolerance <= _COARSEST:
        moved = whole.buffer(outward * tolerance * 1.02, join_style="mitre", mitre_limit=2.0)
        largest = max(polygons_in(moved), key=lambda piece: float(piece.area), default=whole)
        corners: Floats = shapely.get_coordinates(shapely.Polygon(largest.exterior).simplify(tolerance))[:-1]
        if len(corners) <= MOST_CORNERS and shape_problem(corners) is None:
            fewer = shapely.Polygon(corners)
            if whole.covers(fewer) if side == "inward" else fewer.covers(whole):
                return corners
        tolerance *= 1.5
    return points


def taken_smaller(hide: Hide, by: float) -> Hide:
    """Return what is surely there of a hide, its flaws grown by as much.

    Args:
        hide: as it was measured.
        by: how far outline and flaws may be off, mm.

    Raises:
        NestError: nothing is surely there.

    Example:
        >>> bend = Hide("bend", np.array([(0, 0), (1200, 0), (1200, 700), (0, 700)]))
        >>> taken_smaller(bend, 2.0).area
        832416.0
    """
    left = shapely.Polygon(hide.outline).buffer(-by, join_style="mitre")
    if left.is_empty:
        raise NestError(f"hide {hide.name}: uncertainty {by:g} mm leaves nothing of it; measure it again")
    smaller = hide.cut_to(_corners(max(shapely.get_parts(left), key=lambda part: part.area)))
    note = Finding(
        "hide-uncertainty",
        Severity.NOTE,
        f"The hide is taken {by:.1f} mm smaller all round, and its flaws larger: so much may it be off.",
        "To take it as it stands, set uncertainty = 0 in its file.",
        subject=hide.name,
        numbers={"uncertainty_mm": by},
    )
    return replace(
        smaller, flaws=tuple(_grown(flaw, by) for flaw in smaller.flaws), findings=(*hide.findings, note)
    )


def unsure_flaw(points: Floats, within: float) -> Flaw:
    """Return the strip along a stretch of the edge that parts keep off.

    Args:
        points: along the stretch, (N, 2) mm.
        within: how far from them the true edge may be, mm.
    """
    strip = shapely.LineString(points).buffer(within * _ROUND, quad_segs=_CORNER)
    return Flaw(FlawKind.HOLE, _corners(strip))


def unsure_edge(name: str, count: int) -> Finding:
    """Return the finding that stretches of a hide's edge were not seen well."""
    many = "A stretch" if count == 1 else f"{count} stretches"
    return Finding(
        "hide-unsure-edge",
        Severity.CAUTION,
        f"{many} of the edge could not be seen well when the hide was measured; parts keep off there.",
        "Look at the hide, correct its points there, and take the [[unsure]] table out.",
        subject=name,
    )


def _grown(flaw: Flaw, by: float) -> Flaw:
    if flaw.round is not None:
        x, y, diameter = flaw.round
        return round_flaw(flaw.kind, x, y, diameter + 2 * by)
    return Flaw(flaw.kind, _corners(shapely.Polygon(flaw.polygon).buffer(by * _ROUND, quad_segs=_CORNER)))


def _corners(polygon: Any) -> Floats:
    return np.asarray(polygon.exterior.coords)[:-1]
