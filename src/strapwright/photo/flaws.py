"""Flaws of a hide in a photograph: holes the floor is seen through, and what is ringed in coloured chalk.

A flaw is never made smaller than it is: of a ring the inner edge is taken for a mark, and the outer edge,
with what lies under the chalk, for anything else; all are grown by how sure the measurement is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.nesting.hide.types import FlawKind
from strapwright.photo.outline import tints
from strapwright.photo.photograph import drawn_in, flatten, light_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from strapwright.core.arrays import Bytes, Flags, Floats
    from strapwright.photo.fit import Plane
    from strapwright.photo.photograph import Flat

CELL: Final = 1.5
"""Side of a px of the picture flaws are looked for in, mm."""

COLOURS: Final = {
    "blue": (0.03, 0.10, 0.60),
    "red": (0.60, 0.04, 0.04),
    "yellow": (0.85, 0.65, 0.05),
    "green": (0.05, 0.40, 0.10),
    "white": (0.85, 0.85, 0.85),
}
"""Chalks by name, as red, green and blue light: a colour is taken for the one it turns towards."""

LEAST: Final = 8.0
"""A hole or a spot of colour smaller across may be missed, mm."""

_EDGE: Final = 6.0
"""So near to the hide's edge no hole is looked for: it would be a notch of the outline, mm."""

_FAR: Final = 5.0
"""What lies so many standard deviations off the leather's own colour is something else."""

_TOWARDS: Final = 0.8
"""Cosine of the widest angle off a chalk's colour."""

_BESIDE: Final = 0.25
"""What looks like floor and has chalk along so much of its border is the chalk's own blurred edge."""

_STRONG: Final = 0.3
"""Chalk turns the leather's colour so much of the way to its own."""

_LIKE_FLOOR: Final = 0.9
"""A colour nobody asked for that turns the same way as the floor, by this cosine, is the floor."""

_HALF: Final = 0.5
_BEYOND: Final = 1.8
"""A px of a hole is at least half the way from leather to floor, and not far beyond: chalk may be."""

_TELLS: Final = 0.6
"""Where less of the floor beside the hide looks like floor than this share, a hole may be missed."""

_SHADED: Final = 0.4
"""What being darker than that way counts for."""

_ASIDE: Final = 0.35
"""A hole's colour may stray from the way from leather to floor by this share of it: it lies in shadow."""

_BESIDE_EDGE: Final = 10.0
"""So far inside a hide's edge its colour is looked at, mm."""

_SAMPLES: Final = 3000
_SAME: Final = 0.3
"""Two colours less apart are of one kind: a third of the light more or less is not."""

_RARE: Final = 0.08
"""Colours that less of a hide has than this share may be of something else."""

_SHORT: Final = 7
"""A colour at the edge counts over so many points of it and more."""

_LEAK: Final = 6.0
"""Floor taken for leather is looked for at the edge if it is so wide, mm."""

_GAP: Final = 9.0
"""A ring may be open by so much, mm."""

_SOLID: Final = 0.7
"""What fills less of its convex hull than this may be a part of a ring."""


@dataclass(frozen=True, eq=False)
class FoundFlaw:
    """A flaw in a photograph.

    Args:
        kind: what is wrong there.
        polygon: round it, (N, 2) mm.
        where: it was found from: a colour, or empty for a hole.
        closed: whether its ring was closed; else the polygon goes round all of what there is of it.
    """

    kind: FlawKind
    polygon: Floats
    where: str = ""
    closed: bool = True


@dataclass(frozen=True, eq=False)
class Surface:
    """A hide seen from straight above, its colours against the leather's own.

    Args:
        flat: what is seen there.
        hide: where it lies, (rows, columns).
        inner: the same, its rim and what lies under the sheets left out.
        outer: the floor beside it.
        seen: its colours, as `tints` counts them.
        rest: by how much each colour differs from the leather's own about it.
        odd: what is something else than leather.
        leather: its colour.
        away: the way from there to the floor's colour.
    """

    flat: Flat
    hide: Flags
    inner: Flags
    outer: Flags
    seen: Floats
    rest: Floats
    odd: Flags
    leather: Floats
    away: Floats

    @property
    def share(self) -> Floats:
        """How far each px is on the way from leather to floor."""
        return np.asarray(self.rest @ self.away / (self.away @ self.away))

    @property
    def shows_holes(self) -> bool:
        """Whether the floor beside the hide would be known for floor in a hole."""
        return bool(self.floors()[self.outer].mean() > _TELLS) if self.outer.any() else False

    def floors(self) -> Flags:
        """Return what looks like the floor, in its shadow too."""
        share = self.share
        return np.asarray(
            (share > _HALF) & (share < _BEYOND) & (_aside(self.rest, share, self.away) < _ASIDE)
        )


def surface_of(picture: Bytes, plane: Plane, outline: Floats, papers: Sequence[Floats]) -> Surface | None:
    """Return a hide as it is seen from straight above; None where nothing of it is.

    Args:
        picture: the photograph, blue, green, red.
        plane: the hide's upper side in it.
        outline: of the hide, (N, 2) mm.
        papers: corners of the sheets, (4, 2) mm each.
    """
    import cv2

    low, high = outline.min(0) - 20, outline.max(0) + 20
    flat = flatten(picture, plane.to_picture, (low[0], low[1], high[0], high[1]), CELL)
    seen = cv2.GaussianBlur(tints(light_of(flat.picture)), (0, 0), 0.7)
    hide = drawn_in(flat, outline)
    paper = np.zeros_like(hide)
    for corners in papers:
        paper |= drawn_in(flat, corners)
    paper = cv2.dilate(paper.astype(np.uint8), _disc(5.0)) > 0
    inner = (cv2.erode(hide.astype(np.uint8), _disc(_EDGE)) > 0) & ~paper
    outer = ~(cv2.dilate(hide.astype(np.uint8), _disc(10.0)) > 0) & ~paper
    if not inner.any():
        return None
    # The leather's own colour, locally: what is small does not move the median of a wide window.
    rest = seen - _background(seen, inner)
    spread = 1.4826 * np.median(np.abs(rest[inner]), axis=0) + 0.01
    odd = np.sqrt(((rest / spread) ** 2).sum(-1)) > _FAR
    leather = np.median(seen[inner], axis=0)
    floor = np.median(seen[outer] if outer.any() else seen[inner], axis=0)
    return Surface(flat, hide & ~paper, inner, outer, seen, rest, odd, leather, floor - leather)


def foreign_edge(surface: Surface, points: Floats) -> Flags:
    """Return where what lies along a hide's edge is of a colour that hardly any of the hide has.

    It may be a wet patch, or a foot that stands there.

    Args:
        surface: the hide.
        points: along its edge, counter-clockwise, (N, 2) mm.
    """
    from scipy.ndimage import median_filter

    ahead = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    ahead /= np.hypot(*ahead.T)[:, None]
    within = points + _BESIDE_EDGE * np.column_stack([-ahead[:, 1], ahead[:, 0]])
    columns, rows = np.round(surface.flat.at(within)).astype(int).T
    rows, columns = (
        np.clip(at, 0, end - 1) for at, end in zip((rows, columns), surface.hide.shape, strict=True)
    )
    own = surface.seen[surface.inner]
    own = own[:: max(1, len(own) // _SAMPLES)]
    off = np.stack([np.linalg.norm(own - colour, axis=1) < _SAME for colour in surface.seen[rows, columns]])
    rare = (off.mean(1) < _RARE) & surface.hide[rows, columns]
    return np.asarray(median_filter(rare, 2 * _SHORT + 1, mode="wrap"))


def floor_at_edge(surface: Surface) -> list[Floats]:
    """Return what of a hide is floor, taken for leather: it lies open to the edge, (N, 2) mm each."""
    import cv2

    floors = (surface.hide & surface.floors()).astype(np.uint8)
    wide = cv2.morphologyEx(floors, cv2.MORPH_OPEN, _disc(_LEAK / 2))
    rim = surface.hide & ~(cv2.erode(surface.hide.astype(np.uint8), _disc(2 * CELL)) > 0)
    _, labels = cv2.connectedComponents(wide)
    found = []
    for n in np.unique(labels[rim & (labels > 0)]):
        grown = cv2.dilate((labels == n).astype(np.uint8), _disc(2 * CELL))
        contours = cv2.findContours(grown, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]
        found.append(surface.flat.points(contours[0].reshape(-1, 2).astype(float)))
    return found


def find_flaws(
    surface: Surface, kinds: Mapping[str, FlawKind]
) -> tuple[list[FoundFlaw], list[tuple[str, Floats]]]:
    """Return a hide's flaws, and what is drawn on it in a colour that stands for nothing.

    Args:
        surface: the hide.
        kinds: which colour stands for what.
    """
    import cv2

    flat, inner, rest, away = surface.flat, surface.inner, surface.rest, surface.away
    names = list(COLOURS)
    aims = np.array([tints(np.array(COLOURS[name][::-1])) for name in names]) - surface.leather
    sizes = np.linalg.norm(aims, axis=1)
    along = rest @ (aims / sizes[:, None]).T
    turned = along / np.maximum(np.linalg.norm(rest, axis=-1), 1e-9)[..., None]
    best = turned.argmax(-1)
    strong = np.take_along_axis(along, best[..., None], -1)[..., 0] > _STRONG * sizes[best]
    sure = inner & surface.odd & strong & (turned.max(-1) > _TOWARDS)
    like_floor = aims @ away > _LIKE_FLOOR * sizes * np.linalg.norm(away)
    floors = inner & surface.floors()
    asked = np.array([name in kinds for name in names])
    chalk = sure & ~floors & asked[best] & (~like_floor[best] | (surface.share > _BEYOND))
    holes = _not_beside(floors, chalk)
    flaws = [FoundFlaw(FlawKind.HOLE, polygon) for polygon in _together(_spots(flat, holes))]
    sure &= ~(cv2.dilate(holes.astype(np.uint8), _disc(4.0)) > 0)
    rim = _beside(chalk)
    unnamed: list[tuple[str, Floats]] = []
    for n, name in enumerate(names):
        drawn = sure & (best == n) & (asked[n] | ~rim)  # on pale leather a blurred rim turns to white
        for polygon, closed in _rings(flat, drawn, inner_edge=kinds.get(name) is FlawKind.MARK):
            if name in kinds:
                flaws.append(FoundFlaw(kinds[name], polygon, name, closed))
            elif not like_floor[n]:
                unnamed.append((name, polygon))
    return flaws, unnamed


def _aside(rest: Floats, share: Floats, away: Floats) -> Floats:
    """Return how far each px strays from the way from leather to floor, in lengths of it.

    That it is darker counts for less: the floor under a hole lies in shadow.
    """
    off = rest - share[..., None] * away
    off[..., 2] *= np.where(off[..., 2] < 0, _SHADED, 1.0)
    return np.asarray(np.linalg.norm(off, axis=-1) / np.linalg.norm(away))


def _not_beside(floors: Flags, chalk: Flags) -> Flags:
    """Return what looks like floor, but for the blurred borders of chalk lines, which do too."""
    import cv2

    _, labels = cv2.connectedComponents(floors.astype(np.uint8))
    near = cv2.dilate(floors.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    around = cv2.dilate(labels.astype(np.float32), np.ones((3, 3), np.uint8)).astype(int)
    border = near & ~floors
    count = np.bincount(around[border], minlength=labels.max() + 1)
    chalky = np.bincount(around[border & _beside(chalk)], minlength=labels.max() + 1)
    good = chalky < _BESIDE * np.maximum(count, 1)
    good[0] = False
    return np.asarray(good[labels])


def _beside(chalk: Flags) -> Flags:
    """Return chalk and as far beside it as its border is blurred."""
    import cv2

    return np.asarray(cv2.dilate(chalk.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)


def _background(seen: Floats, inner: Flags) -> Floats:
    """Return the leather's own colour about each px: the median of a wide window, smoothed."""
    import cv2

    every = 12
    small = seen[::every, ::every].copy()
    known = inner[::every, ::every]
    whole = np.median(seen[inner], axis=0)
    out = np.empty_like(small)
    for k in range(3):
        layer = np.where(known, small[..., k], whole[k]).astype(np.float32)
        low, high = whole[k] - 2.0, whole[k] + 2.0
        levels = np.clip((layer - low) / (high - low) * 255, 0, 255).astype(np.uint8)
        out[..., k] = cv2.medianBlur(levels, 9).astype(np.float32) / 255 * (high - low) + low
    return np.asarray(
        cv2.GaussianBlur(cv2.resize(out, seen.shape[1::-1], interpolation=cv2.INTER_CUBIC), (0, 0), 6.0)
    )


def _disc(radius: float) -> Bytes:
    import cv2

    side = 2 * round(radius / CELL) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)))


def _spots(flat: Flat, mask: Flags) -> Iterator[Floats]:
    """Return what is round each spot of a mask, mm."""
    import cv2

    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(2.0))
    closed = cv2.morphologyEx(closed, cv2.MORPH_OPEN, _disc(1.5))
    for contour in cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        points = contour.reshape(-1, 2).astype(float)
        if np.ptp(points, axis=0).max() * CELL >= LEAST - CELL and len(points) >= 6:
            yield flat.points(points)


def _together(spots: Iterable[Floats]) -> Iterator[Floats]:
    """Return spots, those close to one another as one, with all that a ring goes round.

    A ring in the floor's own colour falls into pieces, or stays one that is open somewhere.
    """
    import shapely

    shapes = [shapely.Polygon(spot).buffer(0) for spot in spots]
    for one in shapely.get_parts(shapely.union_all([shape.buffer(_GAP / 2) for shape in shapes])):
        own = [shape for shape in shapes if one.intersects(shape)]
        hull = shapely.union_all(own).convex_hull
        ring = len(own) > 1 or one.interiors or own[0].area < _SOLID * hull.area
        whole = hull if ring else own[0]
        yield np.asarray(max(shapely.get_parts(whole), key=lambda part: part.area).exterior.coords)[:-1]


def _rings(flat: Flat, mask: Flags, *, inner_edge: bool) -> Iterator[tuple[Floats, bool]]:
    """Return what each ring of a mask goes round, mm, and whether it is closed."""
    import cv2

    lines = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(_GAP / 2))
    contours, tree = cv2.findContours(lines, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    for n, contour in enumerate(contours):
        if tree[0][n][3] >= 0:
            continue  # an inner edge: reached from its outer one
        outer = contour.reshape(-1, 2).astype(float)
        if np.ptp(outer, axis=0).max() * CELL < LEAST:
            continue
        inside = [contours[k].reshape(-1, 2).astype(float) for k in np.flatnonzero(tree[0][:, 3] == n)]
        inside = [one for one in inside if len(one) >= 6]
        if inside:
            for one in inside if inner_edge else [outer]:
                yield flat.points(one), True
        else:
            hull = cv2.convexHull(contour)
            solid = cv2.contourArea(contour) > _SOLID * cv2.contourArea(hull)
            yield flat.points(hull.reshape(-1, 2).astype(float)), solid
