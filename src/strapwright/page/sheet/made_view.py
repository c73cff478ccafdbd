"""What being made does to a shop: the record that is kept, the hides that go, what is left that comes."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems
from strapwright.files.atomic_write import file_safe, sealed
from strapwright.files.read import read_toml
from strapwright.job.catalogue.file import CATALOGUE_NAME, HOUSE_NAME
from strapwright.nesting.hide.file import files_named
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from strapwright.job.draft import Draft
    from strapwright.job.spec.job import Job
    from strapwright.nesting.layout.types import Layout
    from strapwright.page.sheet.shop import Shop

RECORDS: Final = "records"
"""The folder of a shop that keeps what was made."""

USED: Final = "used"
"""The folder within ``hides`` that used hides go to."""

FIRST_SEEN: Final = ("card.pdf", "drawing.svg", "bill.csv", "job.toml", "job.csv")
"""Files of a record that are looked at most, in this order; the others follow."""


@dataclass(frozen=True)
class MadeJob:
    """A job that is about to be said to be made.

    Args:
        job: as it was read.
        draft: its draft.
        layout: where its parts lie.
        hides: files of the layout's hides.
        begun: names of the hides that parts lie on.
        changes: content of files before and after; None where there is no such file.
        remnants: what is left of each hide and goes into stock: its file, and its area in words.
    """

    job: Job
    draft: Draft
    layout: Layout
    hides: tuple[Path, ...]
    begun: tuple[str, ...]
    changes: Mapping[Path, tuple[bytes | None, bytes | None]]
    remnants: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        """What is done, in words."""
        used, left = len(self.begun), len(self.remnants)
        return f"made: {used} hide{'s' if used != 1 else ''} used, {left} put into stock"


def made_job(shop: Shop, name: str, hides: tuple[Path, ...]) -> MadeJob:
    """Return what being made does to the files of a shop; nothing is changed.

    Args:
        shop: the shop.
        name: the job's.
        hides: files of its layout's hides.

    Raises:
        FileProblems: the job is not as it was laid out, or a file is in the way.
    """
    from strapwright import api
    from strapwright.drawing.layout.hide_thumbnails import area_text
    from strapwright.nesting.remnant import remnants_of

    path, stock = shop.job(name), shop.folder / "hides"
    job = check_programs(api.read_job(path))
    drafted = api.draft(job)
    layout = api.read_layout(path.parent / LAYOUT, drafted, api.read_hides(hides))
    begun = {one.hide for one in layout.placed}
    if not begun:
        raise FileProblems(("nothing is laid on a hide yet; lay the belts out first",))
    changes: dict[Path, tuple[bytes | None, bytes | None]] = {}
    for hide, file in zip(layout.hides, hides, strict=True):
        for one in files_of_hide(file) if hide.name in begun else ():
            content = one.read_bytes()
            changes[one] = (content, None)
            changes[stock / USED / one.name] = (None, content)
    files = api.remnant_files(layout)
    changes |= {stock / file: (None, sealed(text)) for file, text in files.items()}
    blocked = [target for target, (before, _) in changes.items() if before is None and target.exists()]
    if blocked:
        raise FileProblems((f"{blocked[0]}: is there already; move it away, then try again",))
    areas = [area_text(left.hide.area, shop.units == "in") for left in remnants_of(layout)]
    return MadeJob(
        job,
        drafted,
        layout,
        hides,
        tuple(hide.name for hide in layout.hides if hide.name in begun),
        changes,
        tuple(zip(files, areas, strict=True)),
    )


@dataclass(frozen=True)
class KeptRecord:
    """A record of a job that was made.

    Args:
        name: its folder in the shop, such as ``records/first-belts/2026-03-02-1f2e3d4c``.
        made: the day.
        files: names of its files, those looked at most first.
    """

    name: str
    made: str
    files: tuple[str, ...]

    @property
    def key(self) -> str:
        """The last part of its name."""
        return self.name.rpartition("/")[2]


def records_of(folder: Path, title: str) -> tuple[KeptRecord, ...]:
    """Return a job's records, the newest first.

    Args:
        folder: the shop's.
        title: the job's name.
    """
    found = []
    for index in (folder / RECORDS / file_safe(title)).glob("*/record.toml"):
        try:
            about = read_toml(index)
        except FileProblems:
            continue
        kept = about.get("sha256")
        names = {str(one) for one in kept} if isinstance(kept, dict) else set()
        first = [name for name in FIRST_SEEN if name in names]
        files = (*first, *sorted(names.difference(first)))
        name = index.parent.relative_to(folder).as_posix()
        found.append(KeptRecord(name, str(about.get("made", "")), files))
    return tuple(sorted(found, key=lambda one: one.name, reverse=True))


def record_file(folder: Path, title: str, key: str, file: str) -> Path:
    """Return a file of a record.

    Raises:
        FileProblems: there is no such one.
    """
    inside = os.path.realpath(folder / RECORDS)
    for record in records_of(folder, title):
        path = folder / record.name / file
        is_inside = Path(os.path.realpath(path)).is_relative_to(inside)  # its index came with the folder
        if record.key == key and file in record.files and is_inside and path.is_file():
            return path
    raise FileProblems((f"found no file {file!r} in a record of this job",))


def record_job(folder: Path, title: str, key: str) -> tuple[str, dict[str, bytes]]:
    """Return what a record's job is called, and the files that make the same of it again.

    Args:
        folder: the shop's.
        title: the job's name.
        key: the record's.

    Raises:
        FileProblems: there is no such record, or its job cannot be read.
    """
    from strapwright.job.spec.job import read_job

    path = record_file(folder, title, key, JOB_FILE)
    job = read_job(path)
    names = (JOB_FILE, CATALOGUE_NAME, HOUSE_NAME, *job.sketches, *job.drawings)
    return job.name, {name: (path.parent / name).read_bytes() for name in names}


def made_view(made: MadeJob, shop: Shop) -> dict[str, Any]:
    """Return what being made will do, to be shown before it is done.

    Args:
        made: the job.
        shop: the shop.
    """
    moved = [path for path, (before, _) in made.changes.items() if before is not None]
    return {
        "begun": made.begun,
        "moved": [path.relative_to(shop.folder).as_posix() for path in moved],
        "to": f"hides/{USED}/",
        "remnants": made.remnants,
        "record": f"{RECORDS}/{file_safe(made.job.name or shop.folder.name)}/",
        "unplaced": [one.part.id for one in made.layout.unplaced],
    }


def files_of_hide(hide: Path) -> Iterator[Path]:
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
