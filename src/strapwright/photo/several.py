"""One hide of several photographs: the surest is taken, the others check it and fill in what it does not see.

The sheets may lie elsewhere in each, and the camera stand anywhere: outlines are laid on one another by their
own shape (Besl and McKay 1992). What all of them have in common, such as the printer's scale, they cannot
check.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from strapwright.core.errors import PhotoError
from strapwright.core.findings import Finding, Severity
from strapwright.geometry.polygon import turned
from strapwright.photo.edge import EVERY
from strapwright.photo.fit import Place, laid, placed
from strapwright.photo.hide_text import unsure_within
from strapwright.photo.measure import largest_outline, stretches_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.photo.measure import MeasuredHide

_ROUNDS: Final = 60
_BESIDE: Final = 40.0
"""An edge so near to an unsure stretch may be led astray by it, mm."""


def joined(found: Sequence[MeasuredHide], names: Sequence[str]) -> tuple[int, MeasuredHide]:
    """Return which photograph is the surest, and the hide as all of them show it.

    Args:
        found: the hide as measured from each.
        names: of the photographs.

    Raises:
        PhotoError: two of them disagree by more than both may be off.
    """
    first = min(range(len(found)), key=lambda n: found[n].uncertainty)
    best = found[first]
    for other, name in zip(found, names, strict=True):
        if other is not found[first]:
            best = _checked(best, other, names[first], name)
    return first, best


def _checked(best: MeasuredHide, other: MeasuredHide, name: str, beside: str) -> MeasuredHide:
    place = _lying_on(other.outline, best.outline)
    outline = placed(other.outline, place)
    points = _along(best.outline)
    ring = shapely.LinearRing(outline)
    off = np.asarray(shapely.distance(shapely.points(points), ring))
    hidden = _near([placed(stretch, place) for stretch in other.unsure])
    unseen = _near(best.unsure) | hidden
    clear = ~shapely.contains_xy(unseen, points)
    allowed = best.uncertainty + other.uncertainty
    off[~clear] = 0.0
    usual, most = (float(np.percentile(off[clear], share)) if clear.any() else np.inf for share in (95, 100))
    if usual > allowed or most > unsure_within(best.uncertainty):
        x, y = points[off.argmax()]
        raise PhotoError(
            f"{beside} and {name} disagree: the outlines in them are {off.max():.0f} mm apart near {x:.0f}, "
            f"{y:.0f} mm; lay the hide flat, do not move it, and photograph it again"
        )
    says = f"{beside} shows the same outline: {usual:.1f} mm off on 95 of 100 points, {most:.1f} mm at most."
    findings = [Finding("photo-compared", Severity.NOTE, says, "Nothing: it is what the other one checks.")]
    apart = stretches_of(points, off > allowed)
    seen = [not _near([one]).intersects(hidden) for one in best.unsure]
    filled = [one for one, shown in zip(best.unsure, seen, strict=True) if shown]
    stretches = [*(one for one, shown in zip(best.unsure, seen, strict=True) if not shown), *apart]
    if apart:
        x, y = apart[0].mean(0)
        findings.append(
            Finding(
                "photo-apart",
                Severity.CAUTION,
                f"{beside} shows the edge elsewhere near {x:.0f}, {y:.0f} mm; parts keep off it.",
                "Look at the hide there: does it lie in waves, or is its edge curled?",
            )
        )
    if not best.unsure or not stretches:
        findings += [one for one in best.findings if one.code not in ("photo-edge", "photo-bulge")]
    else:
        findings += best.findings
    flaws = (replace(flaw, polygon=placed(flaw.polygon, place)) for flaw in other.flaws)
    more = tuple(flaw for flaw in flaws if not _among(flaw.polygon, best, allowed))
    if more:
        many = "a flaw" if len(more) == 1 else f"{len(more)} flaws"
        x, y = more[0].polygon.mean(0)
        findings.append(
            Finding(
                "photo-flaws",
                Severity.CAUTION,
                f"{beside} shows {many} that {name} does not, near {x:.0f}, {y:.0f} mm; parts keep off.",
                "Look at the hide there; take out of the file what is none.",
            )
        )
    return replace(
        best,
        outline=_filled(best.outline, outline, filled),
        flaws=(*best.flaws, *more),
        unsure=tuple(stretches),
        uncertainty=max(best.uncertainty, other.uncertainty) if filled else best.uncertainty,
        findings=tuple(findings),
    )


def _lying_on(outline: Floats, other: Floats) -> Place:
    """Return how an outline is moved and turned to lie on another as well as can be."""
    from scipy.spatial import cKDTree

    there = _along(other)
    tree = cKDTree(there)
    here = _along(outline)
    tried = []
    for quarter in range(4):
        place = (0.0, 0.0, quarter * np.pi / 2)
        middle = there.mean(0) - turned(here.mean(0)[None], place[2])[0]
        place = (float(middle[0]), float(middle[1]), place[2])
        for _ in range(_ROUNDS):
            far, which = tree.query(placed(here, place))
            close = far <= max(2.0, 2.0 * float(np.median(far)))  # what has no counterpart does not pull
            place = laid(here[close], there[which[close]])
        tried.append((float(np.median(tree.query(placed(here, place))[0])), place))
    return min(tried)[1]


def _along(outline: Floats) -> Floats:
    """Return points at equal distances along a closed outline, (N, 2) mm."""
    ring = shapely.LinearRing(outline)
    return np.asarray(shapely.get_coordinates(ring.interpolate(np.arange(0.0, ring.length, EVERY))))


def _near(stretches: Sequence[Floats]) -> Any:
    lines = [shapely.LineString(one) if len(one) > 1 else shapely.Point(one[0]) for one in stretches]
    return shapely.union_all([one.buffer(_BESIDE) for one in lines])


def _among(polygon: Floats, best: MeasuredHide, allowed: float) -> bool:
    """Whether a flaw is nearly one of those that are known already."""
    grown = shapely.Polygon(polygon).buffer(allowed)
    return any(grown.intersects(shapely.Polygon(one.polygon)) for one in best.flaws)


def _filled(outline: Floats, other: Floats, stretches: Sequence[Floats]) -> Floats:
    """Return an outline that is another's near some stretches."""
    if not stretches:
        return outline
    zone = _near(stretches)
    one, two = (shapely.Polygon(points).buffer(0) for points in (outline, other))
    return largest_outline(shapely.union_all([one - zone, two & zone]).buffer(0.05).buffer(-0.05))
