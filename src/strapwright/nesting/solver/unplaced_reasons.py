"""Why a part could not be placed, and what to do about it, in words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from strapwright.nesting.hide.types import THICKNESS_AGREES, tanned_as
from strapwright.nesting.strap_search.free_runs import Edges
from strapwright.nesting.strap_search.rows import SLACK
from strapwright.nesting.strap_search.strap_shape import Form, Make, Sides, forms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.problem import Piece, PiecePlacement, Problem
    from strapwright.parts.part import Part

_STEP = 2.0
"""Free rows are measured so far apart, mm."""

_RUNS = 64
"""Runs of one row that are looked at."""

_ROWS = (8.0, 0.5)
"""Rows of an empty hide are looked at so far apart, mm: nearly always a few show that a piece fits, and it
does not where none does as far apart as the search's own rows are at the most."""


@dataclass
class UnplacedReasons:
    """The reasons of one finished layout; free rows are measured once for each width and make.

    Args:
        problem: what was asked.
        hides: its grounds as hides.
        placements: where the placed pieces lie.
    """

    problem: Problem
    hides: Sequence[Hide]
    placements: Sequence[PiecePlacement]
    _measured: dict[tuple[int, float, frozenset[str], bool], float] = field(default_factory=dict)
    _alone: dict[tuple[int, int, bool, float], float] = field(default_factory=dict)
    _edges: dict[tuple[int, bool], Edges] = field(default_factory=dict)

    def of(self, part: Part, number: int) -> str:
        """Return why a part, by its piece's number, is not placed."""
        piece = self.problem.pieces[number]
        if piece.grounds is not None and not piece.grounds:
            tanned = [hide for hide in self.hides if tanned_as(hide.tannage, part.tannage)]
            if not tanned:
                others = ", ".join(f"{hide.name} {hide.tannage}" for hide in self.hides)
                return f"needs {part.tannage} leather; the hides are: {others}; take another hide"
            found = ", ".join(f"{hide.name} {hide.thickness:g} mm" for hide in tanned)
            return (
                f"needs leather of {round(part.thickness, 2):g} mm, within {THICKNESS_AGREES:g} mm; "
                f"the hides are: {found}; take another hide, or change the job's thickness"
            )
        x0, y0, x1, y1 = part.outline.bounding_box
        width, length = sorted((x1 - x0, y1 - y0))
        fits, fits_flaws = self._fits(piece)
        needs = f"needs {_up(length)} mm by {_up(width)} mm"
        sound = piece.shuns.union(*(area.shuns for area in piece.areas))
        covered = (
            f"{needs}, and the leather that shows or carries load would cover one everywhere; clear of them, "
        )
        if not fits and fits_flaws:
            clear = self._nearest(piece, width, length, sound, beside_parts=False)[1]
            return f"no row is free enough of marks and loose leather: {covered}{clear}"
        longest, free = self._nearest(piece, width, length, piece.shuns, beside_parts=fits)
        if not fits:
            return f"no row is long enough: {needs}; {free}"
        if longest < length:
            return f"no space left: {needs}; {free}"
        longest, free = self._nearest(piece, width, length, sound, beside_parts=True)
        if longest < length:
            return f"no space left that is free enough of marks and loose leather: {covered}{free}"
        return f"no space left: {needs}, and no free place was found for it"

    def _nearest(
        self, piece: Piece, width: float, length: float, shuns: frozenset[str], *, beside_parts: bool
    ) -> tuple[float, str]:
        """Return the longest strip of a width that is free, mm, and in words the nearest that would fit."""
        allowed = self._allowed(piece)
        where = max(allowed, key=lambda hide: self._longest(hide, width, shuns, beside_parts))
        longest = self._longest(where, width, shuns, beside_parts)
        if longest > 0:
            on = f" on {self.hides[where].name}" if len(allowed) > 1 else ""
            return longest, f"the longest free space is {math.floor(longest + 1e-6)} mm{on}"
        widest, hide = max((self._widest(hide, width, length, shuns, beside_parts), hide) for hide in allowed)
        if widest <= 0:
            return 0.0, "no free space is that wide, and none is that long"
        on = f" on {self.hides[hide].name}" if len(allowed) > 1 else ""
        return 0.0, f"no free space is that wide; the widest of that length is {math.floor(widest)} mm{on}"

    def _widest(
        self, hide: int, width: float, length: float, shuns: frozenset[str], beside_parts: bool
    ) -> float:
        """Return the widest strip of a length that is free, narrower than a width, in whole mm."""
        free, taken = 0, math.ceil(width)
        while taken - free > 1:
            middle = (free + taken) // 2
            if self._longest(hide, float(middle), shuns, beside_parts) >= length:
                free = middle
            else:
                taken = middle
        return float(free)

    def _allowed(self, piece: Piece) -> Sequence[int]:
        return range(len(self.hides)) if piece.grounds is None else piece.grounds

    @cached_property
    def _forms(self) -> tuple[list[Make], list[Form], dict[int, list[int]]]:
        """The makes and forms of what is not placed."""
        placed = {placed.piece for placed in self.placements}
        left = [piece for n, piece in enumerate(self.problem.pieces) if n not in placed]
        return forms_of(left, self.problem.gap)

    def _fits(self, piece: Piece) -> tuple[bool, bool]:
        """Whether a piece finds room on an empty hide, and whether it would but for its areas."""
        _, forms, by_shape = self._forms
        own = [forms[number] for number in by_shape[piece.shape]]

        def found(*, plain: bool) -> bool:
            return any(
                self._longest_alone(hide, form.make, step, plain=plain) >= form.length - SLACK
                for step in _ROWS
                for hide in self._allowed(piece)
                for form in own
            )

        fits = found(plain=False)
        return fits, fits or found(plain=True)

    def _longest_alone(self, hide: int, number: int, step: float, *, plain: bool) -> float:
        """Return the longest run of an empty hide's rows that a make finds, mm, its areas apart if plain."""
        make = self._forms[0][number]
        key = (hide, number, plain and bool(make.areas), step)
        if key not in self._alone:
            kind = Make(make.height, make.whole, (), make.grown) if plain else make
            self._alone[key] = self._longest_run(hide, kind, step, beside_parts=False)
        return self._alone[key]

    def _longest(self, hide: int, width: float, shuns: frozenset[str], beside_parts: bool) -> float:
        """Return the longest strip of a width that is free on a hide, mm; 0 where there is none."""
        key = (hide, round(width, 6), shuns, beside_parts)
        if key not in self._measured:
            line = Sides(shuns, np.array([0.0, width]), np.zeros(2), np.zeros(2))
            strip = Make(width, line, (), line)
            self._measured[key] = self._longest_run(hide, strip, _STEP, beside_parts=beside_parts)
        return self._measured[key]

    def _longest_run(self, hide: int, make: Make, step: float, *, beside_parts: bool) -> float:
        """Return the longest run of a hide's rows that is free for a make, mm; 0 where there is none."""
        ground, margin = self.problem.grounds[hide], self.problem.margin
        if (hide, beside_parts) not in self._edges:
            pieces = self.problem.pieces
            taken = [
                placed.apply(pieces[placed.piece].outline)
                for placed in self.placements
                if beside_parts and placed.ground == hide
            ]
            self._edges[hide, beside_parts] = Edges(ground, margin, self.problem.gap, taken)
        y0 = float(np.min(ground.boundary[:, 1])) + margin
        room = float(np.ptp(ground.boundary[:, 1])) - 2 * margin - make.height
        rows = max(0, math.floor(room / step + SLACK) + 1)
        low, high = np.full((rows, _RUNS), np.inf), np.full((rows, _RUNS), -np.inf)
        self._edges[hide, beside_parts].scan(make, 0.0, y0, step, low, high)
        return max(0.0, float((high - low).max(initial=0.0)))


def _up(value: float) -> str:
    return f"{math.ceil(value * 10 - 0.01) / 10:g}"
