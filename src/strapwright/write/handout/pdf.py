"""A handout as PDF: its words and pictures set in pages, the pattern's sheets among them at true size."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any, Final

from reportlab.lib.units import mm
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Frame,
    HRFlowable,
    Image,
    KeepTogether,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Spacer,
)

from strapwright.drawing.belt.strap_pictures import thumbnail
from strapwright.drawing.pdf import draw
from strapwright.drawing.text import LACKING
from strapwright.write.card.pdf import (
    MARGINS,
    TEXT,
    TITLE,
    NumberedPages,
    Picture,
    Setter,
    blank_document,
)
from strapwright.write.handout.content import Heading, Pictured, Step, get, scrap, sizing, steps, watch
from strapwright.write.pattern.paper_sizes import PAPERS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from strapwright.drawing.pdf import PaperPage
    from strapwright.write.card.blocks import Paper
    from strapwright.write.handout.content import Design, Item

_STEP_PICTURE: Final = 66 * mm
_SIDE_PICTURE: Final = 62 * mm
_KEPT: Final = 40 * mm
"""A heading begins no page with less room than this below it."""


def handout_pdf(
    design: Design,
    pattern: Iterable[PaperPage],
    paper: Paper = "a4",
    *,
    picture: bytes | None = None,
    font: Path | None = None,
) -> bytes:
    """Return a handout as PDF; the same design gives the same bytes.

    Args:
        design: what is given away.
        pattern: the sheets of its pattern.
        paper: ``"a4"`` or ``"letter"``.
        picture: of the belt in the round, as PNG; None draws its strap.
        font: a TrueType font of the user's own for all text; None takes the usual one.
    """
    stream, sheets = io.BytesIO(), list(pattern)
    title = design.words.say("document.title", name=design.drafted.name)
    document, setter = blank_document(stream, title, font, paper)
    left, _, _, bottom = MARGINS

    def end_page(canvas: Any, _: Any) -> None:
        setter.foot(canvas, title, bottom - 6 * mm, 30 * mm)

    def sheet_page(sheet: PaperPage) -> PageTemplate:
        def paint(canvas: Any, _: Any) -> None:
            canvas.number_at = None
            canvas.saveState()
            canvas.scale(*(mm * scale for scale in sheet.stretch))
            top = sheet.paper[1] - sheet.top
            draw(canvas, sheet.canvas, sheet.left, top, sheet.size, setter.font, setter.bold)
            canvas.restoreState()

        size = (sheet.paper[0] * mm, sheet.paper[1] * mm)
        frame = Frame(0, 0, *size, 0, 0, 0, 0)
        return PageTemplate(f"sheet {id(sheet)}", [frame], onPage=paint, pagesize=size)

    frame = Frame(left, bottom, setter.wide, setter.high, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame], onPageEnd=end_page, pagesize=document.pagesize))
    document.addPageTemplates([sheet_page(sheet) for sheet in sheets])

    class Pages(NumberedPages):
        words = design.words["document.page"]

    flow = [
        *_cover(setter, design, title, picture, paper),
        *_items(setter, (*get(design), *sizing(design), *steps(design), *watch(design))),
        *_sheets(setter, design, sheets),
        *_items(setter, scrap(design)),
    ]
    document.build(flow, canvasmaker=Pages)
    return stream.getvalue()


def _cover(
    setter: Setter, design: Design, title: str, picture: bytes | None, paper: Paper
) -> Iterator[Flowable]:
    say = design.words.say
    yield setter.paragraph(title, TITLE + 1.2 * mm, bold=True)
    if design.graded:
        yield setter.paragraph(say("document.sizes", sizes=", ".join(one.run_size for one in design.belts)))
    yield Spacer(1, 2 * mm)
    if picture is None:
        yield Picture(thumbnail(design.belt), setter)
    else:
        image = Image(io.BytesIO(picture))
        image._restrictSize(setter.wide, 105 * mm)
        yield image
    yield Spacer(1, 2 * mm)
    yield setter.paragraph(say("document.intro", paper=PAPERS[paper].words))
    yield setter.paragraph(say("document.not_for"), gap=1.5 * mm)
    if setter.font.lacking(" ".join((title, *design.words.values()))):
        yield setter.paragraph(LACKING)


def _sheets(setter: Setter, design: Design, sheets: list[PaperPage]) -> Iterator[Flowable]:
    say = design.words.say
    yield from _items(setter, [Heading(say("pattern.heading"))])
    yield setter.paragraph(say("pattern.intro"))
    if design.graded:
        yield setter.paragraph(say("pattern.sizes"))
    for name in (*(f"sheet {id(sheet)}" for sheet in sheets), "page"):
        yield NextPageTemplate(name)
        yield PageBreak()
        yield Spacer(1, 1)


def _items(setter: Setter, items: Iterable[Item]) -> Iterator[Flowable]:
    number = 0
    for item in items:
        match item:
            case Heading():
                number = 0
                yield CondPageBreak(_KEPT)
                yield setter.paragraph(item.text, TITLE, bold=True, gap=6 * mm)
                yield HRFlowable("100%", 0.35 * mm, color="black", spaceBefore=1 * mm, spaceAfter=1 * mm)
            case Pictured():
                first, *others = item.words
                told = [setter.paragraph(first, bold=bool(others)), *map(setter.paragraph, others)]
                picture = Picture(item.canvas, setter, _SIDE_PICTURE)
                widths = [setter.wide - _SIDE_PICTURE - 4 * mm, _SIDE_PICTURE + 4 * mm]
                yield setter.grid([[told, picture]], widths, spaceBefore=3 * mm)
            case Step():
                number += 1
                yield _step(setter, number, item)
            case _:
                yield from setter.block(item)


def _step(setter: Setter, number: int, step: Step) -> Flowable:
    """Return a step with its number, its caution behind a bar, and its picture at the right."""
    beside = _STEP_PICTURE + 4 * mm if step.canvas is not None else 0.0
    room = setter.wide - 9 * mm - beside
    cell: list[Flowable] = [setter.paragraph(step.text)]
    if step.caution:
        warning = setter.paragraph(step.caution, 0.92 * TEXT, bold=True)
        bar = ("LINEBEFORE", (0, 0), (0, 0), 0.8 * mm, "black")
        cell.append(setter.grid([[warning]], [room - 2 * mm], bar, ("LEFTPADDING", (0, 0), (0, 0), 2 * mm)))
    row: list[object] = [f"{number}.", cell]
    widths = [9 * mm, room]
    if step.canvas is not None:
        row.append(Picture(step.canvas, setter, _STEP_PICTURE))
        widths.append(beside)
    return KeepTogether([setter.grid([row], widths, spaceBefore=1.5 * mm)])
