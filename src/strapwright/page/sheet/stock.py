"""The hides of a shop with their figures and small pictures, worked out once for each file as it is."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, OutputError
from strapwright.files.atomic_write import write_whole
from strapwright.files.user_folders import cache_folder
from strapwright.page.sheet.job_view import hides_of_layout
from strapwright.page.sheet.shop import LAYOUT

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.page.sheet.shop import Shop

VERSION: Final = 1
"""Of what is kept; another one's is worked out anew."""


@dataclass(frozen=True)
class HideRow:
    """A hide as it is listed.

    Args:
        file: its file's name.
        name: the hide's.
        area: in words.
        usable: the same of what is clear of edge and flaws.
        thickness: in words.
        longest: the longest strap 38 mm wide, in words.
        flaws: how many.
        wrong: every mistake in the file; empty for a good one.
        picture: a small picture, as SVG.
    """

    file: str
    name: str
    area: str = ""
    usable: str = ""
    thickness: str = ""
    longest: str = ""
    flaws: int = 0
    wrong: tuple[str, ...] = ()
    picture: str = ""


class StockList:
    """The hides of a shop; what was worked out is kept where it can be thrown away.

    Args:
        shop: the shop.
    """

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._known: dict[str, tuple[Any, HideRow | None]] = {}
        name = hashlib.sha256(os.path.realpath(shop.folder).encode()).hexdigest()[:24]
        self._file = cache_folder("stock") / f"{name}.json"
        self._load()

    def rows(self, progress: Callable[[int, int], None] | None = None) -> list[HideRow]:
        """Return the hides, the good ones first, in order of their files' names.

        Args:
            progress: called with how many files are read, and how many there are, where one had to be.
        """
        paths = self._shop.hides()
        found: dict[str, tuple[Any, HideRow | None]] = {}
        for number, path in enumerate(paths):
            known = self._as_it_is(path)
            if known is None:
                if progress is not None:
                    progress(number, len(paths))
                known = _stamp(path, _files_of(path)), _row(path)
            found[path.name] = known
        if found != self._known:
            self._known = found
            self._save()
        rows = [row for _, row in found.values() if row is not None]
        return sorted(rows, key=lambda row: (bool(row.wrong), row.file))

    def picture(self, file: str) -> str:
        """Return a hide's small picture.

        Raises:
            FileProblems: there is no such hide, or it is not a good one.
        """
        path = self._shop.named(self._shop.hides(), file)
        known = self._as_it_is(path)
        row = _row(path) if known is None else known[1]
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

    def _as_it_is(self, path: Path) -> tuple[Any, HideRow | None] | None:
        """Return what is known of a hide, if none of its files has changed since."""
        known = self._known.get(path.name)
        return known if known and known[0] == _stamp(path, [name for name, *_ in known[0]]) else None

    def _load(self) -> None:
        try:
            data = json.loads(self._file.read_text("utf-8"))
            if data["version"] == VERSION:
                for name, (stamp, row) in data["hides"].items():
                    made = None if row is None else HideRow(**{**row, "wrong": tuple(row["wrong"])})
                    self._known[name] = (stamp, made)
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
    from strapwright.drawing.layout.hide_thumbnails import area_text, thumbnail
    from strapwright.drawing.svg import svg
    from strapwright.nesting.stock.folder import Stocked, read_stocked

    one = read_stocked(path)
    if isinstance(one, str):
        return None
    if not isinstance(one, Stocked):
        return HideRow(path.name, path.stem, wrong=one)
    hide = one.hide
    return HideRow(
        file=path.name,
        name=hide.name,
        area=area_text(hide.area, False),
        usable=area_text(one.usable, False),
        thickness=f"{hide.thickness:g} mm" if hide.thickness else "not measured",
        longest=f"{int(one.longest.length)} mm" if one.longest else "none",
        flaws=len(hide.flaws),
        picture=svg(thumbnail(one)),
    )
