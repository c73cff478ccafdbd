"""The layouts of jobs, each read and checked once for as long as its files stay as they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.errors import FileProblems
from strapwright.page.sheet.page_words import in_page_words
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, digest_of

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.job.draft import Draft
    from strapwright.nesting.layout.types import Layout
    from strapwright.page.leather.stock import StockList
    from strapwright.page.sheet.shop import Shop


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
        digest, job_digest = (digest_of(one.read_bytes()) for one in (path.parent / file, path))
        found = self._open.get((name, file))
        if found is None or (found.digest, found.job_digest) != (digest, job_digest) or _changed(found):
            drafted = api.draft(check_programs(api.read_job(path)))
            files = self._stock.of_layout(name, file)
            hides = tuple((one, _stamp(one)) for one in files)
            layout = api.read_layout(path.parent / file, drafted, api.read_hides(files))
            found = OpenLayout(digest, job_digest, hides, drafted, layout)
            self._open[name, file] = found
        return found

    def written(self, name: str, new: OpenLayout) -> None:
        """Note what was written as a job's layout, so that it need not be read again."""
        self._open[name, LAYOUT] = new


def reasons(error: Exception, file: Path) -> list[str]:
    """Return why a layout cannot be used, line by line, without its file's path before each."""
    lines = in_page_words(str(error)).splitlines()
    return [line.removeprefix(f"{file}: ") for line in lines]


def _changed(found: OpenLayout) -> bool:
    return any(_stamp(path) != before for path, before in found.hides)


def _stamp(path: Path) -> object:
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_size, state.st_mtime_ns
