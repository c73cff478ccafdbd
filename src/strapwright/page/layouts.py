"""A job's layouts: what one is made on, each read and checked once, how they stand and which are kept."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.nesting.layout.avoided_zone import zone_text, zone_to_avoid
from strapwright.nesting.layout.types import AvoidedZone, Layout, UnplacedPart
from strapwright.nesting.remnant import remnants_of
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.layout_view import result_words
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, LAYOUTS, RUNNING, digest_of, kept_layouts

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.nesting.hide.types import Hide
    from strapwright.nesting.layout.types import Clearance
    from strapwright.page.leather.stock import StockList
    from strapwright.page.sheet.shop import Shop

PRESENT = "the present layout"
"""What the layout that is cut from is called among the others."""


@dataclass(frozen=True)
class Basis:
    """What a job is laid out on.

    Args:
        job: the job.
        draft: its draft.
        hides: in the order they are to be used up.
        clearance: what is kept free for the machine.
    """

    job: Job
    draft: Draft
    hides: tuple[Hide, ...]
    clearance: Clearance

    def empty(self, zones: Iterable[str] = ()) -> Layout:
        """Return a layout in which nothing is laid yet.

        Args:
            zones: to be kept clear: see :func:`zones_kept_clear`.
        """
        unplaced = tuple(UnplacedPart(part, "not laid yet") for part in self.draft.parts)
        clear = [zone_to_avoid(text, self.hides) for text in zones]
        avoided = tuple(AvoidedZone(name, zone.polygon) for name, zone in clear)
        return Layout(self.hides, (), unplaced, self.clearance, (), 0, 0, avoided=avoided)


def read_basis(job_file: Path, hide_files: Sequence[Path], machine: str, kerf: float | None = None) -> Basis:
    """Return what a job is laid out on.

    Args:
        job_file: the job's.
        hide_files: in the order they are to be used up.
        machine: the machine's file or a shipped profile's name, for kerf and lead-in; empty for none.
        kerf: width of the cut given by hand, mm; None takes the measured one.
    """
    from strapwright import api

    job = check_programs(api.read_job(job_file))
    drafted = api.draft(job)
    profile = api.read_machine(machine) if machine else None
    widest = 0.0
    if profile is not None:
        from strapwright.machine.planning import check_parts

        widest = check_parts(drafted.parts, profile, kerf=kerf, accept_fume_risk=True)
    return Basis(job, drafted, tuple(api.read_hides(hide_files)), api.clearance_for(job, widest, profile))


def zones_kept_clear(layout_file: Path, hides: Sequence[Hide]) -> tuple[str, ...]:
    """Return the zones a layout's file keeps clear on some hides, as a nest takes them."""
    names = {hide.name for hide in hides}
    try:
        found = json.loads(layout_file.read_text("utf-8")).get("avoided", ())
        zones = [AvoidedZone(str(one["hide"]), np.array(one["points_mm"], float)) for one in found]
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return ()
    return tuple(f"{zone.hide}: {zone_text(zone)}" for zone in zones if zone.hide in names)


@dataclass(frozen=True)
class OpenLayout:
    """A layout as it was read, and what it is good for.

    Args:
        digest: of the layout's file.
        job_digest: of the job's file.
        hides: files of its hides, each with its size and time.
        draft: what it is of.
        layout: the layout.
    """

    digest: str
    job_digest: str
    hides: tuple[tuple[Path, object], ...]
    draft: Draft
    layout: Layout


class OpenLayouts:
    """The layouts of a shop's jobs that were asked for.

    Args:
        shop: the shop.
        stock: its hides.
    """

    def __init__(self, shop: Shop, stock: StockList) -> None:
        self.shop = shop
        self._stock = stock
        self._open: dict[tuple[str, str], OpenLayout] = {}

    def read(self, name: str, file: str = LAYOUT) -> OpenLayout:
        """Return a layout of a job, read again only where its file, the job's or a hide's has changed.

        Args:
            name: the job's.
            file: the layout's, in the job's folder.

        Raises:
            StrapwrightError: there is none, it was made for another job or hide, or it is not sound.
        """
        from strapwright import api

        path = self.shop.job(name)
        if not (path.parent / file).is_file():
            raise FileProblems(("there is no layout of this job yet",))
        digests = _digests(path.parent / file, path)
        found = self._open.get((name, file))
        if found is None or (found.digest, found.job_digest) != digests or _changed(found):
            drafted = api.draft(check_programs(api.read_job(path)))
            files = self._stock.of_layout(name, file)
            hides = tuple((one, _stamp(one)) for one in files)
            layout = api.read_layout(path.parent / file, drafted, api.read_hides(files))
            if _digests(path.parent / file, path) != digests:  # changed while it was read
                return self.read(name, file)
            found = OpenLayout(*digests, hides, drafted, layout)
            self._open[name, file] = found
        return found

    def written(self, name: str, new: OpenLayout) -> None:
        """Note what was written as a job's layout, so that it need not be read again."""
        self._open[name, LAYOUT] = new


def reasons(error: Exception, file: Path) -> list[str]:
    """Return why a layout cannot be used, line by line, without its file's path before each."""
    lines = in_page_words(str(error)).splitlines()
    return [line.removeprefix(f"{file}: ") for line in lines]


def _digests(layout: Path, job: Path) -> tuple[str, str]:
    return digest_of(layout.read_bytes()), digest_of(job.read_bytes())


def _changed(found: OpenLayout) -> bool:
    return any(_stamp(path) != before for path, before in found.hides)


def _stamp(path: Path) -> object:
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_size, state.st_mtime_ns


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
