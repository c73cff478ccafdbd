"""Labels over and under a piece, placed so that no text or leader crosses another text."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PaperError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from typing import Literal

    Box = tuple[float, float, float, float]

SIZE: Final = 2.6
"""Size of labels, mm: about 7.4 points, as small as one reads at a bench."""

_TIER: Final = 4.0
_FIRST: Final = 2.7
_CLEAR: Final = 0.8
_MOST_TIERS: Final = 10
_MOST_TRIES: Final = 3000


@dataclass(frozen=True)
class Wanted:
    """A label that is wanted.

    Args:
        x: what it is about, mm along the sheet.
        y: where its leader begins, mm over the centre line.
        text: the words.
        up: whether it stands over the piece, or under it.
        plain: set over its place without a leader, where there is room.
        bare: set beside its place, and never with a leader.
        first: the side that is tried first.
    """

    x: float
    y: float
    text: str
    up: bool
    plain: bool = False
    bare: bool = False
    first: Literal["right", "left"] = "right"


@dataclass(frozen=True)
class Placed:
    """A label that found its place.

    Args:
        text: the words.
        x: left end of the text, mm.
        y: of its base line, mm over the centre line.
        leader: from what it is about to the text, points, mm; empty for none.
    """

    text: str
    x: float
    y: float
    leader: tuple[tuple[float, float], ...]


def place(
    wanted: Sequence[Wanted],
    edges: tuple[float, float],
    limits: tuple[float, float],
    taken: Sequence[Box],
    width: Callable[[str, float], float],
) -> tuple[tuple[Placed, ...], float, float]:
    """Place labels in tiers over and under a piece.

    Args:
        wanted: the labels; those named first get the nearer places.
        edges: lower and upper edge of the piece, mm over the centre line.
        limits: the texts stay between these two x.
        taken: boxes that texts and leaders keep clear of.
        width: of a text at a size.

    Returns:
        The labels, and how low and how high they reach, mm over the centre line.

    Raises:
        PaperError: a label longer than the sheet is wide.
    """
    placed: list[Placed] = []
    low, high = edges
    for up in (False, True):
        band = [one for one in wanted if one.up is up]
        for label, box, _ in _search(band, edges, limits, taken, width):
            placed.append(label)
            low, high = min(low, box[1]), max(high, box[3])
    return tuple(placed), low, high


Choice = tuple[Placed, "Box", "Box | None"]


def _search(
    band: Sequence[Wanted],
    edges: tuple[float, float],
    limits: tuple[float, float],
    taken: Sequence[Box],
    width: Callable[[str, float], float],
) -> list[Choice]:
    """Return places for all labels of a band that keep clear of each other, in as few tiers as it takes.

    One label after the other is given the nearest place that is free; where one finds none, those before it
    move.
    """
    best: list[Choice] = []
    for tiers in range(1, _MOST_TIERS + 1):
        choices = [list(_choices(one, tiers, edges, limits, width(one.text, SIZE))) for one in band]
        found: list[Choice] = []
        tried = [0] * len(band)
        for _ in range(_MOST_TRIES):
            at = len(found)
            if at == len(band):
                return found
            while tried[at] < len(choices[at]) and not _free(choices[at][tried[at]], found, taken):
                tried[at] += 1
            if tried[at] < len(choices[at]):
                found.append(choices[at][tried[at]])
                tried[at] += 1
                if at + 1 < len(band):
                    tried[at + 1] = 0
            elif at == 0:
                break
            else:
                found.pop()
        best = max(best, found, key=len)
    raise PaperError(f'no space beside it for the label "{band[len(best)].text}"')


def _choices(
    one: Wanted, tiers: int, edges: tuple[float, float], limits: tuple[float, float], wide: float
) -> Iterator[Choice]:
    """Yield the places a label may have, nearest first."""
    sides = ("over", "right", "left") if one.first == "right" else ("over", "left", "right")
    for tier, side in product(range(tiers), sides):
        if side == "over" and not one.plain:
            continue
        y = edges[1] + _FIRST + tier * _TIER if one.up else edges[0] - _FIRST - SIZE * 0.6 - tier * _TIER
        x = one.x - wide / 2 if side == "over" else one.x + 1.2 if side == "right" else one.x - 1.2 - wide
        if x < limits[0] or x + wide > limits[1]:
            continue
        box = (x - _CLEAR, y - 0.26 * SIZE - 0.2, x + wide + _CLEAR, y + SIZE)
        if one.bare or (side == "over" and not tier):
            yield Placed(one.text, x, y, ()), box, None
            continue
        middle = y + 0.35 * SIZE
        stop = middle if side != "over" else y - 0.3 * SIZE if one.up else y + 1.1 * SIZE
        leader: tuple[tuple[float, float], ...] = ((one.x, one.y), (one.x, stop))
        if side != "over":
            leader += ((one.x + (0.9 if side == "right" else -0.9), middle),)
        start = edges[1] if one.up else edges[0]
        line = (one.x - 0.2, min(start, stop), one.x + 0.2, max(start, stop))
        yield Placed(one.text, x, y, leader), box, line


def _free(choice: Choice, found: Sequence[Choice], taken: Sequence[Box]) -> bool:
    """Whether text and leader keep clear of other texts, and the text of other leaders."""
    _, box, line = choice
    if any(_meet(box, other) or (line is not None and _meet(line, other)) for other in taken):
        return False
    for _, other, other_line in found:
        if _meet(box, other) or (line is not None and _meet(line, other)):
            return False
        if other_line is not None and _meet(box, other_line):
            return False
    return True


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
