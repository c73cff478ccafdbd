"""The hides of a shop: figures and small pictures, worked out once for each file; which a job is laid on."""

from __future__ import annotations

import hashlib
import json
import math
import os
import threading
import time
from collections import Counter
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, OutputError, StrapwrightError
from strapwright.core.units import format_length
from strapwright.files.atomic_write import write_whole
from strapwright.files.user_folders import cache_folder
from strapwright.nesting.hide.types import agrees, tanned_as
from strapwright.nesting.stock import STRAP_WIDTH
from strapwright.page.leather.file import problems_with_lines
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, hides_of_layout
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from strapwright.core.units import Units
    from strapwright.page.sheet.shop import Shop

AT_ONCE: Final = 0.2
"""Seconds that hides are worked out for before a job's sheet is shown."""

Leather = tuple[float, Tannage]
"""A thickness, mm, and a tannage."""

VERSION: Final = 3
"""Of what is kept; another one's is worked out anew."""


@dataclass(frozen=True)
class HideRow:
    """A hide as it is listed.

    Args:
        file: its file's name.
        name: the hide's.
        area: mm².
        usable: of what is clear of edge and flaws, mm².
        thicknesses: the hide's and those of its places, mm; None where one was not measured.
        tannage: in the words of a hide file; empty where nobody has said.
        longest: length of the longest strap of the usual width, mm; None where there is none.
        flaws: how many of each kind, in words.
        parent: of a remnant: the hide it was cut from.
        wrong: every mistake in the file; empty for a good one.
        picture: a small picture, as SVG.
    """

    file: str
    name: str
    area: float = 0.0
    usable: float = 0.0
    thicknesses: tuple[float | None, ...] = ()
    tannage: str = ""
    longest: float | None = None
    flaws: str = ""
    parent: str = ""
    wrong: tuple[str, ...] = ()
    picture: str = ""

    def words(self, units: Units) -> dict[str, str]:
        """Return its figures in words."""
        from strapwright.drawing.layout.hide_thumbnails import area_text, length_text, longest_text

        inches = units == "in"
        (hide, *places) = self.thicknesses or (None,)
        measured = sorted({one for one in places if one})
        thick = format_length(hide, units) if hide else "not measured"
        thin = ", ".join(format_length(one, units) for one in measured)
        return {
            "area": area_text(self.area, inches),
            "usable": area_text(self.usable, inches),
            "thickness": f"{thick}, {thin} in places" if thin else thick,
            "longest": longest_text(self.longest, inches) if self.longest is not None else "none",
            "strap": length_text(STRAP_WIDTH, inches),
        }


@dataclass(frozen=True)
class Found:
    """Hides that are listed, as far as they are worked out.

    Args:
        rows: the good ones first, in order of their files' names.
        left: how many files are not worked out yet.
        number: of the last one worked out; see `StockList.rows_within`.
    """

    rows: list[HideRow]
    left: int
    number: int


class StockList:
    """The hides of a shop; what was worked out is kept where it can be thrown away.

    Args:
        shop: the shop.
    """

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._known: dict[str, tuple[Any, HideRow | None]] = {}
        self._number = 0
        self._numbers: dict[str, int] = {}
        self._lock = threading.Lock()
        name = hashlib.sha256(os.path.realpath(shop.folder).encode()).hexdigest()[:24]
        self._file = cache_folder("stock") / f"{name}.json"
        self._load()

    def rows(self, progress: Callable[[int, int], None] | None = None) -> list[HideRow]:
        """Return the hides, the good ones first, in order of their files' names.

        Args:
            progress: called with how many files are read, and how many there are, where one had to be.
        """
        return self.rows_within(math.inf, progress).rows

    def rows_within(
        self, seconds: float, progress: Callable[[int, int], None] | None = None, after: int = -1
    ) -> Found:
        """Return the hides that are known already, and those that can be worked out in a time.

        Args:
            seconds: to work; what is known is returned in any case.
            progress: as for `rows`.
            after: only those worked out after that number of an earlier answer; -1 for all.
        """
        with self._lock:
            end, left = time.monotonic() + seconds, 0
            paths = self._shop.hides()
            found: dict[str, tuple[Any, HideRow | None]] = {}
            # Hide files first: a drawing that one of them names is no hide of its own.
            for number, path in enumerate(sorted(paths, key=lambda path: path.suffix.lower() != ".toml")):
                if path.suffix.lower() != ".toml" and (
                    left or any(path.name == name for stamp, _ in found.values() for name, *_ in stamp[1:])
                ):
                    if left:  # whether it is one turns out later
                        left += 1
                        self._known.pop(path.name, None)
                    continue
                known = self._as_it_is(path)
                if known is None:
                    if time.monotonic() >= end:
                        left += 1
                        continue
                    if progress is not None:
                        progress(number, len(paths))
                    known = _stamp(path, _files_of(path)), self._row(path)
                    self._number += 1
                    self._numbers[path.name] = self._number
                found[path.name] = known
            if not left and found != self._known:
                self._known = found
                self._save()
            else:  # what is kept grows until all are worked out
                self._known |= found
            last = self._number
        rows = [
            row for _, row in found.values() if row is not None and self._numbers.get(row.file, 0) > after
        ]
        return Found(sorted(rows, key=lambda row: (bool(row.wrong), row.file)), left, last)

    def picture(self, file: str) -> str:
        """Return a hide's small picture.

        Raises:
            FileProblems: there is no such hide, or it is not a good one.
        """
        path = self._shop.hide(file)
        known = self._as_it_is(path)
        row = self._row(path) if known is None else known[1]
        if row is None or not row.picture:
            raise FileProblems((f"found no hide {file!r} in this shop",))
        return row.picture

    def of_layout(self, job: str, file: str = LAYOUT) -> tuple[Path, ...]:
        """Return the files of the hides a job's layout lies on, found by their names.

        Args:
            job: its name.
            file: the layout's, in the job's folder.

        Raises:
            FileProblems: there is no layout, or a hide of it is no longer there.
        """
        wanted = hides_of_layout(self._shop.job(job).parent, file)
        if not wanted:
            raise FileProblems(("there is no layout of this job yet; lay it out first",))
        files = {path.name: path for path in self._shop.hides()}
        by_name = {row.name: files[row.file] for row in reversed(self.rows()) if not row.wrong}
        if missing := [one for one in wanted if one not in by_name]:
            raise FileProblems((f"the layout's hide {missing[0]!r} is no longer in stock; lay it out again",))
        return tuple(by_name[one] for one in wanted)

    def _row(self, path: Path) -> HideRow | None:
        try:
            self._shop.check_hide(path)
        except FileProblems as error:
            return HideRow(path.name, path.stem, wrong=error.problems)
        return _row(path)

    def _as_it_is(self, path: Path) -> tuple[Any, HideRow | None] | None:
        """Return what is known of a hide, if none of its files has changed since."""
        known = self._known.get(path.name)
        return known if known and known[0] == _stamp(path, [name for name, *_ in known[0]]) else None

    def _load(self) -> None:
        try:
            data = json.loads(self._file.read_text("utf-8"))
            if data["version"] == VERSION:
                for name, (stamp, row) in data["hides"].items():
                    lists = {} if row is None else {key: tuple(row[key]) for key in ("wrong", "thicknesses")}
                    self._known[name] = (stamp, None if row is None else HideRow(**{**row, **lists}))
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            self._known = {}

    def _save(self) -> None:
        hides = {name: [stamp, row and asdict(row)] for name, (stamp, row) in self._known.items()}
        try:
            write_whole({self._file: json.dumps({"version": VERSION, "hides": hides})}, force=True)
        except OutputError:
            return  # worked out anew next time


def _files_of(path: Path) -> list[str]:
    """Return a hide's file and the drawing or table that it names, which bear on what it is."""
    from strapwright.nesting.hide.file import files_named

    try:
        return [path.name, *files_named(path).values()]
    except FileProblems:
        return [path.name]


def _stamp(path: Path, names: list[str]) -> list[list[Any]]:
    """Return what changes when one of a hide's files does."""
    found: list[list[Any]] = []
    for name in names:
        try:
            about = (path.parent / name).stat()
            found.append([name, about.st_mtime_ns, about.st_size])
        except (OSError, ValueError):
            found.append([name, 0, 0])
    return found


def _row(path: Path) -> HideRow | None:
    """Return a hide as it is listed; None for a file that is no hide."""
    from strapwright.drawing.layout.hide_thumbnails import thumbnail
    from strapwright.drawing.svg import svg
    from strapwright.nesting.stock import Stocked, read_stocked

    one = read_stocked(path)
    if isinstance(one, str):
        return None
    if not isinstance(one, Stocked):
        return HideRow(path.name, path.stem, wrong=problems_with_lines(one, path))
    hide = one.hide
    counts = Counter(flaw.kind for flaw in hide.flaws)
    return HideRow(
        file=path.name,
        name=hide.name,
        area=hide.area,
        usable=one.usable,
        thicknesses=(hide.thickness, *(zone.thickness for zone in hide.thickness_zones)),
        tannage=str(hide.tannage or ""),
        longest=float(one.longest.length) if one.longest else None,
        flaws=", ".join(kind.counted(count) for kind, count in counts.items()) or "none",
        parent=hide.parent,
        picture=svg(thumbnail(one)),
    )


@dataclass(frozen=True)
class Choice:
    """The hides a job is to be laid on.

    Args:
        chosen: in the order they are used up.
        fitting: files of those in stock that any of its parts could lie on.
        stock: how many good hides there are.
        left: how many files are not worked out yet.
        words: the leather its parts take against that of the hides.
    """

    chosen: tuple[HideRow, ...]
    fitting: frozenset[str]
    stock: int
    left: int
    words: str


def choice_of(stock: StockList, shop: Shop, name: str) -> Choice:
    """Return the hides of a job's layout; where there is none, the first in stock that fits its leather.

    Args:
        stock: the shop's.
        shop: the shop.
        name: the job's.
    """
    wanted = hides_of_layout(shop.job(name).parent)
    found = stock.rows_within(AT_ONCE)
    if found.left and not {row.name for row in found.rows}.issuperset(wanted):
        found = stock.rows_within(math.inf)
    good = [row for row in found.rows if not row.wrong]
    needed = needed_leather(shop.job(name))
    fitting = frozenset(row.file for row in good if fits(row, needed))
    by_name = {row.name: row for row in reversed(good)}
    chosen = [by_name[one] for one in wanted if one in by_name]
    if not chosen:
        suited = [row for row in good if row.file in fitting]
        chosen = sorted(suited or good, key=lambda row: row.thicknesses == (None,))[:1]  # measured ones first
    return Choice(tuple(chosen), fitting, len(good), found.left, in_words(needed, chosen, shop.units))


def needed_leather(job: Path) -> dict[Leather, float] | None:
    """Return the area of a job's parts, mm², by their leather; None where the job is not ready."""
    from strapwright import api

    try:
        parts = api.draft(check_programs(api.read_job(job))).parts
    except StrapwrightError:
        return None
    needed: dict[Leather, float] = {}
    for part in parts:
        key = (part.thickness, part.tannage)
        needed[key] = needed.get(key, 0.0) + part.outline.area
    return needed


def fits(row: HideRow, needed: dict[Leather, float] | None) -> bool:
    """Whether any part of a job could lie on a hide, by thickness and tannage."""
    tannage = Tannage(row.tannage) if row.tannage else None
    return needed is None or any(
        tanned_as(tannage, wanted) and any(agrees(thick, thickness) for thick in row.thicknesses)
        for thickness, wanted in needed
    )


def in_words(needed: dict[Leather, float] | None, chosen: Sequence[HideRow], units: Units) -> str:
    """Return the leather that the parts of a job take, against that of some hides, in a line."""
    usable = sum(row.usable for row in chosen)
    many = f"{len(chosen)} hide{'s' if len(chosen) != 1 else ''}"
    have = f"{many} chosen, {_area(usable, units)} usable" if chosen else "no hide chosen"
    if needed is None:
        return f"{have[:1].upper()}{have[1:]}. What the parts take is known once every belt is ready."
    takes = " and ".join(
        f"{_area(area, units)} of {format_length(thickness, units)} {tannage}"
        for (thickness, tannage), area in sorted(needed.items())
    )
    short = "; that is less than the parts alone take" if usable < sum(needed.values()) else ""
    return f"The parts alone take {takes or 'no leather'}; {have}{short}."


def _area(mm2: float, units: Units) -> str:
    from strapwright.drawing.layout.hide_thumbnails import area_text

    return area_text(mm2, units == "in")
