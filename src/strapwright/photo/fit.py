"""The floor, the lens and the sheets' places, fitted to the crosses in one photograph.

A point of the floor goes to the picture through a plane's homography and one radial term of the lens, about
the picture's middle: eight numbers and one. Each sheet lies somewhere, turned somehow: three numbers each,
but for the first, which says where the frame is. Its four crosses give eight. All are found at once by least
squares (Hartley and Zisserman 2004, 4 and 7.4); a sheet that does not fit the others is named and left out.

What lies on the hide lies higher than the floor by its thickness, and looks larger by that share of the
camera's height. Where the camera stands follows from the homography, as pixels are square and the axis goes
through the picture's middle (Zhang 2000).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import PhotoError
from strapwright.geometry.polygon import turned
from strapwright.photo.find_sheets import through

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from strapwright.core.arrays import Floats
    from strapwright.photo.find_sheets import SeenSheet

Place = tuple[float, float, float]
"""Where a sheet lies: x and y, mm, and its turn, radians."""

WORST: Final = 0.15
"""A sheet whose crosses stray by more, mm (root mean square), is bent, or printed at another scale."""

_HOPELESS: Final = 0.5
"""Half the sheets straying by more, mm, says that no floor was found that suits them."""

_UNEVEN: Final = 3.0
"""Sheets that differ in size by more were printed at mixed scales: in what a cross may stray by."""

_AGAIN: Final = 3.5
"""The same, in what the other sheets stray by."""

_PRINTED: Final = 0.0015
"""A sheet that is larger or smaller than the others by less of its size counts like them."""

_CLEAR: Final = 6.0
"""So many standard deviations set a sheet's own scale apart from chance, one choice from the next best."""

_MIXED: Final = 0.0025
"""Where it is not clear which sheets are of another scale, by more of their size, none are believed."""

_CHOICES: Final = 5000
"""So many choices of sheets are tried at most."""

_REST: Final = 4.0
"""Of the sheets that are not chosen, none may be so many standard deviations off."""


@dataclass(frozen=True, eq=False)
class Plane:
    """How points of the floor go to the picture and back.

    Args:
        homography: from mm on the floor to the picture as a lens without a radial term would show it, its
            middle 0, 0 and half its diagonal 1.
        radial: the term of the lens, radii in half diagonals.
        width: of the picture, px.
        height: likewise.
        about: below the camera, mm, where points lie in a plane above the floor.
        scale: by how much such points look further from there.
    """

    homography: Floats
    radial: float
    width: int
    height: int
    about: tuple[float, float] = (0.0, 0.0)
    scale: float = 1.0

    @property
    def half(self) -> float:
        """Half the diagonal of the picture, px."""
        return float(np.hypot(self.width, self.height) / 2)

    @property
    def middle(self) -> Floats:
        """The middle of the picture, px."""
        return np.array([(self.width - 1) / 2, (self.height - 1) / 2])

    def to_picture(self, points: Floats) -> Floats:
        """Return where points (N, 2) mm are in the picture, px."""
        moved = self.about + (np.asarray(points) - self.about) * self.scale
        flat = through(self.homography, moved)
        bent = flat * (1 + self.radial * (flat**2).sum(1, keepdims=True))
        return np.asarray(bent * self.half + self.middle)

    def to_floor(self, pixels: Floats) -> Floats:
        """Return which points are seen at pixels (N, 2), mm."""
        bent = (np.asarray(pixels) - self.middle) / self.half
        flat = bent.copy()
        for _ in range(20):
            flat = bent / (1 + self.radial * (flat**2).sum(1, keepdims=True))
        moved = through(np.asarray(np.linalg.inv(self.homography), dtype=float), flat)
        return np.asarray(self.about + (moved - self.about) / self.scale)

    def camera(self) -> Floats:
        """Return where the camera stands: x and y on the floor, height above it, mm.

        Example:
            >>> down = np.diag([1.2, -1.2, 2000.0])  # straight down from 2 m, with a usual lens
            >>> (Plane(down, 0.0, 4000, 3000).camera() + 0.0).round(3).tolist()
            [0.0, 0.0, 2000.0]
        """
        first, second, _ = self.homography.T
        # The columns are f·(right, down), away of two unit vectors at right angles: two equations for 1/f².
        across, deep = first[:2] @ second[:2], first[2] * second[2]
        longer = first[:2] @ first[:2] - second[:2] @ second[:2], first[2] ** 2 - second[2] ** 2
        size = float(first[:2] @ first[:2] + second[:2] @ second[:2]) / 2
        flat = np.array([across, longer[0], _PRIOR * size / _USUAL**2]) / size
        other = np.array([deep, longer[1], -_PRIOR * size / _USUAL**4]) / size
        inverse = max(-float(flat @ other) / float(flat @ flat), 1 / _LONGEST**2)
        columns = self.homography * [[np.sqrt(inverse)], [np.sqrt(inverse)], [1.0]]
        columns = columns / (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1])) * 2
        columns = columns * np.sign(columns[2, 2])
        left, _, right = np.linalg.svd(np.column_stack([columns[:, :2], np.cross(*columns[:, :2].T)]))
        place = -(left @ right).T @ columns[:, 2]
        return np.asarray(place * [1.0, 1.0, np.sign(place[2])])


_USUAL: Final = 1.2
"""Focal length of a telephone's camera in half diagonals: 26 mm on a frame of 24 by 36 mm (from memory)."""

_LONGEST: Final = 6.0
_PRIOR: Final = 0.004
"""How strongly the usual focal length counts: it decides where the picture is taken straight down."""


@dataclass(frozen=True, eq=False)
class Fit:
    """What was found of floor, lens and sheets.

    Args:
        plane: the floor in the picture.
        sheets: place of each sheet that counts, by number: x, y mm and turn in radians.
        beside: place of each that is left out.
        strays: root mean square by which the crosses of each sheet stray, mm, left out ones too.
        left_out: why a sheet does not count, by its number.
        draws: other planes that the crosses could as well have given, drawn by chance.
    """

    plane: Plane
    sheets: Mapping[int, Place]
    beside: Mapping[int, Place]
    strays: Mapping[int, float]
    left_out: Mapping[int, str]
    draws: tuple[Plane, ...]


def fit_floor(
    seen: Sequence[SeenSheet],
    crosses: Floats,
    width: int,
    height: int,
    larger: Mapping[int, float] | None = None,
    draws: int = 48,
    worst: float = WORST,
    loose: Collection[int] = (),
) -> Fit:
    """Return the floor, the lens and the sheets' places of a photograph.

    Args:
        seen: its sheets, four at least.
        crosses: of a sheet as it was printed, (4, 2) mm.
        width: of the photograph, px.
        height: likewise.
        larger: by how much sheets look larger that lie on the hide, by their numbers.
        draws: how many other planes are drawn, to see how sure the fit is.
        worst: a sheet whose crosses stray by more may be left out, mm.
        loose: numbers of sheets whose height is not known: each may seem of any size.

    Raises:
        PhotoError: too few sheets agree with one another.
    """
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    left_out: dict[int, str] = {}
    strays: dict[int, float] = {}
    # The one nearest the middle says where the frame is.
    use = sorted(seen, key=lambda one: float(np.hypot(*(one.crosses.mean(0) - middle))))
    larger = larger or {}
    if worst <= WORST:
        known = [crosses * larger.get(one.number, 1.0) for one in use]
        first = _Solved.of(use, known, width, height, robust=False)
        for number, share in first.printed_otherwise(loose).items():
            strays[number] = abs(share) * float(np.sqrt((crosses**2).sum(1).mean()))
            left_out[number] = (
                f"its crosses stray by {strays[number]:.1f} mm, as if it were printed {abs(share):.1%} "
                f"{'larger' if share > 0 else 'smaller'} than the others"
            )
        use = [one for one in use if one.number not in left_out]
    while True:
        known = [crosses * larger.get(one.number, 1.0) for one in use]
        solved = _Solved.of(use, known, width, height, robust=True)
        rms = dict(zip((one.number for one in use), solved.strays(), strict=True))
        strays.update(rms)
        off = max(rms, key=lambda number: rms[number])
        others = float(np.median([value for number, value in rms.items() if number != off]))
        if rms[off] <= max(worst, _AGAIN * others) or len(use) <= _LEAST:
            break
        left_out[off] = f"its crosses stray by {rms[off]:.1f} mm"
        use = [one for one in use if one.number != off]
    sizes = solved.sizes()
    uneven = max(sizes) - min(sizes) > _UNEVEN * worst / float(np.hypot(*crosses.T).mean())
    hopeless = float(np.median(list(rms.values()))) > max(worst, _HOPELESS)
    if uneven or hopeless or len(left_out) > len(seen) / 3:
        raise _disagreeing(left_out or rms)
    solved = _Solved.of(use, known, width, height, robust=False)
    plane = solved.plane
    beside = {
        one.number: laid(crosses, plane.to_floor(one.crosses)) for one in seen if one.number in left_out
    }
    drawn = tuple(solved.drawn(draws)) if draws else ()
    return Fit(plane, solved.places(), beside, strays, left_out, drawn)


def _disagreeing(numbers: Iterable[int]) -> PhotoError:
    named = ", ".join(map(str, sorted(numbers)))
    return PhotoError(
        f"mark sheets {named} do not agree with the others: they are bent, or printed at another scale; "
        "lay them flat, print all of them by one printer at 100 %, and photograph again"
    )


@dataclass(frozen=True, eq=False)
class _Solved:
    """A least-squares fit: its numbers, and what they are of."""

    numbers: tuple[int, ...]
    values: Floats
    known: Floats
    seen: Floats
    width: int
    height: int
    jacobian: Floats

    @classmethod
    def of(
        cls, use: Sequence[SeenSheet], known: Sequence[Floats], width: int, height: int, *, robust: bool
    ) -> _Solved:
        """Return a fit: a robust one lets what does not fit stand out, the other is the best."""
        import cv2
        from scipy.optimize import least_squares

        start = cls(
            tuple(one.number for one in use),
            np.zeros(9 + 3 * (len(use) - 1)),
            np.array(known) / _UNIT,
            np.array([one.crosses for one in use]),
            width,
            height,
            np.zeros((0, 0)),
        )
        flat = (start.seen - start.plane.middle) / start.plane.half
        first, _ = cv2.findHomography(start.known[0], flat[0])
        values = start.values.copy()
        values[:8] = (first / first[2, 2]).ravel()[:8]
        back = np.linalg.inv(first)
        for n in range(1, len(use)):
            values[6 + 3 * n : 9 + 3 * n] = laid(start.known[n], through(back, flat[n]))
        loss = "soft_l1" if robust else "linear"
        solved = least_squares(
            start._off, values, x_scale="jac", loss=loss, f_scale=_SOFT, xtol=1e-10, ftol=1e-10, max_nfev=300
        )
        return replace(start, values=solved.x, jacobian=solved.jac)

    def _off(self, values: Floats) -> Floats:
        """Return by how much the crosses lie elsewhere than seen, px."""
        found = self._plane_of(values).to_picture(self._laid_out(values).reshape(-1, 2) * _UNIT)
        return np.asarray((found - self.seen.reshape(-1, 2)).ravel())

    def _laid_out(self, values: Floats) -> Floats:
        """Return where each sheet's crosses lie on the floor, (S, 4, 2), in `_UNIT`."""
        places = np.concatenate([np.zeros(3), values[9:]]).reshape(-1, 3)
        cos, sin = np.cos(places[:, 2:]), np.sin(places[:, 2:])
        x, y = self.known[..., 0], self.known[..., 1]
        return np.asarray(places[:, None, :2] + np.stack([cos * x - sin * y, sin * x + cos * y], axis=-1))

    def _plane_of(self, values: Floats) -> Plane:
        homography = np.append(values[:8], 1.0).reshape(3, 3) / [_UNIT, _UNIT, 1.0]
        return Plane(homography, float(values[8]), self.width, self.height)

    @property
    def plane(self) -> Plane:
        return self._plane_of(self.values)

    def places(self) -> dict[int, Place]:
        found = np.concatenate([np.zeros(3), self.values[9:]]).reshape(-1, 3) * [_UNIT, _UNIT, 1.0]
        return {
            number: (float(x), float(y), float(turn))
            for number, (x, y, turn) in zip(self.numbers, found, strict=True)
        }

    def strays(self) -> list[float]:
        """Return each sheet's root mean square, mm on the floor."""
        on_floor = self.plane.to_floor(self.seen.reshape(-1, 2)).reshape(-1, 4, 2)
        off = on_floor - self._laid_out(self.values) * _UNIT
        return [float(value) for value in np.sqrt((off**2).sum(-1).mean(-1))]

    def sizes(self) -> list[float]:
        """Return how large each sheet seems, in its own size as printed."""
        on_floor = self.plane.to_floor(self.seen.reshape(-1, 2)).reshape(-1, 4, 2)
        away, known = (one - one.mean(1, keepdims=True) for one in (on_floor, self.known * _UNIT))
        return [float(size) for size in np.sqrt((away**2).sum((1, 2)) / (known**2).sum((1, 2)))]

    def printed_otherwise(self, loose: Collection[int] = ()) -> dict[int, float]:
        """Return by what share some sheets are larger than the others, by number; none where it is not clear.

        A scale of its own is one more unknown for each sheet. Of what it moves in the picture, the part that
        floor, lens and places cannot make up for is a column; the fewest columns that explain what the
        crosses stray by are the sheets that were printed otherwise.

        Args:
            loose: numbers of sheets that may seem of any size, and are not looked for.

        Raises:
            PhotoError: there are such sheets, but it is not clear which, or they are more than a third.
        """
        columns = self._of_own_scale()
        given = np.array([number in loose for number in self.numbers])
        base, _ = np.linalg.qr(np.column_stack([self.jacobian, columns[:, given]]))
        columns -= base @ (base.T @ columns)
        off = -self._off(self.values)
        off -= base @ (base.T @ off)
        gram, pull = columns.T @ columns, columns.T @ off
        asked = np.flatnonzero(~given)
        best = []  # of each number of sheets, and the next best: what they leave, which, their scales
        for many in range(len(asked) // 2 + 1):
            if comb(len(asked), many) > _CHOICES:
                break
            tried = []
            for which in map(list, combinations(asked, many)):
                found = np.linalg.solve(gram[np.ix_(which, which)], pull[which])
                tried.append((float(off @ off - found @ pull[which]), which, found))
            best.append(sorted(tried, key=lambda one: one[0])[:2])
        last = len(best) - 1
        spare = max(base.shape[0] - base.shape[1] - last, 1)
        noise = max(best[last][0][0] / spare, _LEAST_SIGMA**2)
        enough = (best[n][0][0] - best[last][0][0] <= _REST**2 * noise * (last - n) for n in range(last + 1))
        (left, own, share), *others = best[list(enough).index(True)]
        again = others[0][0] if others else np.inf
        sure = np.sqrt(noise * np.diag(np.linalg.inv(gram[np.ix_(own, own)])))
        if (np.abs(share) <= np.maximum(_PRINTED, _CLEAR * sure)).any():
            return {}
        scales = {self.numbers[n]: float(one) for n, one in zip(own, share, strict=True)}
        if len(own) <= len(self.numbers) / 3 and again - left > _CLEAR**2 * noise:
            return scales
        if scales and max(map(abs, scales.values())) > _MIXED:
            raise _disagreeing(scales)
        return {}

    def _of_own_scale(self) -> Floats:
        """Return how each sheet's crosses move in the picture with its own size, px to 1, a column each."""
        laid_out = self._laid_out(self.values)
        middle = laid_out.mean(1, keepdims=True)
        grown = middle + (laid_out - middle) * (1 + _STEP)
        moved = [self.plane.to_picture(one.reshape(-1, 2) * _UNIT) for one in (laid_out, grown)]
        each = ((moved[1] - moved[0]) / _STEP).reshape(len(laid_out), -1)
        out = np.zeros((*each.shape, len(each)))
        out[np.arange(len(each)), :, np.arange(len(each))] = each
        return np.asarray(out.reshape(-1, len(each)))

    def drawn(self, count: int) -> list[Plane]:
        """Return planes drawn from what the fit leaves open."""
        chance = np.random.default_rng(0)
        off = self._off(self.values)
        sigma = max(float(np.sqrt((off**2).sum() / max(1, len(off) - len(self.values)))), _LEAST_SIGMA)
        # Draws of the normal law with covariance σ²·(J′J)⁻¹, by the QR of J, its columns scaled.
        size = np.linalg.norm(self.jacobian, axis=0)
        _, upper = np.linalg.qr(self.jacobian / size)
        steps = (
            np.linalg.solve(upper, chance.standard_normal((len(self.values), count))) * sigma / size[:, None]
        )
        return [self._plane_of(self.values + step) for step in steps.T]


_UNIT: Final = 1000.0
"""Of the fit's own lengths, mm: its numbers are then all of about one size."""

_SOFT: Final = 0.1
"""What strays by more counts for less while a sheet that does not fit is looked for, px."""

_STEP: Final = 1e-4
_LEAST: Final = 4
_LEAST_SIGMA: Final = 0.03
"""A cross is nowhere found better than this, px."""


def laid(known: Floats, found: Floats) -> Place:
    """Return x, y and turn that lay known points nearest to where they were found."""
    here, there = known - known.mean(0), found - found.mean(0)
    turn = np.arctan2((here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]).sum(), (here * there).sum())
    x, y = found.mean(0) - turned(known.mean(0)[None], float(turn))[0]
    return float(x), float(y), float(turn)


def placed(points: Floats, place: Place) -> Floats:
    """Return points laid at a place, (N, 2) mm."""
    x, y, turn = place
    return np.asarray(turned(points, turn) + np.array([x, y]))
