"""Writing files whole or not at all, and never over something that is not ours."""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import OutputError, os_reason
from strapwright.files.journal import Change, Transaction, commit, real_path, settle

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

MARK: Final = "strapwright-" + "0" * 64
"""What a writer puts once in a comment of its text; `write_whole` puts the digest in its place.

The mark is as long as what replaces it, so that no offset in the file moves.
"""

_MARK: Final = MARK.encode()
_SEALED: Final = re.compile(rb"strapwright-[0-9a-f]{64}")

_LONGEST: Final = 80
"""Most letters of a name that is made into a file's."""

_RESERVED: Final = re.compile(r"con|prn|aux|nul|conin|conout|com\d|lpt\d", re.IGNORECASE)
"""Names that Windows keeps for its devices, whatever ending follows.

Source: Microsoft, Naming Files, Paths, and Namespaces.
"""

_SPELT: Final = str.maketrans(
    {"ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L",
     "đ": "d", "Đ": "D", "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ħ": "h", "Ħ": "H", "ı": "i", "ŋ": "n"}
)  # fmt: skip
"""Letters that are no accented ones, as they are usually spelt in ASCII."""


_LEDGER: Final = ".strapwright.sha256"
"""Keeps, in a file's own folder, the digests of files that can carry no mark; `sha256sum -c` reads it."""

OVERWRITE: Final = "--force overwrites it"
"""What to do about a file in the way, where a command takes ``--force``."""


def write_whole(
    files: Mapping[Path, str | bytes],
    *,
    unmarked: Iterable[Path] = (),
    force: bool = False,
    remedy: str = OVERWRITE,
) -> Transaction:
    """Write a set of files: all of them, or none.

    A reader never sees half a file, and a run that is ended half way leaves no mix of old and new: see
    :mod:`strapwright.files.journal`.

    Args:
        files: content by path; text is written as UTF-8, its line ends as they are. Missing folders
            are made. Content that holds `MARK` is sealed with its digest.
        unmarked: those of them that can carry no mark, such as a table for other programs: a hidden file
            beside them keeps their digests.
        force: overwrite what stands there, whoever wrote it.
        remedy: what to do about a file in the way, for the message.

    Returns:
        What was changed, with all contents before and after.

    Raises:
        OutputError: a file is there that strapwright did not write, or that was edited since, and
            ``force`` is not given; or the disk, the folder or the name does not allow it. One line
            a file. Nothing has changed then.
    """
    changes, refusals = [], []
    for path, content in files.items():
        target = real_path(path)
        settle(target.parent)
        after = sealed(content)
        if refusal := _refusal(target, path, after, force=force, remedy=remedy):
            refusals.append(refusal)
        else:
            changes.append(Change(path, target.read_bytes() if target.exists() else None, after))
    if refusals:
        raise OutputError("\n".join(refusals))
    changes += _ledgers({real_path(path) for path in unmarked}, changes)
    made = Transaction(tuple(changes))
    commit(made)
    return made


def sealed(content: str | bytes) -> bytes:
    """Return content with its first `MARK` replaced by its digest.

    Example:
        >>> sealed("no mark, no seal")
        b'no mark, no seal'
        >>> sealed(f"<!-- {MARK} -->")[:28]
        b'<!-- strapwright-d872b400a26'
    """
    data = content.encode() if isinstance(content, str) else content
    digest = hashlib.sha256(data).hexdigest().encode()
    return data.replace(_MARK, b"strapwright-" + digest, 1)


def file_safe(name: str, otherwise: str = "cut") -> str:
    """Return a name as that of a file, without its ending: plain ASCII, and nothing any system forbids.

    A card reader of a controller shows no other letters. Accents are left off; where more than that is lost,
    or the name is cut short, a number stands behind that two different names hardly share.

    Args:
        name: as a person wrote it.
        otherwise: what to call it where nothing of it can stay.

    Example:
        >>> file_safe("Žofie's side / no. 2"), file_safe("Straße"), file_safe("con")
        ('Zofies-side-no-2', 'Strasse', 'con-file')
        >>> file_safe("Пояс"), file_safe("ремень"), file_safe("///")
        ('cut-51d275', 'cut-936508', 'cut')
    """
    plain = unicodedata.normalize("NFKD", name.translate(_SPELT))
    bare = "".join(letter for letter in plain if not unicodedata.combining(letter))
    lost = any(letter.isalnum() and not letter.isascii() for letter in bare)
    safe = re.sub(r"[^A-Za-z0-9_]+", "-", bare.replace("'", "").replace("’", "")).strip("-")
    if lost or len(safe) > _LONGEST:
        number = hashlib.sha256(unicodedata.normalize("NFC", name).encode()).hexdigest()[:6]
        safe = f"{safe[:_LONGEST].strip('-') or otherwise}-{number}"
    safe = safe or otherwise
    return f"{safe}-file" if _RESERVED.fullmatch(safe) else safe


def is_ours(path: Path) -> bool:
    """Whether strapwright wrote a file and nobody has changed it since.

    Args:
        path: the file; one that is missing or cannot be read is not ours.
    """
    settle(path.parent)
    try:
        data = path.read_bytes()
    except OSError:
        return False
    return _is_sealed(data) or _line(path.name, data) in _lines_of(path.parent)


def _ledgers(kept: Iterable[Path], changes: Sequence[Change]) -> list[Change]:
    """Return what becomes of the digests beside files that carry no mark."""
    written = {real_path(change.path): change.after or b"" for change in changes}
    made = []
    for folder in sorted({target.parent for target in kept}):
        new = {path.name: _line(path.name, written[path]) for path in kept if path.parent == folder}
        old = [line for line in _lines_of(folder) if line.partition("  ")[2] not in new]
        ledger = folder / _LEDGER
        before = ledger.read_bytes() if ledger.exists() else None
        after = "".join(f"{line}\n" for line in sorted([*old, *new.values()]))
        made.append(Change(ledger, before, after.encode()))
    return made


def _line(name: str, data: bytes) -> str:
    return f"{hashlib.sha256(data).hexdigest()}  {name}"


def _lines_of(folder: Path) -> list[str]:
    try:
        return (folder / _LEDGER).read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []


def _is_sealed(data: bytes) -> bool:
    """Whether the content carries its own digest; text a person wrote may look like a seal too."""
    for match in _SEALED.finditer(data):
        blank = data[: match.start()] + _MARK + data[match.end() :]
        if match.group() == b"strapwright-" + hashlib.sha256(blank).hexdigest().encode():
            return True
    return False


def check_writable(paths: Iterable[Path], *, force: bool = False) -> None:
    """Refuse early what `write_whole` would refuse in the end, before time is spent on the content.

    Args:
        paths: files that will carry a `MARK`; there may be more of them in the end.
        force: as for `write_whole`.

    Raises:
        OutputError: a file is in the way, or a folder's path leads through a file. One line a file.
    """
    refusals: list[str] = []
    for path in paths:
        target = real_path(path)
        settle(target.parent)
        folder = target.parent
        while not folder.exists() and folder != folder.parent:
            folder = folder.parent
        if not folder.is_dir():
            refusals.append(f"{path.parent}: found a file, expected a folder or a new name")
        elif not target.parent.exists() and not os.access(folder, os.W_OK):
            refusals.append(f"{path.parent}: cannot be made: {folder} may not be written to")
        elif refusal := _refusal(target, path, b"", force=force, remedy=OVERWRITE):
            refusals.append(refusal)
    if refusals:
        raise OutputError("\n".join(dict.fromkeys(refusals)))


def _refusal(target: Path, path: Path, content: bytes, *, force: bool, remedy: str) -> str:
    """Return why a file cannot be written without losing something, or an empty text."""
    if target.is_dir():
        return f"{path}: a folder of that name exists; choose another name"
    if not target.exists():
        return ""
    if not target.is_file():
        return f"{path}: a pipe or device of that name exists; choose another name"
    try:
        old = target.read_bytes()
    except OSError as error:
        return f"{path}: exists and cannot be read: {os_reason(error)}; choose another name"
    known = _lines_of(target.parent)
    if force or old == content or _is_sealed(old) or _line(target.name, old) in known:
        return ""
    if _SEALED.search(old) or any(line.partition("  ")[2] == target.name for line in known):
        return f"{path}: was edited since strapwright wrote it; {remedy}"
    return f"{path}: already exists and strapwright did not write it; {remedy}"
