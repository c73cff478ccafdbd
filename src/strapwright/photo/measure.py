"""A hide measured from a photograph: marks, floor and lens, outline, flaws, and how sure all of it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.core.errors import PhotoError
from strapwright.core.findings import Finding, Severity
from strapwright.geometry.polygon import turned
from strapwright.nesting.hide.types import FlawKind
from strapwright.photo.edge import EVERY, Edge, lead_to_edge, sticks_out
from strapwright.photo.find_sheets import find_sheets
from strapwright.photo.fit import Fit, Plane, fit_floor, laid, placed
from strapwright.photo.flaws import (
    CELL,
    FoundFlaw,
    Surface,
    find_flaws,
    floor_at_edge,
    foreign_edge,
    surface_of,
)
from strapwright.photo.outline import check_clean, coarse_outline, largest_piece

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.core.arrays import Bytes, Flags, Floats
    from strapwright.photo.find_sheets import SeenSheet
    from strapwright.photo.mark_sheet import SheetSize

LEAST_SHEETS: Final = 4
"""With fewer, floor and lens are not settled, or not checked by anything."""

STEEPEST: Final = 42.0
"""A photograph taken further off straight down is refused, degrees."""

USUAL: Final = {"blue": FlawKind.MARK, "red": FlawKind.HOLE, "yellow": FlawKind.LOOSE}
"""What chalks stand for where nothing is said."""

READING: Final = 0.25
"""A check bar is read no better than this with a steel rule, mm (common practice)."""

PRINTING: Final = 0.002
"""A printer nobody measured prints so much larger or smaller, of a length (a number from memory)."""

_SURE: Final = 1.96
"""Standard deviations within which 95 of 100 lie, of the normal law."""

_PX: Final = 0.45
"""Standard deviation of an edge on a clear stretch, px: what was seen on rendered photographs."""

_UNCLEAR: Final = 0.2
"""An edge is unsure where its step is this little of a perfect one."""

_TOO_UNCLEAR: Final = 0.2
"""With more of the outline unsure than this share, the hide cannot be told from the floor."""

_BETWEEN: Final = 31
"""Fewer lines than this between two unsure ones, each `EVERY`, are led by what is unsure, and unsure too."""

_SIMPLER: Final = 0.3
"""The outline written lies within the one found, and no further inside than twice this, mm."""

_SIMPLER_FLAW: Final = 1.2
"""A flaw written goes round the one found, and no further outside than thrice this, mm."""

_FLATTER: Final = 0.08
"""Sheets whose places spread across their longest line by less of it lie in one line."""

_UNKNOWN_THICKNESS: Final = 4.0
"""A hide whose thickness is not given may be so thick, mm."""


@dataclass(frozen=True, eq=False)
class MeasuredHide:
    """A hide as measured from a photograph, in the hide's own frame.

    Args:
        outline: (N, 2) mm, counter-clockwise, within the one found.
        flaws: no smaller than they were found.
        unsure: stretches of the edge that are not seen well, each (N, 2) mm.
        uncertainty: 95 of 100 points of the outline are off by no more, mm.
        fit: of floor, lens and sheets.
        plane: the hide's upper side in the photograph, in the hide's own frame.
        papers: corners of each sheet's paper, (4, 2) mm, by its number.
        tilt: of the camera off straight down, degrees.
        height: of the camera above the floor, mm.
        scale: mm to a px in the middle of the hide.
        findings: what to know of it.
    """

    outline: Floats
    flaws: tuple[FoundFlaw, ...]
    unsure: tuple[Floats, ...]
    uncertainty: float
    fit: Fit
    plane: Plane
    papers: Mapping[int, Floats]
    tilt: float
    height: float
    scale: float
    findings: tuple[Finding, ...]

    @property
    def furthest(self) -> Floats:
        """The two points of the outline that lie furthest apart, where a tape checks it, (2, 2) mm."""
        import shapely

        hull = np.asarray(shapely.MultiPoint(self.outline).convex_hull.exterior.coords)
        apart = np.hypot(*(hull[:, None] - hull).transpose(2, 0, 1))
        return hull[list(np.unravel_index(apart.argmax(), apart.shape))]

    @property
    def tape(self) -> str:
        """What a tape should show between them, and how near: both ends may be off, the tape by 1 mm."""
        length = float(np.hypot(*np.diff(self.furthest, axis=0)[0]))
        return f"{length:.0f} mm, give or take {np.ceil(2 * self.uncertainty + 1):.0f} mm"


def measure_hide(
    picture: Bytes,
    size: SheetSize,
    *,
    printed: tuple[float, float] | None = None,
    thickness: float | None = None,
    kinds: Mapping[str, FlawKind] = USUAL,
) -> MeasuredHide:
    """Return a hide measured from a photograph.

    Args:
        picture: blue, green and red of 0 to 255, (height, width, 3).
        size: of the mark sheets.
        printed: how long a length of 1 came out across and along them; None if nobody measured.
        thickness: of the hide, mm; None if not known.
        kinds: which colour of chalk stands for what.

    Raises:
        PhotoError: it cannot be measured from; what is wrong, and what to do.
    """
    import cv2

    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    height, width = grey.shape
    seen = _good_sheets(grey, size)
    crosses = size.crosses * (printed or (1.0, 1.0))
    paper = np.array(size.paper) / 2 * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    # A sheet on the hide seems printed larger, until it is known to lie there.
    fit = fit_floor(seen, crosses, width, height, draws=0, worst=_RAISED)
    _check_spread(fit)
    tilt = _tilt(fit.plane)
    if tilt > STEEPEST:
        raise PhotoError(
            f"the photograph is taken {tilt:.0f}° off straight down, {STEEPEST:.0f}° is the most: hold the "
            "camera higher and more above the middle of the hide"
        )
    lift = 0.0 if thickness is None else thickness
    papers = _papers(paper, fit)
    floor, leather = coarse_outline(picture, fit.plane, papers, _outermost(fit))
    rough, on_hide = largest_piece(floor, leather, papers, fit.plane)
    camera, at_first = fit.plane.camera(), fit.plane
    if on_hide and lift:
        larger = float(camera[2] / (camera[2] - lift))
        fit = fit_floor(seen, crosses, width, height, dict.fromkeys(on_hide, larger))
    else:
        fit = fit_floor(seen, crosses, width, height, loose=() if thickness else on_hide)
    papers = _papers(paper, fit)
    plane = _raised(fit.plane, lift)
    # Its frame is another one where the sheet it lay on is left out now.
    rough = plane.to_floor(at_first.to_picture(rough))
    check_clean(picture, plane, {number: papers[number] for number in on_hide})
    hidden = list(papers.values())
    edge, surface = _edge_and_surface(picture, plane, rough, hidden)
    if surface is not None and (leaks := floor_at_edge(surface)):
        edge, surface = _edge_and_surface(picture, plane, _without(edge.points, leaks), hidden)
    bad = edge.clear < _UNCLEAR
    if surface is not None:
        bad |= foreign_edge(surface, edge.points)
    bad = _bridged(bad)
    if bad.mean() > _TOO_UNCLEAR:
        raise PhotoError(
            f"{bad.mean():.0%} of the hide's edge cannot be told from the floor: lay it on a sheet of "
            "another colour, in even light, and photograph again"
        )
    bulging = sticks_out(edge.points)
    frame = _frame(edge.points, plane)
    bulges = [_at(frame, one) for one in stretches_of(edge.points, bulging)]
    unclear, bad = bad, bad | bulging
    off = _uncertainty(edge.points, edge.stray, plane, fit, size, printed, thickness)
    uncertainty = float(np.percentile(off[~bad], 99.5)) + _SIMPLER
    outline = _within(frame.there(edge.points))
    like_floor = surface is not None and not surface.shows_holes
    raw, unnamed = ([], []) if surface is None else find_flaws(surface, kinds)
    flaws = [_flaw(flaw, frame, papers) for flaw in raw]
    for name, polygon in unnamed:
        raise PhotoError(
            f"something {name} is drawn on the hide near {_at(frame, polygon)}, and no kind of flaw is "
            f"{name}: say which, such as --flaws {name}=mark"
        )
    turned = frame.plane(plane)
    middle = turned.to_picture(outline.mean(0) + np.array([(0.0, 0.0), (1.0, 0.0)]))
    return MeasuredHide(
        outline,
        tuple(flaws),
        tuple(frame.there(stretch) for stretch in stretches_of(edge.points, bad)),
        uncertainty,
        fit,
        turned,
        {number: frame.there(corners) for number, corners in papers.items()},
        tilt,
        float(camera[2]),
        1 / float(np.hypot(*(middle[1] - middle[0]))),
        tuple(_findings(fit, unclear, bulges, printed, thickness, like_floor)),
    )


_AGAINST: Final = 7.5
"""A flaw so near to a sheet may go on under it, mm."""

_RAISED: Final = 0.8
"""What the crosses of a sheet on the hide may stray by at first, mm: 8 mm nearer to a camera 1.5 m away."""

_SPOT: Final = 25.0
"""A spot of chalk up to so wide counts whole, and need be no ring, mm."""


def _good_sheets(grey: Bytes, size: SheetSize) -> tuple[SeenSheet, ...]:
    """Return the sheets with all their crosses, once each.

    Raises:
        PhotoError: too few of them.
    """
    found = find_sheets(grey, size)
    numbers = [one.number for one in found]
    if twice := sorted({number for number in numbers if numbers.count(number) > 1}):
        raise PhotoError(f"mark sheet {twice[0]} is seen twice: lay each sheet once, and photograph again")
    whole = tuple(one for one in found if np.isfinite(one.crosses).all())
    if len(whole) >= LEAST_SHEETS:
        return whole
    if float(np.percentile(grey, 99)) < _DARK:
        reason = "it is too dark: more light, without flash"
    elif _edge_width(grey) > _SOFT:
        reason = "it is blurred: hold the camera still, wipe its lens, and let it focus on the hide"
    elif len(found) > len(whole):
        part = ", ".join(str(one.number) for one in found if one not in whole)
        reason = (
            f"not all crosses of sheet {part} are seen: nothing may lie on them, none be out of the picture"
        )
    else:
        reason = "lay all the sheets round the hide, flat, and have all of them in the picture"
    raise PhotoError(
        f"found {len(whole)} whole mark sheets, {LEAST_SHEETS} are the least, 8 are good: {reason}"
    )


def _edge_and_surface(
    picture: Bytes, plane: Plane, rough: Floats, papers: Sequence[Floats]
) -> tuple[Edge, Surface | None]:
    """Return the true edge near a rough outline, and what lies within it."""
    edge = lead_to_edge(picture, plane, rough, 16.0, papers)
    edge = lead_to_edge(picture, plane, edge.points, 6.0, papers)
    return edge, surface_of(picture, plane, edge.points, papers)


def _without(points: Floats, parts: Sequence[Floats]) -> Floats:
    """Return an outline with parts taken off it, what is narrow between them too."""
    import shapely

    left = shapely.Polygon(points).buffer(0) - shapely.union_all([shapely.Polygon(one) for one in parts])
    return largest_outline(left.buffer(-_NARROW / 2).buffer(_NARROW / 2))


def largest_outline(shape: Any) -> Floats:
    """Return the outline of a shape's largest piece, counter-clockwise, (N, 2) mm."""
    import shapely

    whole = max(shapely.get_parts(shape), key=lambda one: one.area)
    return np.asarray(shapely.geometry.polygon.orient(whole).exterior.coords)[:-1]


_NARROW: Final = 6.0
"""What is left between two parts taken off an outline and is narrower falls away, mm."""

_DARK: Final = 90.0
"""The white of the sheets is lighter, of 255, in light enough to measure by."""
_SOFT: Final = 6.5
"""The sharpest edges of a blurred photograph are wider, px; as smoothed to look at them, 4 is sharp."""


def _edge_width(grey: Bytes) -> float:
    """Return over how many px the sharpest edges of a picture go from dark to light."""
    import cv2

    soft = cv2.GaussianBlur(grey, (0, 0), 1.5).astype(np.float32)
    slopes = np.hypot(*(cv2.Sobel(soft, cv2.CV_32F, dx, 1 - dx) / 8 for dx in (1, 0)))
    dark, light = np.percentile(soft[::4, ::4], (0.5, 99.5))
    return float((light - dark) / max(float(np.percentile(slopes[::2, ::2], 99.95)), 1e-6))


def _check_spread(fit: Fit) -> None:
    places = np.array(list(fit.sheets.values()))[:, :2]
    sizes = np.linalg.svd(places - places.mean(0), compute_uv=False)
    if sizes[1] < _FLATTER * sizes[0]:
        raise PhotoError(
            "the mark sheets lie all in one line: lay some on the other side of the hide, photograph again"
        )


def _tilt(plane: Plane) -> float:
    """Return how far off straight down the middle of the picture is seen, degrees."""
    camera = plane.camera()
    at = plane.to_floor(plane.middle[None])[0]
    return float(np.degrees(np.arctan2(np.hypot(*(at - camera[:2])), camera[2])))


def _papers(paper: Floats, fit: Fit) -> dict[int, Floats]:
    """Return where the paper of each sheet is, whether it counts or not."""
    return {number: placed(paper, place) for number, place in {**fit.sheets, **fit.beside}.items()}


def _outermost(fit: Fit) -> list[int]:
    """Return the numbers of the sheets that no others lie round."""
    from scipy.spatial import ConvexHull

    numbers = list(fit.sheets)
    places = np.array([fit.sheets[number][:2] for number in numbers])
    return [numbers[n] for n in ConvexHull(places).vertices]


def _raised(plane: Plane, lift: float) -> Plane:
    """Return a plane above the floor by so much, mm."""
    x, y, height = plane.camera()
    return replace(plane, about=(float(x), float(y)), scale=float(height / (height - lift)))


@dataclass(frozen=True, eq=False)
class _Frame:
    """The hide's own frame: long side along x, lower left corner at the origin, up as photographed."""

    turn: float
    shift: Floats

    def there(self, points: Floats) -> Floats:
        return np.asarray(turned(points, self.turn) + self.shift)

    def plane(self, plane: Plane) -> Plane:
        """Return how points of this frame go to the picture."""
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        back = np.array([[cos, sin], [-sin, cos]])
        lift = np.eye(3)
        lift[:2, :2] *= plane.scale
        lift[:2, 2] = (1 - plane.scale) * np.array(plane.about)
        move = np.eye(3)
        move[:2, :2] = back
        move[:2, 2] = -back @ self.shift
        return replace(plane, homography=plane.homography @ lift @ move, about=(0.0, 0.0), scale=1.0)


def _frame(points: Floats, plane: Plane) -> _Frame:
    import cv2

    _, sides, angle = cv2.minAreaRect(points.astype(np.float32))
    turn = -np.radians(angle if sides[0] >= sides[1] else angle + 90)
    middle = points.mean(0)
    up = plane.to_picture(np.array([middle, middle + np.array([np.sin(turn), np.cos(turn)])]))
    if up[1, 1] > up[0, 1]:  # what is y up there runs down in the picture
        turn += np.pi
    frame = _Frame(float(turn), np.zeros(2))
    return _Frame(float(turn), -np.floor(frame.there(points).min(0)))


def _uncertainty(
    points: Floats,
    stray: Floats,
    plane: Plane,
    fit: Fit,
    size: SheetSize,
    printed: tuple[float, float] | None,
    thickness: float | None,
) -> Floats:
    """Return by how much each point may be off, mm, 95 of 100 times."""
    pixels = plane.to_picture(points)
    planes = (replace(one, about=plane.about, scale=plane.scale) for one in fit.draws)
    found = [one.to_floor(pixels) for one in planes]
    drawn = [placed(one, laid(one, points)) - points for one in found]
    from_fit = np.sqrt((np.array(drawn) ** 2).sum(-1).mean(0) / 2)
    px = np.hypot(*(plane.to_picture(points + np.array([1.0, 0.0])) - pixels).T)
    from_edge = np.hypot(_PX / px, stray)
    away = np.hypot(*(points - points.mean(0)).T)
    bar = READING / float(np.mean([size.across, size.along]))
    scale = away * (PRINTING if printed is None else bar / np.sqrt(2))
    lift = away * (_UNKNOWN_THICKNESS / plane.camera()[2] if thickness is None else 0.0)
    return np.asarray(np.sqrt((_SURE * from_fit) ** 2 + (_SURE * from_edge) ** 2 + scale**2) + lift)


def _within(points: Floats) -> Floats:
    """Return a simpler outline that lies within another."""
    import shapely

    found = shapely.Polygon(points).buffer(0)
    return largest_outline(found.buffer(-_SIMPLER, join_style="mitre").simplify(_SIMPLER * 0.98))


def _flaw(flaw: FoundFlaw, frame: _Frame, papers: Mapping[int, Floats]) -> FoundFlaw:
    """Return a flaw in the hide's frame.

    Raises:
        PhotoError: it may be larger than what is seen of it.
    """
    import shapely

    spot = shapely.Polygon(flaw.polygon)
    if hiding := [n for n, paper in papers.items() if spot.distance(shapely.Polygon(paper)) < _AGAINST]:
        raise PhotoError(
            f"mark sheet {hiding[0]} lies over or against the flaw near {_at(frame, flaw.polygon)}: lay it "
            "elsewhere, and photograph again"
        )
    if not flaw.closed and np.ptp(flaw.polygon, axis=0).max() > _SPOT:
        raise PhotoError(
            f"the {flaw.where} ring near {_at(frame, flaw.polygon)} is not closed, or is no ring: close it, "
            "with no mark sheet over it, take away what else lies there, and photograph again"
        )
    return replace(flaw, polygon=_round_it(frame.there(flaw.polygon)))


def _at(frame: _Frame, polygon: Floats) -> str:
    x, y = frame.there(polygon).mean(0)
    return f"{x:.0f}, {y:.0f} mm"


def _round_it(polygon: Floats) -> Floats:
    """Return an outline of few corners that goes round a flaw, its blurred edge included."""
    import shapely

    grown = (
        shapely.Polygon(polygon)
        .buffer(1.5 * CELL + _SIMPLER_FLAW, quad_segs=6)
        .simplify(_SIMPLER_FLAW * 0.95)
    )
    return np.asarray(grown.exterior.coords)[:-1]


def _bridged(bad: Flags) -> Flags:
    """Return where a closed outline is unsure: between two such places near to one another as well."""
    from scipy.ndimage import binary_closing

    return np.asarray(binary_closing(np.tile(bad, 3), np.ones(_BETWEEN))[len(bad) : 2 * len(bad)])


def stretches_of(points: Floats, bad: Flags) -> list[Floats]:
    """Return the unsure stretches of a closed outline."""
    if not bad.any():
        return []
    wide = np.convolve(np.concatenate([bad[-3:], bad, bad[:3]]), np.ones(7), "same")[3:-3] > 0
    if wide.all():
        return [points]
    start = int(np.argmin(wide))
    order = np.roll(np.arange(len(points)), -start)
    runs: list[list[int]] = []
    for n in order:
        if wide[n]:
            if not runs or runs[-1][-1] != (n - 1) % len(points):
                runs.append([])
            runs[-1].append(int(n))
    return [points[run] for run in runs]


def _findings(
    fit: Fit,
    bad: Flags,
    bulges: Sequence[str],
    printed: tuple[float, float] | None,
    thickness: float | None,
    like_floor: bool,
) -> Iterator[Finding]:
    for number, reason in sorted(fit.left_out.items()):
        yield Finding(
            "photo-sheet",
            Severity.NOTE,
            f"Mark sheet {number} is left out: {reason}.",
            "Was it moved, bent, or printed at another scale?",
        )
    if bad.any():
        yield Finding(
            "photo-edge",
            Severity.CAUTION,
            f"{bad.sum() * EVERY:.0f} mm of the hide's edge are not seen well; parts keep off them.",
            "Look at the check picture, then at the hide; correct the outline there.",
        )
    for at in bulges:
        yield Finding(
            "photo-bulge",
            Severity.CAUTION,
            f"What sticks out of the hide's edge near {at}, between two sharp corners, may be a thing of its "
            "colour that lies against it; parts keep off it.",
            "Look there: take away what is no leather and photograph again, or correct the outline.",
        )
    if like_floor:
        yield Finding(
            "photo-holes",
            Severity.CAUTION,
            "The floor is so much like the leather that a hole the floor is seen through may be missed.",
            "Lay the hide on a sheet of another colour, or ring its holes in chalk.",
        )
    if printed is None:
        yield Finding(
            "photo-scale",
            Severity.CAUTION,
            "Nobody measured the printed sheets, so all lengths may be off by their printer's scale.",
            "Measure from cross to cross on one of them, and say so with --correct.",
        )
    if thickness is None:
        yield Finding(
            "photo-thickness",
            Severity.NOTE,
            "Without its thickness the hide is taken a little too large: its top is nearer the camera.",
            "Calliper it, and give --thickness.",
        )
