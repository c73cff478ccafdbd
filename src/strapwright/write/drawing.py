"""The drawing of a draft: every blank and keeper with dimensions, findings and cautions, as SVG."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape

from strapwright.files.whole import MARK
from strapwright.job.grading import findings_of, grouped
from strapwright.trade.safety import cautions
from strapwright.units import MM_PER_INCH, format_length
from strapwright.write.blank_view import draw_blank, figure
from strapwright.write.dimension_lines import Along, Board, across, dimensions, number
from strapwright.write.ends_view import draw_ends
from strapwright.write.goods_view import draw_goods, goods_notes
from strapwright.write.grading_view import draw_run
from strapwright.write.header import one_line
from strapwright.write.lettering import Box, text_width, wrapped
from strapwright.write.strap_view import LEFT, View, draw_feature

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from strapwright.job.draft import BeltDraft, Draft
    from strapwright.job.goods_draft import StrapDraft
    from strapwright.parts.keeper import KeeperStrip
    from strapwright.parts.part import Part

_WIDTH: Final = 1000.0
_MARGIN: Final = 36.0
_TEXT: Final = 13.0
_LINE: Final = 19.0
_TITLE: Final = 19.0
_NOTES_FROM: Final = 430.0
"""Notes stand beside the keeper from here on, or further right where it is longer, px."""

_STYLE: Final = """
.strap-drawing .paper{fill:#ffffff}
.strap-drawing .leather{fill:#f6eee2}
.strap-drawing .hole{fill:#ffffff}
.strap-drawing .cut{stroke:#009e73;stroke-width:1.8}
.strap-drawing .score{fill:none;stroke:#e69f00;stroke-width:1.8;stroke-dasharray:6 3}
.strap-drawing .mark{fill:none;stroke:#4a4a4a;stroke-width:1.2}
.strap-drawing .thin{fill:none;stroke:#4a4a4a;stroke-width:0.8}
.strap-drawing .rule{fill:none;stroke:#b4b4b4;stroke-width:0.8}
.strap-drawing .centre{fill:none;stroke:#4a4a4a;stroke-width:0.8;stroke-dasharray:14 3 2 3}
.strap-drawing .fold{fill:none;stroke:#4a4a4a;stroke-width:0.8;stroke-dasharray:10 3 2 3 2 3}
.strap-drawing .head{fill:#4a4a4a}
.strap-drawing text{fill:#1b1b1b}
@media (prefers-color-scheme: dark){
.strap-drawing .paper{fill:#16181b}
.strap-drawing .leather{fill:#2d2720}
.strap-drawing .hole{fill:#16181b}
.strap-drawing .cut{stroke:#2cc79a}
.strap-drawing .score{stroke:#f0b429}
.strap-drawing .mark,.strap-drawing .thin,.strap-drawing .centre,.strap-drawing .fold{stroke:#b9bdc2}
.strap-drawing .rule{stroke:#55595e}
.strap-drawing .head{fill:#b9bdc2}
.strap-drawing text{fill:#eceef0}
}
"""


def drawing_svg(drafted: Draft, *, units: Literal["mm", "in"] = "mm", ends_only: bool = False) -> str:
    """Return a drawing of every belt's blank and keeper, one below the other, and then of every other strap.

    Each is drawn at true proportion, to a scale of its own, with the middle of the strap left out; the
    sizes of a graded belt are drawn on one another.
    The same draft gives the same text.

    Args:
        drafted: the draft.
        units: of the figures.
        ends_only: the draft's parts are just the two ends of every belt; each is drawn as a piece of its own.

    Returns:
        SVG, 1000 px wide, light or dark as the reader's screen prefers.
    """
    board = Board(_WIDTH, _MARGIN / 4)
    y = 18.0
    for line in wrapped(one_line(drafted.name) or "belts", _WIDTH - 2 * _MARGIN, _TITLE + 4, bold=True):
        y += 26
        board.text(line, _MARGIN, y, size=_TITLE + 4, bold=True)
    for belts in grouped(drafted.belts):
        pieces = [part for part in drafted.parts if part.belt_id == belts[0].id] if ends_only else []
        y = _belts(board, belts, y + 14, units, pieces)
    for strap in drafted.straps:
        y = _goods(board, strap, y + 14, units)
    height = math.ceil(_foot(board, y + 18, units))
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f"<!-- {MARK} -->",
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" class="strap-drawing" width="{number(_WIDTH)}" '
                f'height="{height}" viewBox="0 0 {number(_WIDTH)} {height}" '
                'style="max-width:100%;height:auto" font-family="DejaVu Sans, sans-serif">'
            ),
            f"<title>{escape(one_line(drafted.name) or 'belts')}: drawing</title>",
            f"<style>{_STYLE}</style>",
            f'<rect class="paper" width="{number(_WIDTH)}" height="{height}"/>',
            *board.elements,
            "</svg>",
            "",
        ]
    )


def _belts(
    board: Board,
    belts: Sequence[BeltDraft],
    y: float,
    units: Literal["mm", "in"],
    ends: Sequence[Part],
) -> float:
    """Draw a belt, or the sizes of a graded one, or just the two ends; return where room begins below, px."""
    belt, got, graded = belts[0], belts[0].figures, len(belts) > 1
    strap = f"strap {format_length(got.width, units)} wide · leather {_with_unit(got.layers.strap, units)}"
    if ends:
        y = _heading(board, belt.run or belt.id, f"the two ends, to try in scrap · {strap}", y)
        y = draw_ends(board, belt, ends, y + 10, units)
        return _findings(board, belts, y, graded=graded)
    if graded:
        sizes = f"{len(belts)} sizes, {belt.run_size} to {belts[-1].run_size}"
        y = _heading(board, belt.run, f"make {belt.quantity} of each · {sizes} · {strap}", y)
        y += _LINE + 6
        board.text(f"What all sizes share, and size {belt.run_size} in full", _MARGIN, y, size=_TEXT)
    else:
        blank = f"blank {_with_unit(belt.blank_length, units)} long"
        y = _heading(board, belt.id, f"make {belt.quantity} · {strap} · {blank}", y)
    y, scale = draw_blank(board, belt, y + 10, units)
    if graded:
        y = draw_run(board, belts, y + 8, units)
    together = replace(belt, quantity=sum(one.quantity for one in belts))  # they share one keeper
    y = _keeper_and_notes(board, together, y + 8, scale, units)
    return _findings(board, belts, y, graded=graded)


def _findings(board: Board, belts: Sequence[BeltDraft], y: float, *, graded: bool) -> float:
    """Write the findings of a belt, or of the sizes of a graded one; return where room begins below, px."""
    for finding in findings_of(belts):
        about = finding.subject.removeprefix(f"{belts[0].run}, ") if graded else ""
        size = f"Size {about}: " if about not in ("", "all sizes") else ""
        y = _finding(board, str(finding.severity), f"{size}{finding.what} {finding.do}", y + 4)
    return y


def _goods(board: Board, strap: StrapDraft, y: float, units: Literal["mm", "in"]) -> float:
    """Draw a strap that is no belt; return where free room begins below, px."""
    facts = [
        f"make {strap.quantity}",
        f"strap {format_length(strap.width, units)} wide"
        if strap.ends
        else f"{_with_unit(strap.width, units)} across",
        f"leather {_with_unit(strap.thickness, units)}",
        f"blank {_with_unit(strap.blank_length, units)} long",
    ]
    y = _heading(board, strap.id, " · ".join(facts), y)
    y = draw_goods(board, strap, y + 10, units) + 25
    for note in goods_notes(strap, units):
        for line in wrapped(_tied(note), _WIDTH - _MARGIN - LEFT, _TEXT):
            board.text(line, LEFT, y, size=_TEXT)
            y += _LINE
    y -= 6
    for finding in strap.findings:
        y = _finding(board, str(finding.severity), f"{finding.what} {finding.do}", y + 4)
    return y


def _heading(board: Board, name: str, facts: str, y: float) -> float:
    board.line(_MARGIN, y, _WIDTH - _MARGIN, y, "rule")
    y += 30
    lines = wrapped(one_line(name), _WIDTH - 2 * _MARGIN, _TITLE, bold=True)
    for line in lines[:-1]:
        board.text(line, _MARGIN, y, size=_TITLE, bold=True)
        y += 24
    board.text(lines[-1], _MARGIN, y, size=_TITLE, bold=True)
    x = _MARGIN + text_width(lines[-1], _TITLE, bold=True) + 18
    if x + text_width(facts, _TEXT + 1) > _WIDTH - _MARGIN:
        x, y = _MARGIN, y + 24
    board.text(facts, x, y, size=_TEXT + 1)
    return y


def _with_unit(mm: float, units: Literal["mm", "in"]) -> str:
    return f"{figure(mm, units)} {units}"


def _keeper_and_notes(
    board: Board, belt: BeltDraft, y: float, scale: float, units: Literal["mm", "in"]
) -> float:
    notes_x, bottom, top = LEFT, y, y
    if belt.keeper is not None:
        bottom, right = _keeper(board, belt, belt.keeper, y, scale, units)
        notes_x = max(_NOTES_FROM, right + 48)
        if notes_x > _WIDTH - _MARGIN - 300:
            notes_x, top = LEFT, bottom + 4
    top += 17
    for note in _notes(belt, units):
        for line in wrapped(_tied(note), _WIDTH - _MARGIN - notes_x, _TEXT):
            board.text(line, notes_x, top, size=_TEXT)
            top += _LINE
    return max(bottom, top - 6)


def _keeper(
    board: Board, belt: BeltDraft, keeper: KeeperStrip, y: float, scale: float, units: Literal["mm", "in"]
) -> tuple[float, float]:
    """Draw the keeper strip; return its lower and its right end, px."""
    board.text(f"keeper, make {belt.quantity}, {keeper.join} join", LEFT, y + 17, size=_TEXT)
    half = scale * keeper.width / 2
    view = View(scale, 0.0, (0.0, 0.0), y + 58 + half)
    upper, lower, right = view.middle - half, view.middle + half, view.x(keeper.length + keeper.spare)
    board.add(f'<path class="leather cut" d="{view.path(keeper.outline, tip=False)}"/>')
    for feature in keeper.features():
        draw_feature(board, feature, view)
    board.add(f'<path class="centre" d="M{number(LEFT - 8)},{number(view.middle)}H{number(right + 8)}"/>')
    board.solids.append(Box(LEFT, upper, right, lower))
    marks = [f.contour.bounding_box[0] for f in keeper.features() if f.name == "join mark"]
    word = "lap" if keeper.join == "lap" else "join mark"
    inset = (f"{word} {figure(marks[0], units, exact=True)}",)
    wanted = [Along(LEFT, view.x(marks[0]), upper - 14, upper, upper, inset, 1)]
    if keeper.join == "butt":
        end = (figure(keeper.length - marks[1], units, exact=True),)
        wanted.append(Along(view.x(marks[1]), view.x(keeper.length), upper - 14, upper, upper, end, 1))
    length = figure(keeper.length, units)
    if keeper.spare:
        length += f" + {figure(keeper.spare, units)} spare"
    wanted.append(Along(LEFT, right, lower + 22, lower, lower, (length,)))
    dimensions(board, wanted)
    width = figure(keeper.width, units, exact=True)
    across(board, LEFT - 26, upper, lower, LEFT, (width,))
    return max(lower + 34, max(box.y1 for box in board.texts)), right


def _notes(belt: BeltDraft, units: Literal["mm", "in"]) -> list[str]:
    got, keeper = belt.figures, belt.figures.keeper
    notes = ["Grain side up: mark and cut from the grain."]
    if len(got.end.rows) == 1:
        notes.append("Fastener row A meets A′ when the turn-back is folded round the bar.")
    elif got.end.rows:
        names = "ABC"[: len(got.end.rows)]
        mates = ", ".join(f"{name}′" for name in names)
        notes.append(f"Rows {', '.join(names)} meet {mates} when the turn-back is folded round the bar.")
    if got.end.dee:
        notes.append(
            f"The dee ring's bar lies between the layers {_with_unit(got.end.dee, units)} from the fold."
        )
    if belt.posts:
        sizes = ", ".join(post.words(units) for post in belt.posts)
        notes.append(f"Fasteners, through {_with_unit(belt.posts[0].stack, units)} of leather: {sizes}.")
    if belt.strap.stitching:
        first, second = belt.strap.stitching.runs[0][:2]
        inset = format_length(belt.strap.stitching.inset, units)
        notes.append(
            f"Stitches {_with_unit(second - first, units)} apart, {inset} from the edge, never across."
        )
    if belt.lining:
        notes.append(f"Lined from {_with_unit(belt.lining.start, units)} behind the fold line to the tip.")
    if got.layers.fold != got.layers.strap:
        notes.append(f"Fold and turn-back are {_with_unit(got.layers.fold, units)} thick.")
    if belt.strap.crease:
        notes.append(f"Crease line {format_length(belt.strap.crease, units)} from the edge, all round.")
    if belt.strap.marks:
        notes.append("The lettering on the turn-back is scored; worn, it lies hidden.")
    if keeper is not None and keeper.thickness is not None and keeper.thickness != got.layers.outer:
        notes.append(f"The keeper's leather is {_with_unit(keeper.thickness, units)} thick.")
    if not belt.run:  # the sizes of a graded belt have a table of theirs
        least, most, used = (_girth(girth, units) for girth in (*sorted(got.girths), got.girth_in_use))
        notes.append(f"Fits girths of {least} to {most} {units}; at the hole in use {used} {units}.")
    return notes


def _girth(mm: float, units: Literal["mm", "in"]) -> str:
    """Return a girth no finer than a tape tells it."""
    return f"{mm:.0f}" if units == "mm" else f"{mm / MM_PER_INCH:.1f}"


def _tied(text: str) -> str:
    """Return text on one line, its figures tied to their units."""
    return re.sub(r"(?<=\d) (?=(?:mm|in)\b)", "\N{NO-BREAK SPACE}", one_line(text))


def _finding(board: Board, severity: str, text: str, y: float) -> float:
    label = f"{severity}:"
    indent = text_width("caution: ", _TEXT, bold=True)
    y += 14
    board.text(label, _MARGIN, y, size=_TEXT, bold=True)
    for line in wrapped(_tied(text), _WIDTH - 2 * _MARGIN - indent, _TEXT):
        board.text(line, _MARGIN + indent, y, size=_TEXT)
        y += _LINE
    return y - 12


def _foot(board: Board, y: float, units: Literal["mm", "in"]) -> float:
    """Draw legend, reading note and cautions; return the drawing's height, px."""
    board.line(_MARGIN, y, _WIDTH - _MARGIN, y, "rule")
    y += 24
    x = _MARGIN
    for kind, word in (("cut", "cut"), ("score", "score"), ("fold", "fold line"), ("centre", "centre line")):
        board.add(f'<path class="{kind}" d="M{number(x)},{number(y - 4)}h44"/>')
        board.text(word, x + 52, y, size=_TEXT)
        x += 52 + text_width(word, _TEXT) + 26
    unit = "millimetres" if units == "mm" else "inches"
    y += _LINE + 6
    told = [
        f"Figures are {unit}. Work to the figures; do not measure the picture.",
        "At the bench: " + " ".join(cautions("bench")),
    ]
    for paragraph in told:
        for line in wrapped(paragraph, _WIDTH - 2 * _MARGIN, _TEXT - 1):
            board.text(line, _MARGIN, y, size=_TEXT - 1)
            y += _LINE - 2
    return y + 4
