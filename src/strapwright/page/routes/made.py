"""A job that is made: its record kept, its hides taken from stock, what is left of them put in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import sealed
from strapwright.files.read import read_toml
from strapwright.nesting.hide.file import files_named
from strapwright.page.server import respond
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.server.bench import Bench

RECORDS: Final = "records"
"""The folder of a shop that keeps what was made."""

USED: Final = "used"
"""The folder within ``hides`` that used hides go to."""


class MadeRoutes:
    """What ends a job.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/job/{name}/made", self.made, methods=["POST"])]

    async def made(self, request: Request) -> Response:
        """Keep a job's record, and bring the stock up to date."""
        name = request.path_params["name"]
        machine = str((await request.form()).get("machine") or "")
        profile = str(self._shop.named(self._shop.machines(), machine)) if machine else ""
        await run_in_threadpool(keep_as_made, self._bench, name, profile)
        return respond.again()


def keep_as_made(bench: Bench, name: str, machine: str) -> str:
    """Keep a job's record, and bring the stock of hides up to date as one step that can be undone.

    Args:
        bench: the shop's page.
        name: the job's.
        machine: the machine's file it was cut with; empty for work by hand.

    Returns:
        What was done, in words.

    Raises:
        FileProblems: there is no layout, or a remnant's file is in the way.
        OutputError: the disk does not allow it.
    """
    from strapwright import api

    shop, path = bench.shop, bench.shop.job(name)
    hide_files = bench.stock.of_layout(name)
    job = check_programs(api.read_job(path))
    drafted = api.draft(job)
    layout = api.read_layout(path.parent / LAYOUT, drafted, api.read_hides(hide_files))
    stock = shop.folder / "hides"
    changes: dict[Path, tuple[bytes | None, bytes | None]] = {}
    begun = {one.hide for one in layout.placed}
    for hide, file in zip(layout.hides, hide_files, strict=True):
        for one in _files_of(file) if hide.name in begun else ():
            content = one.read_bytes()
            changes[one] = (content, None)
            changes[stock / USED / one.name] = (None, content)
    remnants = api.remnant_files(layout)
    changes |= {stock / file: (None, sealed(text)) for file, text in remnants.items()}
    blocked = [target for target, (before, _) in changes.items() if before is None and target.exists()]
    if blocked:
        raise FileProblems((f"{blocked[0]}: is there already; move it away, then try again",))
    card = api.card(job, drafted=drafted, layout=layout)
    kept = api.keep_record(
        shop.folder / RECORDS, path, job, card, layout=path.parent / LAYOUT, hides=hide_files, machine=machine
    )
    words = f"made: {len(begun)} hide{'s' if len(begun) != 1 else ''} used, {len(remnants)} put into stock"
    bench.change(name, changes, words)
    return f"{words}; record kept in {kept.relative_to(shop.folder).as_posix()}"


def records_of(folder: Path, name: str) -> tuple[str, ...]:
    """Return the names of a job's records, the newest first.

    Args:
        folder: the shop's.
        name: the job's folder.
    """
    found: dict[str, Any] = {}
    for index in (folder / RECORDS).glob("*/*/record.toml"):
        try:
            found[index.parent.relative_to(folder).as_posix()] = read_toml(index).get("job_file")
        except FileProblems:
            continue
    return tuple(sorted((one for one in found if one.split("/")[1] == name), reverse=True))


def _files_of(hide: Path) -> Iterator[Path]:
    """Yield a hide's file, and those beside it that it alone names for its outline."""
    yield hide
    others = {name for path in hide.parent.glob("*.toml") if path != hide for name in _named(path)}
    for name in _named(hide) - others:
        if "/" not in name and "\\" not in name and (hide.parent / name).is_file():
            yield hide.parent / name


def _named(hide: Path) -> set[str]:
    try:
        return set(files_named(hide).values())
    except FileProblems:
        return set()
