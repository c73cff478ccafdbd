"""Flaws of a hide on a picture: each kind's hatch, its words in the key, and how it is drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Hatch, Line, Path
from strapwright.drawing.layout.elements import EDGE, WIDTH, patch, text
from strapwright.drawing.text import text_width

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from strapwright.drawing.canvas import Item, Point

ONCE: Final = "once"
"""The kind of a zone kept clear for one layout."""

FLAW_HATCHES: Final = {
    "hole": Hatch("hole", 7, (Line(0, 0, 7, 7, "hatch-hole"), Line(7, 0, 0, 7, "hatch-hole"))),
    "mark": Hatch("mark", 6, (Line(3, 0, 3, 6, "hatch-mark"),), 45),
    "loose": Hatch("loose", 7, (Line(3.5, 3.5, 3.5, 3.5, "hatch-loose"),)),
    ONCE: Hatch(ONCE, 6, (Line(3, 0, 3, 6, "hatch-once"),)),
}
"""One hatch for each kind of flaw: crossed, slanted, dotted; upright for zones kept clear for one layout."""

FLAW_WORDS: Final = {
    "hole": "hole or cut",
    "mark": "mark: scar or brand",
    "loose": "loose: stretchy",
    ONCE: "kept clear for this layout",
}
"""What each hatch means."""

_WORDS: Final = 12.0
_COLUMN: Final = 200.0
_ROW: Final = 24.0


def flaw_items(kind: str, pieces: Iterable[Sequence[Point]], look: str = "") -> Iterator[Item]:
    """Yield a flaw as it is drawn: hatched, and nothing of the leather seen through it.

    Args:
        kind: of the flaw, or `ONCE`.
        pieces: corners of what is drawn of it, px.
        look: another that goes before its own.
    """
    shape = tuple(pieces)
    yield Path(shape, "sheet", closed=True)
    yield Path(shape, f"flaw-{kind} {look}".rstrip(), closed=True, hatch=FLAW_HATCHES[kind])


def flaw_key(kinds: Collection[str], x: float, y: float, look: str = "") -> tuple[list[Item], float, float]:
    """Return what the hatches mean, in rows, and where the next word of the key may stand.

    Args:
        kinds: of what is drawn.
        x: where the first begins, px.
        y: middle of its row.
        look: another of the flaws.
    """
    items: list[Item] = []
    for kind, words in FLAW_WORDS.items():
        if kind in kinds:
            if x + 33 + text_width(words, _WORDS) > WIDTH - EDGE:
                x, y = EDGE, y + _ROW
            items.append(patch(x, y, f"flaw-{kind} {look}".rstrip(), FLAW_HATCHES[kind]))
            items.append(text(x + 33, y + 4.5, words, _WORDS))
            x += _COLUMN
    return items, x, y
