"""How a job's layout stands, for its sheet: in a line, what was broken off, and which others are kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from strapwright.core.errors import StrapwrightError
from strapwright.nesting.stock.remnant import remnants_of
from strapwright.page.layout.opened import reasons
from strapwright.page.layout.view import result_words
from strapwright.page.sheet.shop import LAYOUT, LAYOUTS, RUNNING, kept_layouts

if TYPE_CHECKING:
    from strapwright.nesting.layout.types import Layout
    from strapwright.page.layout.opened import OpenLayouts

PRESENT = "the present layout"
"""What the layout that is cut from is called among the others."""


@dataclass(frozen=True)
class LayoutPart:
    """How a job's layout stands.

    Args:
        result: in a line.
        broken_off: what a search that was broken off had found, in words; empty for none.
        sound: whether that can be kept.
        kept: names of the layouts kept beside it.
    """

    result: str
    broken_off: str
    sound: bool
    kept: tuple[str, ...]


@dataclass(frozen=True)
class KeptLayout:
    """A layout among others, in figures.

    Args:
        name: under which it is kept; empty for the one that is cut from.
        title: what it is called.
        figures: each with its label, in words; none where it cannot be used.
        wrong: why it cannot.
        order: the figures as numbers that are better the smaller they are; None where that says nothing.
    """

    name: str
    title: str
    figures: tuple[tuple[str, str], ...] = ()
    wrong: str = ""
    order: tuple[float | None, ...] = ()


def layout_part(layouts: OpenLayouts, name: str, *, running: bool) -> LayoutPart:
    """Return how a job's layout stands.

    Args:
        layouts: those of the shop's jobs.
        name: the job's.
        running: whether a search goes on for it.
    """
    path = layouts.shop.job(name)
    result = "not laid out yet"
    if (path.parent / LAYOUT).is_file():
        result = _words(layouts, name, LAYOUT)[0]
    broken_off, sound = "", False
    if not running and (path.parent / RUNNING).is_file():
        broken_off, sound = _words(layouts, name, RUNNING)
        stopped = datetime.fromtimestamp((path.parent / RUNNING).stat().st_mtime)
        broken_off = f"{stopped:%Y-%m-%d %H:%M}: {broken_off}"
    return LayoutPart(result, broken_off, sound, tuple(kept_layouts(path)))


def _words(layouts: OpenLayouts, name: str, file: str) -> tuple[str, bool]:
    try:
        return result_words(layouts.read(name, file).layout), True
    except StrapwrightError as error:
        return reasons(error, layouts.shop.job(name).parent / file)[0], False


def kept_with_figures(layouts: OpenLayouts, name: str) -> list[KeptLayout]:
    """Return a job's present layout, if there is one, and those kept, with their figures."""
    path = layouts.shop.job(name)
    there = [""] if (path.parent / LAYOUT).is_file() else []
    return [_kept(layouts, name, one) for one in (*there, *kept_layouts(path))]


def file_of(kept: str) -> str:
    """Return a layout's file in the job's folder by its name; that of the one that is cut from for none."""
    return f"{LAYOUTS}/{kept}.json" if kept else LAYOUT


def _kept(layouts: OpenLayouts, job: str, kept: str) -> KeptLayout:
    title = kept or PRESENT
    try:
        layout = layouts.read(job, file_of(kept)).layout
    except StrapwrightError as error:
        wrong = reasons(error, layouts.shop.job(job).parent / file_of(kept))[0]
        return KeptLayout(kept, title, wrong=wrong)
    return KeptLayout(kept, title, *_figures(layout))


def _figures(layout: Layout) -> tuple[tuple[tuple[str, str], ...], str, tuple[float | None, ...]]:
    begun = [hide for hide in layout.hides if layout.placed_on(hide.name)]
    back = sum(one.hide.area for one in remnants_of(layout))
    lost = sum(hide.whole_area for hide in begun) - back - layout.placed_area
    left = ", ".join(one.part.id for one in layout.unplaced)
    share = f"{layout.yield_of(*(hide.name for hide in begun)):.1%}" if begun else "0.0%"
    figures = (
        ("Hides used", f"{len(begun)}", float(len(begun))),
        ("Parts laid", f"{len(layout.placed)} of {layout.asked}", float(-len(layout.placed))),
        ("Area laid", f"{layout.placed_area / 1e6:.3f} m²", -round(layout.placed_area, 1)),
        ("Share of the sound leather", share, None),
        ("Could not be placed", left or "nothing", None),
        ("Goes back into stock", f"{back / 1e6:.3f} m²", -round(back, 1)),
        ("Lost: flaws and offcuts", f"{lost / 1e6:.3f} m²", round(lost, 1)),
    )
    return tuple((label, words) for label, words, _ in figures), "", tuple(number for *_, number in figures)
