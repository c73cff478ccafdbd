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
    """

    fill: str = ""
    stroke: str = ""
    width: float = 0.0
    dashes: tuple[float, ...] = ()
    dark_fill: str = ""
    dark_stroke: str = ""
    opacity: float = 1.0

    def over(self, below: Look) -> Look:
        """Return how a shape with two looks is drawn, this one being the stronger."""
        return Look(
            self.fill or below.fill,
            self.stroke or below.stroke,
            self.width or below.width,
            self.dashes or below.dashes,
            opacity=min(self.opacity, below.opacity),
        )


_LEATHER: Final = Look(fill="#f6eee2", dark_fill="#2d2720")


def _line(width: float, dashes: tuple[float, ...] = ()) -> Look:
    return Look("none", "#4a4a4a", width, dashes, dark_stroke="#b9bdc2")


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
    "head": Look(fill="#4a4a4a", dark_fill="#b9bdc2"),
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
    light += [f".{SCOPE} {kind}{{fill:none}}" for kind in ("path", "circle")]
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
        "fill-opacity": f"{look.opacity:g}" if look.opacity < 1.0 else "",
    }
    return ";".join(f"{key}:{value}" for key, value in said.items() if value)
