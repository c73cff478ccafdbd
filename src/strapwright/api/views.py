"""Pictures of a draft, a layout, a strip plan and a cut plan, as SVG, PNG or PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.api.layouts import layout_picture
from strapwright.core.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.drawing.canvas import Canvas
    from strapwright.job.draft import Draft
    from strapwright.job.fit_record import BuckleFit
    from strapwright.machine.cut_plan import CutPlan
    from strapwright.nesting.layout.types import Layout
    from strapwright.nesting.strips.types import StripPlan


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
    from strapwright.drawing.belt.job_drawing import drawing as draw, drawing_pages

    drawn = (drawing_pages if kind == ".pdf" else draw)(drafted, units=units, ends_only=ends_only)
    return shown(drawn, kind, f"{drafted.name or 'belts'}: drawing")


def picture(drafted: Draft, layout: Layout, kind: str = ".svg") -> str | bytes:
    """Return the picture of a layout.

    Args:
        drafted: the draft it was made of.
        layout: the layout.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``.

    Raises:
        OutputError: too many hides for one PNG.
    """
    return shown(layout_picture(drafted, layout), kind, f"{drafted.name or 'layout'}: layout")


def cut_picture(planned: CutPlan, kind: str = ".svg") -> str | bytes:
    """Return the picture of a plan: the cuts in order, where the tool goes in, and the way between them.

    Args:
        planned: the plan.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``, which has a page for each sheet.

    Raises:
        OutputError: too many sheets for one PNG.
    """
    from strapwright.drawing.plan import plan_pages, plan_picture

    drawn = (plan_pages if kind == ".pdf" else plan_picture)(planned)
    return shown(drawn, kind, f"{planned.job_name or 'cuts'}: cuts")


def fit_picture(fits: Sequence[BuckleFit], kind: str = ".svg") -> str | bytes:
    """Return the drawing of how far finished belts' girths are off, buckle by buckle.

    Args:
        fits: of the buckles.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``.

    Raises:
        OutputError: no girth has been measured; too many buckles for one PNG.
    """
    from strapwright.drawing.belt.fit_plot import fit_plot

    if not fits:
        raise OutputError("no girth of a finished belt has been written down, so there is nothing to draw")
    return shown(fit_plot(fits), kind, "Finished belts: misses of their girths")


def strip_picture(drafted: Draft, plan: StripPlan, kind: str = ".svg", units: Units = "mm") -> str | bytes:
    """Return the picture of a plan.

    Args:
        drafted: the draft.
        plan: of its parts.
        kind: ``".svg"``, ``".png"`` or ``".pdf"``.
        units: of its figures.
    """
    from strapwright.drawing.layout.strips import strip_picture as draw

    return shown(draw(plan, title=drafted.name, units=units), kind, f"{drafted.name or 'belts'}: strips")


def shown(drawn: Canvas | Sequence[Canvas], kind: str, title: str) -> str | bytes:
    """Return a drawing as a file of a kind; a PDF may have several, each on a page."""
    from strapwright.drawing.canvas import Canvas

    if kind == ".pdf":
        from strapwright.drawing.pdf import drawing_pdf

        return drawing_pdf([drawn] if isinstance(drawn, Canvas) else drawn, title)
    assert isinstance(drawn, Canvas)
    if kind == ".svg":
        from strapwright.drawing.svg import svg

        return svg(drawn)
    from strapwright.drawing.png import TALLEST, png_of

    if drawn.height > TALLEST:
        told = f"the drawing is {drawn.height:.0f} px high; a PNG is made up to {TALLEST:.0f} px"
        raise OutputError(f"{told}: take .pdf, which has pages, or .svg")
    return png_of(drawn)
