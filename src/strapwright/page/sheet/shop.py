"""A shop's folder: its jobs, hides and machines by name, and never a path that leads out of it."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems
from strapwright.files.read import read_text, read_toml
from strapwright.job.catalogue.file import CATALOGUE_NAME, HOUSE_NAME
from strapwright.job.spec.job import house_units
from strapwright.nesting.hide.file import files_named
from strapwright.page.sheet.history import STEPS_FILE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.core.units import Units


JOB_FILE: Final = "job.toml"
"""A job's file, in a folder of its own below ``jobs``."""

LAYOUT: Final = "layout.json"
"""The layout a job is cut from, in its folder."""

LAYOUTS: Final = "layouts"
"""The folder of a job that keeps other layouts of it, each under its name."""

RUNNING: Final = f"{LAYOUTS}/.running.json"
"""The best layout of a search while it goes on, in a job's folder."""

OUT: Final = "out"
"""The folder of a job that its cut files go to."""

SHOPS_OWN: Final = (
    *("jobs", "hides", "hides/used", "machines", "machines/put-away", "records", "archive", "removed"),
    *(HOUSE_NAME, CATALOGUE_NAME, STEPS_FILE, f"hides/{STEPS_FILE}"),
)
"""Files and folders of a shop that are read and written under their names."""

HIDE_SUFFIXES: Final = (".toml", ".dxf", ".svg")
"""Endings of what a hide is read from."""

_MARK: Final = "\ufeff".encode()

LARGEST_MB: Final = 4.0
"""Largest job file read, in MB."""


@dataclass(frozen=True)
class Written:
    """A file as it was read: its text, and the digest by which a change of it is noticed.

    Args:
        path: the file.
        text: its content.
        digest: SHA-256 of it, as hex digits.
    """

    path: Path
    text: str
    digest: str


def read_written(path: Path) -> Written:
    """Return a file's text and digest.

    Raises:
        FileProblems: it cannot be read.
    """
    text = read_text(path, limit_mb=LARGEST_MB)
    return Written(path, text, digest_of(path.read_bytes()))


def written_or_new(path: Path) -> Written:
    """Return a file's text and digest; without text where there is no such file yet.

    Raises:
        FileProblems: it cannot be read.
    """
    return read_written(path) if path.exists() else Written(path, "", digest_of(b""))


def content_with(text: str, before: bytes | None) -> bytes:
    """Return a text as a file's content, behind the byte order mark that an editor has put before it."""
    return (_MARK if before and before.startswith(_MARK) else b"") + text.encode()


def digest_of(content: bytes) -> str:
    """Return the SHA-256 of some content, as hex digits."""
    return hashlib.sha256(content).hexdigest()


def cut_files(job: Path) -> list[str]:
    """Return the names of the cut files beside a job's file; hidden ones and links are left out."""
    found = (path for path in (job.parent / OUT).glob("*") if path.is_file() and not path.is_symlink())
    return sorted(path.name for path in found if not path.name.startswith("."))


def kept_layouts(job: Path) -> list[str]:
    """Return the names of the layouts kept beside a job's file; hidden ones and links are left out."""
    found = (path for path in (job.parent / LAYOUTS).glob("*.json") if path.is_file())
    return sorted(path.stem for path in found if not path.is_symlink() and not path.name.startswith("."))


def digest_laid_out(job: Path) -> str:
    """Return the digest of the job a layout lays parts of; empty where nothing is laid yet."""
    try:
        layout = json.loads((job.parent / LAYOUT).read_text("utf-8"))
        return str(layout["job_digest"]) if layout["placed"] else ""
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _machine_name(path: Path) -> str:
    try:
        return str(read_toml(path)["machine"]["name"])
    except (FileProblems, KeyError, TypeError):
        return path.stem


@dataclass(frozen=True)
class Shop:
    """The folder one's jobs, hides and machines are in.

    Args:
        folder: as given; what it holds is looked up anew each time.
    """

    folder: Path

    def told(self, problems: tuple[str, ...]) -> tuple[str, ...]:
        """Return what is wrong with files, each called as it stands in the shop."""
        return tuple(line.removeprefix(f"{self.folder}{os.sep}") for line in problems)

    @property
    def units(self) -> Units:
        """Units that figures are shown in, as its settings say; mm where those have mistakes."""
        try:
            return house_units(self.folder / JOB_FILE)
        except FileProblems:
            return "mm"

    def jobs(self) -> tuple[str, ...]:
        """Return the names of its jobs, in order."""
        return tuple(sorted(path.parent.name for path in self._found("jobs", f"*/{JOB_FILE}")))

    def job(self, name: str) -> Path:
        """Return a job's file.

        Raises:
            FileProblems: there is no such job.
        """
        if name not in self.jobs():
            raise FileProblems((f"jobs: found no job {name!r}",))
        return self.folder / "jobs" / name / JOB_FILE

    def hides(self) -> tuple[Path, ...]:
        """Return the hide files and drawings among its hides, in order of their names."""
        return tuple(path for path in self._found("hides", "*") if path.suffix.lower() in HIDE_SUFFIXES)

    def hide(self, name: str) -> Path:
        """Return a hide's file.

        Raises:
            FileProblems: there is no such hide, or the file it names is a link that leads out of the shop.
        """
        path = self.named(self.hides(), name)
        self.check_hide(path)
        return path

    def check_hide(self, path: Path, text: str | None = None) -> None:
        """See that the drawing or table that a hide's file names is in the shop.

        Args:
            path: the file.
            text: what is to stand in it; None takes what does.

        Raises:
            FileProblems: it is not, or a link that leads out.
        """
        try:
            named = files_named(path, text) if path.suffix.lower() == ".toml" else {}
        except FileProblems:  # said where the hide is read
            return
        inside = os.path.realpath(self.folder)
        for key, name in named.items():
            if not Path(os.path.normpath(path.parent.resolve() / name)).is_relative_to(inside):
                own = path.relative_to(self.folder).as_posix()
                said = f'hide.{key}: found "{name}", which lies outside this shop; put it beside the hide'
                raise FileProblems((f"{own}: {said}",))
        self._check_inside([path.parent / name for name in named.values()])

    def machines(self) -> tuple[Path, ...]:
        """Return the files of its machines, in order of their names."""
        return tuple(self._found("machines", "*.toml"))

    def fonts(self) -> tuple[Path, ...]:
        """Return its own TrueType fonts, in order of their names."""
        return tuple(path for path in self._found("fonts", "*") if path.suffix.lower() == ".ttf")

    def machine_names(self) -> list[tuple[str, str]]:
        """Return each machine's file and name; with the file behind the name where several have it."""
        named = [(path.name, _machine_name(path)) for path in self.machines()]
        called = [name for _, name in named]
        return [(file, f"{name} ({file})" if called.count(name) > 1 else name) for file, name in named]

    def named(self, paths: tuple[Path, ...], name: str) -> Path:
        """Return the file of some that has a name.

        Raises:
            FileProblems: none has.
        """
        for path in paths:
            if path.name == name:
                return path
        raise FileProblems((f"found no file {name!r} in this shop",))

    def check_links(self, job: str = "") -> None:
        """See that nothing that is read or written here is a link that leads out of the shop.

        Args:
            job: the name of a job whose files are checked too; empty for the shop's alone.

        Raises:
            FileProblems: something is.
        """
        paths = [self.folder / name for name in SHOPS_OWN]
        if job and job.isprintable():
            folder = self.folder / "jobs" / job
            paths += [folder / OUT, folder / LAYOUTS]
            for one in (folder, folder / OUT, folder / LAYOUTS):
                paths += [path for path in one.glob("*") if path.is_symlink() and not path.is_dir()]
        self._check_inside(paths)

    def _check_inside(self, paths: list[Path]) -> None:
        inside = os.path.realpath(self.folder)
        for path in paths:
            if not Path(os.path.realpath(path)).is_relative_to(inside):
                name = path.relative_to(self.folder).as_posix()
                raise FileProblems(
                    (f"{name}: is a link that leads out of the shop; put what it leads to here",)
                )

    def _found(self, folder: str, pattern: str) -> Iterator[Path]:
        """Yield files below a folder that are really there: no link out of the shop is followed."""
        inside = Path(os.path.realpath(self.folder))
        for path in sorted((self.folder / folder).glob(pattern)):
            real = Path(os.path.realpath(path))
            if real.is_relative_to(inside) and real.is_file() and not path.name.startswith("."):
                yield path


def hides_of_layout(folder: Path, file: str = LAYOUT) -> tuple[str, ...]:
    """Return the names of the hides a job's layout lies on; none where there is no layout."""
    try:
        data = json.loads((folder / file).read_text("utf-8"))
        return tuple(str(one["name"]) for one in data["hides"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()
