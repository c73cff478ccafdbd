"""Appending an entry to a maker's own catalogue: everything in the file stays as it was."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import FileProblems, OutputError
from strapwright.core.units import quoted
from strapwright.files.atomic_write import write_whole
from strapwright.files.read import read_toml
from strapwright.job.catalogue.file import read_catalogue

if TYPE_CHECKING:
    from pathlib import Path

NEW_FILE: Final = "# Your own buckles, fasteners, leathers and punches, one table each.\n"
"""How a catalogue begins that was not there before."""

_TRIAL: Final = '[buckle."{}"]\nopening = "40 mm"\nbar_diameter = "4 mm"\nframe_depth = "36 mm"\n'


def buckle_names(path: Path) -> frozenset[str]:
    """Return the names of the buckles a catalogue file has, after seeing that another can be appended.

    Args:
        path: the file; one that is not there has none.

    Raises:
        FileProblems: it cannot be read, has mistakes, or holds its buckles in a way that nothing can
            follow.
    """
    if not path.exists():
        return frozenset()
    names = frozenset(read_catalogue(path).buckles)
    trial = "trial"
    while trial in names:
        trial += "-"
    _appended(path, trial, _TRIAL.format(trial))
    return names


def append_buckle(path: Path, name: str, text: str) -> None:
    """Append a buckle's table to a catalogue file, whole or not at all.

    What stands in the file stays byte for byte; the table follows after an empty line, with the file's
    own line ends. A file that is not there is begun.

    Args:
        path: the catalogue.
        name: of the buckle.
        text: its table, TOML.

    Raises:
        FileProblems: the file has mistakes, a buckle of that name, or nothing can follow in it.
        OutputError: it cannot be written.
    """
    if not path.exists():
        write_whole({path: f"{NEW_FILE}\n{text}"})
        return
    # The person named the file and asked for the addition, and nothing that stands in it is touched.
    write_whole({path: _appended(path, name, text)}, force=True)


def _appended(path: Path, name: str, text: str) -> bytes:
    if name in read_catalogue(path).buckles:
        raise FileProblems((f"{path}: found a buckle {quoted(name)} already, expected another name",))
    before = read_toml(path)
    try:
        old = path.read_bytes()
    except OSError as error:
        raise OutputError(f"{path}: cannot be read: {(error.strerror or str(error)).lower()}") from error
    end = "\r\n" if b"\r\n" in old else "\n"
    gap = end if not old or old.endswith(b"\n") else 2 * end
    new = old + (gap + text.replace("\n", end)).encode()
    try:
        after = tomllib.loads(new.decode("utf-8-sig"))
    except tomllib.TOMLDecodeError:
        problem = f"{path}: buckle: found an inline table, which no other can follow; expected"
        raise FileProblems((f"{problem} a [buckle.NAME] table for each",)) from None
    after["buckle"].pop(name)
    assert after == {"buckle": {}, **before}
    return new
