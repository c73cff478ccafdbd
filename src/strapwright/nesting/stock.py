"""A folder of hides as stock: which files are hides, and what the largest strap is each can still give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.files.atomic_write import is_ours
from strapwright.files.journal import settle
from strapwright.files.read import read_toml, refused
from strapwright.geometry.drawings.gathered import SUFFIXES
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.sound_leather import LongestStrap, free_leather, longest_strap

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from strapwright.nesting.hide.types import Hide


@dataclass(frozen=True, eq=False)
class Stocked:
    """One hide of a folder.

    Args:
        path: its file.
        hide: the hide.
        usable: area clear of the edge and of every flaw by the margin, mm².
        longest: the longest strap it can give; None where none is that wide.
    """

    path: Path
    hide: Hide
    usable: float
    longest: LongestStrap | None


STRAP_WIDTH: Final = 38.0
"""Of the strap whose greatest length is sought, where nothing else is said, mm."""


@dataclass(frozen=True)
class Stock:
    """What a folder holds.

    Args:
        hides: the good ones, by file name.
        bad: files that should be hides and are not sound, each with every mistake in it.
        passed_over: files of the same endings that are no hides, and why.
    """

    hides: tuple[Stocked, ...]
    bad: tuple[tuple[Path, tuple[str, ...]], ...]
    passed_over: tuple[tuple[Path, str], ...]


def read_stock(
    folder: Path,
    *,
    strap_width: float = STRAP_WIDTH,
    margin: float = 2.0,
    progress: Callable[[Path], None] | None = None,
) -> Stock:
    """Read every hide in a folder, but not in folders within it.

    A TOML file without a ``[hide]`` table is something else and is passed over; so is a drawing that a
    hide file names, and one that strapwright drew itself.

    Args:
        folder: where the files are.
        strap_width: of the strap whose greatest length is sought, mm.
        margin: kept from edges and flaws, mm.
        progress: called with each file before it is read.

    Raises:
        FileProblems: there is no such folder.
    """
    settle(folder)
    if not folder.is_dir():
        raise refused(folder, "a file, expected a folder" if folder.exists() else "no such folder")
    paths = sorted(p for p in folder.iterdir() if p.suffix.lower() in (".toml", *SUFFIXES) and p.is_file())
    drawings: set[Path] = set()
    hides: list[Stocked] = []
    bad: list[tuple[Path, tuple[str, ...]]] = []
    passed: list[tuple[Path, str]] = []
    for path in sorted(paths, key=lambda path: (path.suffix.lower() != ".toml", path)):
        if progress is not None:
            progress(path)
        found = read_stocked(path, strap_width, margin, drawings=drawings)
        if isinstance(found, Stocked):
            hides.append(found)
        elif isinstance(found, str):
            passed.append((path, found))
        else:
            bad.append((path, found))
    return Stock(tuple(sorted(hides, key=lambda one: one.path)), tuple(sorted(bad)), tuple(sorted(passed)))


def _no_hide(path: Path, drawings: set[Path]) -> str:
    """Return why a file is no hide of its own, or an empty text; notes the drawings hide files name."""
    if path.suffix.lower() == ".toml":
        data = read_toml(path)
        table = data.get("hide")
        if table is None:
            return "no [hide] table"
        if isinstance(table, dict) and isinstance(table.get("outline"), str):
            drawings.add((path.parent / table["outline"]).resolve())
        return ""
    if path.resolve() in drawings:
        return "part of a hide file"
    return "drawn by strapwright" if is_ours(path) else ""


def read_stocked(
    path: Path, strap_width: float = STRAP_WIDTH, margin: float = 2.0, *, drawings: set[Path] | None = None
) -> Stocked | tuple[str, ...] | str:
    """Return one hide of a folder, or every mistake in its file, or in one text why it is no hide at all.

    Args:
        path: its file.
        strap_width: as for `read_stock`.
        margin: likewise.
        drawings: of hide files read before, and of this one then.
    """
    try:
        if why := _no_hide(path, set() if drawings is None else drawings):
            return why
        return stocked(path, read_hide(path), strap_width, margin)
    except FileProblems as error:
        return error.problems
    except StrapwrightError as error:  # what no reader foresaw spoils that file, not the list
        return tuple(f"{path}: {line}" for line in str(error).splitlines())
    except Exception as error:  # noqa: BLE001 -- nor does what a library trips over
        why = " ".join([f"{type(error).__name__}:", *str(error).split()])[:200].rstrip(": ")
        return (f"{path}: cannot be read ({why}); save or copy it again",)


def stocked(path: Path, hide: Hide, strap_width: float = STRAP_WIDTH, margin: float = 2.0) -> Stocked:
    """Return a hide with what it can give.

    Args:
        path: its file.
        hide: the hide.
        strap_width: as for `read_stock`.
        margin: likewise.
    """
    longest = longest_strap(hide, strap_width, margin)
    return Stocked(path, hide, float(free_leather(hide, margin).area), longest)
