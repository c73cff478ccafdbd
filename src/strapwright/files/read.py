"""Reading a file a person wrote: whatever is wrong with it is one line, never a traceback."""

from __future__ import annotations

import hashlib
import re
import stat
import tomllib
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, os_reason
from strapwright.core.units import beyond
from strapwright.files.journal import settle

if TYPE_CHECKING:
    from pathlib import Path

TOML_LIMIT_MB: Final = 4.0
"""Largest TOML file read, in MB: a thousand belts take well under one."""

_UTF16_MARKS: Final = (b"\xff\xfe", b"\xfe\xff")
_KEY: Final = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*"""
_MOST_PARTS: Final = 30
_DEEP_KEY: Final = re.compile(rf"(?m)(?:^|[{{,])[ \t]*\[{{0,2}}[ \t]*(?:{_KEY}\.[ \t]*){{{_MOST_PARTS}}}")
"""A dotted key of more parts than any file has; reading one takes the square of their number."""
_HUGE: Final = re.compile("[0-9_]{4300}")
"""Digits that Python makes no whole number of."""
_TOML_PLACE: Final = re.compile(
    r"(?P<what>.*) \(at (?P<place>line \d+, column \d+|end of document)\)", re.DOTALL
)


def read_text(path: Path, *, limit_mb: float) -> str:
    """Read a whole text file.

    Args:
        path: the file; it is named in messages as given here.
        limit_mb: largest size taken, in MB of 10⁶ bytes.

    Returns:
        Its text, without a byte order mark; line ends as they stand in the file.

    Raises:
        FileProblems: missing, not a file, larger than the limit, unreadable, or not UTF-8.
    """
    _check_regular(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(int(limit_mb * 1e6) + 1)
            size = max(len(data), path.stat().st_size)
    except OSError as error:
        raise refused(path, f"cannot be read: {os_reason(error)}") from error
    if size > limit_mb * 1e6:
        raise refused(
            path,
            f"found {beyond(size / 1e6, limit_mb, 1)} MB, expected at most {limit_mb:g} MB; is it the right "
            "file?",
        )
    if data.startswith(_UTF16_MARKS):
        raise refused(path, "found UTF-16 text, expected UTF-8; save it again as UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise refused(
            path,
            f"line {line}: found the byte 0x{data[error.start]:02x}, expected UTF-8 text; "
            "save it again as UTF-8",
        ) from error


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file of at most 4 MB.

    Returns:
        Its tables as plain dicts and lists, not yet validated.

    Raises:
        FileProblems: as `read_text`, or not valid TOML: one line with the line and column.
    """
    return toml_tables(read_text(path, limit_mb=TOML_LIMIT_MB), path)


def toml_tables(text: str, path: Path) -> dict[str, Any]:
    """Return the tables of a TOML text; errors as for `read_toml`, in which the path names it."""
    if deep := _DEEP_KEY.search(text):
        line = text.count("\n", 0, deep.start()) + 1
        raise refused(path, f"line {line}: found a key of more than {_MOST_PARTS} parts, expected a few")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise refused(path, "not valid TOML: nested too deeply") from None
    except ValueError as error:  # TOMLDecodeError is one; int() of thousands of digits is another
        match = _TOML_PLACE.fullmatch(str(error))
        if match is None:
            number = _HUGE.search(text)
            line = text.count("\n", 0, number.start() if number else 0) + 1
            text = f"line {line}: found a number of thousands of digits, expected one of a few"
            raise refused(path, text) from error
        what = (match["what"].splitlines() or [""])[0]
        place = match["place"].replace("end of document", "end of file")
        raise refused(
            path, f"{place}: not valid TOML: {what[:1].lower()}{what[1:]}{_with_comma(text, place)}"
        ) from error


def _with_comma(text: str, place: str) -> str:
    """Return what to do about a number with a decimal comma that TOML cannot read; empty for none."""
    number = re.match(r"line (\d+),", place)
    line = text.split("\n")[int(number[1]) - 1] if number else ""
    found = re.match(r"\s*[\w.-]+\s*=\s*(([-+]?\d+),(\d+)[^\W\d]*)\s*(#.*)?$", line)
    if found is None:
        return ""
    in_quotes = f'"{found[2]},{found[3]} mm"'
    return f"; write {found[2]}.{found[3]}, or a length in quotation marks with its unit: {in_quotes}"


def read_bytes(path: Path) -> bytes:
    """Return a file's bytes.

    Raises:
        FileProblems: it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as error:
        raise refused(path, f"cannot be read: {os_reason(error)}") from error


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, as 64 hex digits.

    Raises:
        FileProblems: missing, not a file, or unreadable.
    """
    _check_regular(path)
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise refused(path, f"cannot be read: {os_reason(error)}") from error


def _check_regular(path: Path) -> None:
    """Refuse what is not a file, before a pipe or a device can keep the reader waiting for ever."""
    settle(path.parent)
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        raise refused(path, f"no such file{_near(path)}") from None
    except NotADirectoryError:
        raise refused(path, "no such file: a part of the path is a file, not a folder") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        raise refused(path, f"cannot be read: {os_reason(error)}") from error
    if stat.S_ISDIR(mode):
        raise refused(path, "found a folder, expected a file")
    if not stat.S_ISREG(mode):
        raise refused(path, "found a pipe or device, expected a file")


def _near(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return ""
    close = get_close_matches(path.name, names, n=1, cutoff=0.75)
    return f'; did you mean "{path.with_name(close[0])}"?' if close else ""


def refused(path: Path | str, text: str) -> FileProblems:
    """Return the error for a file in which one thing keeps the rest from being read."""
    return FileProblems((f"{path}: {text}",))


def leads_out(path: Path) -> bool:
    """Return whether a file is a link to one in another folder."""
    try:
        return path.resolve(strict=True).parent != path.parent.resolve()
    except FileNotFoundError:
        return path.resolve().parent != path.parent.resolve()
    except (OSError, RuntimeError):  # links that go round in a ring
        return True
