"""A picture of a layout to look at before anything is cut: hides, flaws, parts, yield, what is left of them.

It is drawn for a screen or a sheet of paper, 1200 units wide, not for a machine; the colours are
Okabe and Ito's, and everything a colour tells is told by line, hatch or word as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.findings import told_together
from strapwright.core.text import escape
from strapwright.drawing.layout.leftover import back_lines, rest_lines, rest_words, stroke, zone_lines
from strapwright.drawing.layout.parts import PATTERNS, Frame, Label, lettered, path_data, text
from strapwright.drawing.text import text_width, wrapped
from strapwright.files.atomic_write import MARK
from strapwright.nesting.bound.area import bound_sentence
from strapwright.nesting.hide.types import FlawKind
from strapwright.nesting.stock.remnant import remnants_on
from strapwright.parts.part import Operation, PartKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from strapwright.core.findings import Finding
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Layout, PlacedPart

WIDTH: Final = 1200.0
"""Width of the picture, px."""

_EDGE: Final = 30.0
_INNER: Final = WIDTH - 2 * _EDGE
_TALLEST: Final = 1000.0
_FLAWS: Final = {
    FlawKind.HOLE: ("hole or cut", "#D55E00", ""),
    FlawKind.MARK: ("mark: scar or brand", "#0072B2", "6 3"),
    FlawKind.LOOSE: ("loose: stretchy", "#56B4E9", "1.5 3"),
}
_ONCE: Final = ("kept clear for this layout", "#666666", "8 2")
_LINES: Final = {
    Operation.CUT: ("#009E73", ""),
    Operation.SCORE: ("#E69F00", "5 2"),
    Operation.PUNCH: ("#CC79A7", ""),
}
_FILLS: Final = {PartKind.STRAP: "#E3F3EE", PartKind.LINING: "#EAF0F7", PartKind.KEEPER: "#FFFFFF"}
_INK: Final = "#222222"
_GREY: Final = "#666666"
_LISTED: Final = 12
"""So many parts without a place, and so many findings, are named; the command's own list has all."""

_COLUMNS: Final = 5


@dataclass
class _Page:
    """Lines of SVG, and how far down the page is filled."""

    lines: list[str]
    y: float = 0.0

    def say(self, words: str, size: float = 13, *, bold: bool = False, colour: str = _INK) -> None:
        """Set one line of text at the left edge and move down."""
        self.y += size * 1.45
        self.lines.append(text(_EDGE, self.y, words, size, bold=bold, colour=colour))


def picture_svg(layout: Layout, *, title: str, findings: Sequence[Finding] = ()) -> str:
    """Draw a layout, every hide of it below the one before, all to one scale.

    Args:
        layout: what to draw.
        title: what stands at the head, such as the job's name.
        findings: of draft and layout; so many of them are told, the gravest first.

    Returns:
        An SVG document 1200 px wide that holds `files.whole.MARK` in a comment.
    """
    page = _Page([])
    page.y = 14.0
    page.say(title, 22, bold=True)
    hides = [hide for hide in layout.hides if layout.placed_on(hide.name)] or list(layout.hides[:1])
    unused = [hide.name for hide in layout.hides if hide not in hides]
    page.say(
        f"{len(layout.placed)} of {layout.asked} parts placed on "
        f"{len(hides)} hide{'s' if len(hides) != 1 else ''}. {bound_sentence(layout)}"
    )
    if unused:
        page.say(f"Not needed: {', '.join(unused)}.")
    scale = min(
        min(_INNER / float(np.max(hide.outline[:, 0]) - np.min(hide.outline[:, 0])) for hide in hides),
        min(_TALLEST / float(np.max(hide.outline[:, 1]) - np.min(hide.outline[:, 1])) for hide in hides),
    )
    for hide in hides:
        _draw_hide(page, layout, hide, scale)
    _draw_unplaced(page, layout)
    _tell_findings(page, findings)
    height = page.y + 20
    size = f'width="{WIDTH:g}" height="{height:.0f}" viewBox="0 0 {WIDTH:g} {height:.0f}"'
    head = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="DejaVu Sans, sans-serif">',
        f"<!-- {MARK} -->",
        f"<title>{escape(title)}</title>",
        PATTERNS,
        '<rect width="100%" height="100%" fill="#FFFFFF"/>',
    ]
    return "\n".join([*head, *page.lines, "</svg>", ""])


def _draw_hide(page: _Page, layout: Layout, hide: Hide, scale: float) -> None:
    on_it = layout.placed_on(hide.name)
    page.y += 10
    words = [hide.name]
    if hide.thickness is not None:
        words.append(f"{hide.thickness:.2f} mm thick")
    words.append(f"{hide.face_up} side up")
    words.append(f"{len(on_it)} part{'s' if len(on_it) != 1 else ''}")
    words.append(f"{layout.yield_of(hide.name):.1%} of the sound leather used")
    page.say(" · ".join(words), 15, bold=True)
    page.y += 26
    (x0, y0), (_, y1) = hide.outline.min(axis=0), hide.outline.max(axis=0)
    frame = Frame(float(x0), float(y1), _EDGE, page.y, scale)
    page.lines.append(
        f'<path d="{frame.polygon(hide.outline)}" fill="#F4EADB" stroke="#5A4632" stroke-width="1.6"/>'
    )
    clear = layout.avoided_on(hide.name)
    places = [("once", _ONCE, zone.polygon) for zone in clear]
    places += [(str(flaw.kind), _FLAWS[flaw.kind], flaw.polygon) for flaw in hide.flaws]
    for hatch, (_, colour, dash), polygon in places:
        shape = " ".join(frame.polygon(piece) for piece in _on_leather(polygon, hide))
        page.lines.append(f'<path d="{shape}" fill="#FFFFFF"/>')
        page.lines.append(
            f'<path d="{shape}" fill="url(#{hatch})" stroke="{colour}" stroke-width="1.4"{_dash(dash)}/>'
        )
    outlines = (one.placement.apply(one.part.outline) for one in on_it)
    page.lines += zone_lines(hide, outlines, frame)
    rest = remnants_on(layout, hide)
    page.lines += rest_lines(hide, rest, frame)
    numbers: list[tuple[int, str]] = []
    for placed in on_it:
        page.lines += _draw_part(placed, frame)
        label = lettered(placed, frame)
        if label is None:
            numbers.append((len(numbers) + 1, placed.part.id))
            label = lettered(placed, frame, str(len(numbers)))
            assert label is not None
        page.lines.append(_set(label))
    page.lines += back_lines(hide, frame)
    page.y += float(y1 - y0) * scale + 28
    _draw_key(page, hide, layout.direction_of(hide.name), scale, avoided=bool(clear))
    for row in rest_words(hide, rest):
        y = page.y + 12
        for dash, wide, x, told in row:
            page.lines.append(stroke(_EDGE + x, y, dash, wide))
            page.lines.append(text(_EDGE + x + 70, y + 4.5, _shortened(told, 12, _INNER - x - 70), 12))
        page.y = y + 6
    _draw_numbers(page, numbers)


def _on_leather(polygon: NDArray[np.float64], hide: Hide) -> list[NDArray[np.float64]]:
    """Return what of a place lies on the hide, piece by piece."""
    import shapely

    shared = shapely.intersection(shapely.Polygon(polygon), shapely.Polygon(hide.outline))
    pieces = [piece for piece in shapely.get_parts(shared) if piece.geom_type == "Polygon"]
    return [shapely.get_coordinates(piece.exterior)[:-1] for piece in pieces]


def _draw_part(placed: PlacedPart, frame: Frame) -> Iterator[str]:
    part, move = placed.part, placed.placement.apply
    yield (
        f'<path d="{path_data(move(part.outline), frame)}" fill="{_FILLS[part.kind]}" '
        f'stroke="{_LINES[Operation.CUT][0]}" stroke-width="1.1"/>'
    )
    for feature in part.features:
        colour, dash = _LINES[feature.operation]
        yield (
            f'<path d="{path_data(move(feature.contour), frame)}" fill="none" stroke="{colour}" '
            f'stroke-width="0.7"{_dash(dash)}/>'
        )


def _set(label: Label) -> str:
    return text(label.x, label.y, label.words, label.size, middle=True, turn=label.turn, colour=_INK)


def _draw_key(page: _Page, hide: Hide, direction: float, scale: float, *, avoided: bool) -> None:
    """Draw the scale bar, the strap direction and what the hatches mean."""
    upright = 16 * abs(math.sin(direction))  # room for the arrow
    y = page.y + 10 + upright
    length = _round_length(180 / scale)
    bar = length * scale
    page.lines.append(
        f'<path d="M {_EDGE:g} {y - 5:.2f} V {y + 5:.2f} M {_EDGE:g} {y:.2f} H {_EDGE + bar:.2f} '
        f"M {_EDGE + bar:.2f} {y - 5:.2f} V {y + 5:.2f} M {_EDGE + bar / 2:.2f} {y - 3:.2f} "
        f'V {y + 3:.2f}" stroke="{_INK}" stroke-width="1.4" fill="none"/>'
    )
    page.lines.append(text(_EDGE + bar + 8, y + 4.5, f"{length:g} mm", 12))
    x = _EDGE + bar + 100
    page.lines.append(_arrow(x + 22, y, direction))
    page.lines.append(text(x + 52, y + 4.5, "straps this way", 12))
    x += 215
    looks = {str(kind): look for kind, look in _FLAWS.items() if any(f.kind is kind for f in hide.flaws)}
    for hatch, (words, colour, dash) in (looks | ({"once": _ONCE} if avoided else {})).items():
        if x + 33 + text_width(words, 12) > WIDTH - _EDGE:
            x, y = _EDGE, y + 24
        page.lines.append(
            f'<rect x="{x:.2f}" y="{y - 8:.2f}" width="26" height="16" fill="url(#{hatch})" '
            f'stroke="{colour}" stroke-width="1.4"{_dash(dash)}/>'
        )
        page.lines.append(text(x + 33, y + 4.5, words, 12))
        x += 200
    page.y = y + 14 + upright


def _arrow(x: float, y: float, direction: float) -> str:
    """Draw a double arrow round (x, y), turned as the straps lie (y up on the hide, down here)."""
    return (
        f'<path transform="rotate({-math.degrees(direction):.2f} {x:.2f} {y:.2f})" '
        f'd="M {x - 22:.2f} {y:.2f} H {x + 22:.2f} m -7 -4.5 l 7 4.5 l -7 4.5 '
        f'M {x - 15:.2f} {y - 4.5:.2f} l -7 4.5 l 7 4.5" fill="none" stroke="{_INK}" '
        'stroke-width="1.4"/>'
    )


def _draw_numbers(page: _Page, numbers: list[tuple[int, str]]) -> None:
    """List the parts that bear a number because their name does not fit on them, column by column."""
    if not numbers:
        return
    page.y += 2
    rows = math.ceil(len(numbers) / _COLUMNS)
    top, wide = page.y, _INNER / _COLUMNS
    for index, (number, name) in enumerate(numbers):
        column, row = divmod(index, rows)
        x, y = _EDGE + column * wide, top + 15 * (row + 1)
        page.lines.append(text(x, y, str(number), 11, bold=True))
        page.lines.append(text(x + 28, y, _shortened(name, 11, wide - 36), 11))
    page.y = top + 15 * rows + 4


def _draw_unplaced(page: _Page, layout: Layout) -> None:
    if not layout.unplaced:
        return
    page.y += 8
    page.say(f"Not placed: {len(layout.unplaced)}", 15, bold=True, colour="#D55E00")
    reasons = list(layout.reasons.items())
    for reason, ids in reasons[:_LISTED]:
        about = _some(ids, 12, _INNER / 3)
        for line in wrapped(f"{about}: {reason}", _INNER, 12):
            page.say(line, 12)
    if len(reasons) > _LISTED:
        page.say(f"and {sum(len(ids) for _, ids in reasons[_LISTED:])} more", 12, colour=_GREY)


def _tell_findings(page: _Page, findings: Sequence[Finding]) -> None:
    if not findings:
        return
    page.y += 8
    page.say("Findings", 15, bold=True)
    told = told_together(findings)
    for found, subjects in told[:_LISTED]:
        about = _some(subjects, 12, _INNER / 3)
        about = f"{about}: " if about else ""
        for line in wrapped(f"{found.severity}: {about}{found.what} {found.do}", _INNER, 12):
            page.say(line, 12)
    if len(told) > _LISTED:
        page.say(f"and {len(told) - _LISTED} more", 12, colour=_GREY)


def _shortened(words: str, size: float, room: float) -> str:
    """Return words cut short with an ellipsis where they would run past the room."""
    if text_width(words, size) <= room:
        return words
    while words and text_width(words + "…", size) > room:
        words = words[:-1]
    return words + "…"


def _some(names: Sequence[str], size: float, room: float) -> str:
    """Return as many names as there is room for, whole, and how many more there are."""
    for count in range(len(names), 1, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        words = ", ".join(names[:count]) + more
        if text_width(words, size) <= room:
            return words
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    return _shortened(", ".join(names[:1]), size, room - text_width(more, size)) + more


def _round_length(length: float) -> float:
    """Return the greatest 1, 2 or 5 times a power of ten that is no longer, mm."""
    power = 10.0 ** math.floor(math.log10(length))
    return max(step * power for step in (1, 2, 5) if step * power <= length)


def _dash(pattern: str) -> str:
    return f' stroke-dasharray="{pattern}"' if pattern else ""
