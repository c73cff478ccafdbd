"""Pictures of a draft, a layout and a plan, as SVG, PNG or PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.api.layouts import layout_svg
from strapwright.core.errors import OutputError

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.job.draft import Draft
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout


PICTURES: Final = (".svg", ".png", ".pdf")
"""Endings of files a drawing, or a picture of a layout or of cuts, can be written to."""


def picture_kind(path: Path) -> str:
    """Return the ending of a picture's file, in small letters.

    Raises:
        OutputError: nothing a picture can be written as.
    """
    kind = path.suffix.lower()
    if kind not in PICTURES:
        raise OutputError(f'{path}: found "{path.suffix}", expected a name that ends in .svg, .png or .pdf')
    return kind


def drawing(
    drafted: Draft, kind: str = ".svg", *, units: Units = "mm", ends_only: bool = False
) -> str | bytes:
    """Return the dimensioned drawing of a draft.

    Args:
        drafted: the draft.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``, which has a page for each belt.
        units: of the figures.
        ends_only: the draft's parts are just the two ends of every belt.

    Raises:
        OutputError: too many belts for one PNG.
    """
    from strapwright.drawing.belt.draft import drawing as draw, drawing_pages
    from strapwright.drawing.svg import svg

    if kind == ".pdf":
        from strapwright.drawing.svg_to_pdf import drawing_pdf

        pages = drawing_pages(drafted, units=units, ends_only=ends_only)
        return drawing_pdf([svg(page) for page in pages], f"{drafted.name or 'belts'}: drawing")
    text = svg(draw(drafted, units=units, ends_only=ends_only))
    return text if kind == ".svg" else _png(text)


def picture(drafted: Draft, layout: Layout, kind: str = ".svg") -> str | bytes:
    """Return the picture of a layout.

    Args:
        drafted: the draft it was made of.
        layout: the layout.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``.

    Raises:
        OutputError: too many hides for one PNG.
    """
    svg = layout_svg(drafted, layout)
    if kind == ".pdf":
        from strapwright.drawing.svg_to_pdf import drawing_pdf

        return drawing_pdf([svg], f"{drafted.name or 'layout'}: layout")
    return svg if kind == ".svg" else _png(svg)


def cut_picture(planned: CutPlan, kind: str = ".svg") -> str | bytes:
    """Return the picture of a plan: the cuts in order, where the tool goes in, and the way between them.

    Args:
        planned: the plan.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``, which has a page for each sheet.

    Raises:
        OutputError: too many sheets for one PNG.
    """
    from strapwright.drawing.plan.plan import plan_pages, plan_svg

    if kind == ".pdf":
        from strapwright.drawing.svg_to_pdf import drawing_pdf

        return drawing_pdf(plan_pages(planned), f"{planned.job_name or 'cuts'}: cuts")
    svg = plan_svg(planned)
    return svg if kind == ".svg" else _png(svg)


def _png(svg: str) -> bytes:
    from strapwright.drawing.png import TALLEST, height_of, png_of

    if height_of(svg) > TALLEST:
        told = f"the drawing is {height_of(svg):.0f} px high; a PNG is made up to {TALLEST:.0f} px"
        raise OutputError(f"{told}: take .pdf, which has pages, or .svg")
    return png_of(svg)
