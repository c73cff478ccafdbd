"""The one style sheet of all drawings: each look by its name, its colours in light and in the dark."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

SCOPE: Final = "strap-drawing"
"""Class of every drawing, so that its looks hold in it alone where it stands in a page."""


@dataclass(frozen=True)
class Look:
    """How a shape is drawn; what is left out, another of its looks may say.

    Args:
        fill: colour as #rrggbb, or ``none``.
        stroke: likewise.
        width: of the stroke, px.
        dashes: lengths of dashes and gaps in turn, px.
        dark_fill: instead of ``fill`` on a dark screen.
        dark_stroke: instead of ``stroke`` there.
        opacity: of the fill.
        round: whether the stroke's ends are round.
    """

    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    dashes: tuple[float, ...] = ()
    dark_fill: str = ""
    dark_stroke: str = ""
    opacity: float = 1.0
    round: bool = False

    def over(self, below: Look) -> Look:
        """Return how a shape with two looks is drawn, this one being the stronger."""
        return Look(
            self.fill or below.fill,
            self.stroke or below.stroke,
            self.width or below.width,
            self.dashes or below.dashes,
            opacity=min(self.opacity, below.opacity),
            round=self.round or below.round,
        )


_LEATHER: Final = Look(fill="#f6eee2", dark_fill="#2d2720")


def _line(width: float, dashes: tuple[float, ...] = ()) -> Look:
    return Look("none", "#4a4a4a", width, dashes, dark_stroke="#b9bdc2")


def _print(width: float, dashes: tuple[float, ...] = ()) -> Look:
    return Look("none", "#000000", width, dashes)


_INK: Final = "#222222"
_KERFS: Final[dict[str, tuple[str, tuple[float, ...]]]] = {
    "vegetable": ("#009e73", ()),
    "chrome": ("#0072b2", (8, 4)),
    "combination": ("#d55e00", (2, 4)),
    "synthetic": ("#cc79a7", (10, 3, 2, 3)),
    "unknown": ("#666666", (5, 5)),
}

LOOKS: Final[dict[str, Look]] = {
    # Belts and other straps: what they are made of, then the lines, by ISO 128-2.
    "paper": Look(fill="#ffffff", dark_fill="#16181b"),
    "leather": _LEATHER,
    "layer": _LEATHER,
    "hole": Look(fill="#ffffff", dark_fill="#16181b"),
    "second": Look(fill="#dfd0b8", dark_fill="#4a3f31"),
    "cut": Look(stroke="#009e73", width=1.8, dark_stroke="#2cc79a"),
    "score": Look(fill="none", stroke="#e69f00", width=1.8, dashes=(6, 3), dark_stroke="#f0b429"),
    "mark": _line(1.2),
    "thin": _line(0.8),
    "rule": Look(stroke="#b4b4b4", width=0.8, dark_stroke="#55595e"),
    "centre": _line(0.8, (14, 3, 2, 3)),
    "fold": _line(0.8, (10, 3, 2, 3, 2, 3)),
    "none": Look(fill="none"),
    "sample": Look("#f6eee2", "#4a4a4a", 1.2, dark_fill="#4a3f31", dark_stroke="#b9bdc2"),
    "sample-metal": Look("#d9d9d9", "#4a4a4a", 1.2, dark_fill="#6b7075", dark_stroke="#b9bdc2"),
    "frame": Look(fill="none", stroke="#4a4a4a", width=3.0, dark_stroke="#b9bdc2"),
    "head": Look(fill="#4a4a4a", dark_fill="#b9bdc2"),
    "gap": Look("#fffdfa", "#4a4a4a", 1.2, dark_fill="#1b1a18", dark_stroke="#b9bdc2"),
    "jaw": Look("#8a3d1c", "#8a3d1c", 0.8, dark_fill="#e2955f", dark_stroke="#e2955f", opacity=0.85),
    "counts": Look("#009e73", "#009e73", 2.0, dark_fill="#2cc79a", dark_stroke="#2cc79a"),
    # Pictures on a white sheet, on a dark screen as well; colours are Okabe and Ito's.
    "sheet": Look(fill="#ffffff"),
    "ink": Look(fill=_INK),
    "quiet": Look(fill="#666666"),
    "grave": Look(fill="#d55e00"),
    "zone-words": Look(fill="#8a6d3b"),
    "scale": Look(stroke=_INK, width=1.4),
    # Hides, and what lies on them.
    "hide": Look(fill="#f4eadb", stroke="#5a4632", width=1.6),
    "flaw-hole": Look(stroke="#d55e00", width=1.4),
    "flaw-mark": Look(stroke="#0072b2", width=1.4, dashes=(6, 3)),
    "flaw-loose": Look(stroke="#56b4e9", width=1.4, dashes=(1.5, 3)),
    "flaw-once": Look(stroke="#666666", width=1.4, dashes=(8, 2)),
    "hatch-hole": Look(stroke="#d55e00", width=0.9),
    "hatch-mark": Look(stroke="#0072b2", width=1.0),
    "hatch-loose": Look(stroke="#56b4e9", width=2.2, round=True),
    "hatch-once": Look(stroke="#666666", width=1.0),
    "zone": Look(stroke="#8a6d3b", width=1.1, dashes=(10, 3, 2, 3, 2, 3)),
    "first-cut": Look(stroke="#666666", width=4.5, dashes=(2, 7)),
    "cut-off": Look(stroke="#666666", width=2.2, dashes=(14, 5)),
    "clear": Look(stroke="#666666", width=0.9, dashes=(3, 3)),
    "back": Look(stroke=_INK, width=2.2, dashes=(12, 4, 2, 4)),
    "part-strap": Look(fill="#e3f3ee"),
    "part-lining": Look(fill="#eaf0f7"),
    "part-keeper": Look(fill="#ffffff"),
    "edge": Look(stroke="#009e73", width=1.1),
    "feature-cut": Look(stroke="#009e73", width=0.7),
    "feature-score": Look(stroke="#e69f00", width=0.7, dashes=(5, 2)),
    "feature-punch": Look(stroke="#cc79a7", width=0.7),
    # Thumbnails of hides.
    "small-hide": Look(fill="#f4eadb", stroke="#5a4632", width=1.2),
    "small-flaw": Look(width=1.0),
    "small-zone": Look(stroke="#5a4632", width=1.0, dashes=(2, 2)),
    "longest": Look(fill="#009e73", stroke="#009e73", width=1.0, opacity=0.35),
    # Plans: the cuts themselves are in the machine's own colours.
    "travel": Look(stroke="#8a8a8a", width=0.6),
    "travel-head": Look(fill="#8a8a8a"),
    "turns": Look(stroke="#0072b2", width=0.9),
    "bed": Look(stroke="#b5b5b5", width=0.8),
    "origin": Look(stroke=_INK, width=1.6),
    "pin": Look(stroke=_INK, width=1.2),
    "entry": Look(fill=_INK),
    # Kerf plots: materials are known by mark and dash without their colours too.
    "grid": Look(stroke="#dddddd", width=1.0),
    **{f"kerf-{name}": Look("", colour, 2.0, dashes) for name, (colour, dashes) in _KERFS.items()},
    **{f"spread-{name}": Look("", colour, 1.4) for name, (colour, _) in _KERFS.items()},
    **{f"reading-{name}": Look(colour, colour, 2.0) for name, (colour, _) in _KERFS.items()},
    "replaced": Look("#ffffff", "#888888", 2.0),
    # Paper patterns, in mm on paper; always black, so that they print anywhere.
    "print-cut": _print(0.3),
    "print-hole": _print(0.2),
    "print-centre": _print(0.13, (8, 1.2, 1, 1.2)),
    "print-fold": _print(0.2, (5, 1, 1, 1, 1, 1)),
    "print-stitch": _print(0.2, (1, 1)),
    "print-score": _print(0.2, (3, 1.2)),
    "print-trim": _print(0.25, (0.6, 1)),
    "print-bar": _print(0.2),
    "print-fine": _print(0.1),
    "print-black": Look("#000000", "#000000", 0.1),
    "print-solid": Look("#000000", "none"),
    "print-words": Look("#000000"),
    "print-white": Look("#ffffff"),
}
"""Every look; where two of one shape say the same thing, the later one counts."""

INK: Final = Look(fill="#1b1b1b", dark_fill="#eceef0")
"""Of text without a look of its own."""


def merged(names: str, looks: Mapping[str, Look]) -> Look:
    """Return how a shape is drawn in the light.

    Args:
        names: of its looks, with blanks between.
        looks: in the order of the style sheet.

    Example:
        >>> merged("cut hole", LOOKS).fill, merged("hole mark", LOOKS).fill
        ('#ffffff', 'none')
    """
    found, wanted = Look(), names.split()
    for name, look in looks.items():
        if name in wanted:
            found = look.over(found)
    return found


def style_sheet(looks: Mapping[str, Look]) -> str:
    """Return looks as CSS, light or dark as the reader's screen prefers; on paper they are light."""
    light = [f".{SCOPE}{{max-width:100%;height:auto}}"]
    sheet = [("text", INK), *((f".{name}", look) for name, look in looks.items())]
    light += _rules((name, _declared(look)) for name, look in sheet)
    dark = _rules((name, _declared(Look(look.dark_fill, look.dark_stroke))) for name, look in sheet)
    return "\n".join([*light, "@media screen and (prefers-color-scheme: dark){", *dark, "}"])


def _rules(sheet: Iterable[tuple[str, str]]) -> list[str]:
    return [f".{SCOPE} {name}{{{declared}}}" for name, declared in sheet if declared]


def _declared(look: Look) -> str:
    said = {
        "fill": look.fill,
        "stroke": look.stroke,
        "stroke-width": f"{look.width:g}" if look.width else "",
        "stroke-dasharray": " ".join(f"{one:g}" for one in look.dashes),
        "stroke-linecap": "round" if look.round else "",
        "fill-opacity": f"{look.opacity:g}" if look.opacity < 1.0 else "",
    }
    return ";".join(f"{key}:{value}" for key, value in said.items() if value)
