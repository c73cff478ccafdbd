"""Writing files whole or not at all, and never over something that is not ours."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

MARK: Final = "strapwright-" + "0" * 64
"""What a writer puts once in a comment of its text; `write_whole` puts the digest in its place.

The mark is as long as what replaces it, so that no offset in the file moves.
"""

_MARK: Final = MARK.encode()
_SEALED: Final = re.compile(rb"strapwright-[0-9a-f]{64}")


OVERWRITE: Final = "--force overwrites it"
"""What to do about a file in the way, where a command takes ``--force``."""


def write_whole(files: Mapping[Path, str | bytes], *, force: bool = False, remedy: str = OVERWRITE) -> None:
    """Write a set of files: all of them, or none.

    Everything is written under temporary names in the files' own folders first and renamed at the
    end, so a reader never sees half a file. Where a rename fails, those before it are taken back.

    Args:
        files: content by path; text is written as UTF-8, its line ends as they are. Missing folders
            are made. Content that holds `MARK` is sealed with its digest.
        force: overwrite what stands there, whoever wrote it.
        remedy: what to do about a file in the way, for the message.

    Raises:
        OutputError: a file is there that strapwright did not write, or that was edited since, and
            ``force`` is not given; or the disk, the folder or the name does not allow it. One line
            a file. Nothing has changed then.
    """
    contents = {_real(path): (path, sealed(content)) for path, content in files.items()}
    if len(contents) < len(files):
        raise OutputError(f"two outputs would be one file: {', '.join(str(path) for path in files)}")
    refusals = [
        refusal
        for target, (path, content) in contents.items()
        if (refusal := _refusal(target, path, content, force=force, remedy=remedy))
    ]
    if refusals:
        raise OutputError("\n".join(refusals))
    # Left last to first: renames are taken back, spare files go, then the folders made for them.
    with (
        contextlib.ExitStack() as folders,
        contextlib.ExitStack() as spare,
        contextlib.ExitStack() as undo,
    ):
        ready: list[tuple[Path, Path, Path]] = []
        for target, (path, content) in contents.items():
            with _named(path):
                _make_folder(target.parent, folders)
                ready.append((path, _temporary(target, content, spare), target))
        for path, temporary, target in ready:
            with _named(path):
                _rename(temporary, target, undo, spare)
        for kept in (undo, folders):
            kept.pop_all()  # all are in place: there is nothing left to take back
    for folder in {target.parent for target in contents}:
        _sync_folder(folder)


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


def is_ours(path: Path) -> bool:
    """Whether strapwright wrote a file and nobody has changed it since.

    Args:
        path: the file; one that is missing or cannot be read is not ours.
    """
    try:
        return _is_sealed(path.read_bytes())
    except OSError:
        return False


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
        target = _real(path)
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
        return f"{path}: a folder of that name is there; choose another name"
    if not target.exists():
        return ""
    if not target.is_file():
        return f"{path}: a pipe or device of that name is there; choose another name"
    if force:
        return ""
    try:
        old = target.read_bytes()
    except OSError as error:
        return f"{path}: cannot be read to see who wrote it: {_reason(error)}; {remedy}"
    if old == content or _is_sealed(old):
        return ""
    if _SEALED.search(old):
        return f"{path}: was edited since strapwright wrote it; {remedy}"
    return f"{path}: is there already and strapwright did not write it; {remedy}"


def _real(path: Path) -> Path:
    """Follow links, so that a link stays one and the file behind it is replaced."""
    try:
        return Path(os.path.realpath(path))
    except (OSError, ValueError) as error:
        raise OutputError(f"{path}: cannot be written: {_reason(error)}") from error


def _make_folder(folder: Path, made: contextlib.ExitStack) -> None:
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    for one in reversed(missing):
        one.mkdir(exist_ok=True)
        made.callback(_quietly, one.rmdir)


def _temporary(target: Path, content: bytes, spare: contextlib.ExitStack) -> Path:
    """Write the content beside its target, to the disk itself, and return where."""
    name = _beside(target, "new")
    handle = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    spare.callback(_quietly, name.unlink)
    with open(handle, "wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
    if target.exists():
        shutil.copymode(target, name)
    return name


def _rename(temporary: Path, target: Path, undo: contextlib.ExitStack, spare: contextlib.ExitStack) -> None:
    """Put a file in its place, and remember how to take it back."""
    if target.exists():
        old = _beside(target, "old")
        spare.callback(_quietly, old.unlink)
        try:
            os.link(target, old)  # the target keeps its name until the very rename
        except OSError:  # not every file system has hard links
            shutil.copy2(target, old)
        undo.callback(_quietly, lambda: os.replace(old, target))
    else:
        undo.callback(_quietly, target.unlink)
    os.replace(temporary, target)


def _beside(target: Path, what: str) -> Path:
    return target.with_name(f".strapwright-{secrets.token_hex(8)}.{what}")


def _sync_folder(folder: Path) -> None:
    """Make the renames last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _quietly(action: Callable[[], object]) -> None:
    """Clean up as far as it goes: the error that led here is the one to tell."""
    with contextlib.suppress(OSError):
        action()


@contextlib.contextmanager
def _named(path: Path) -> Iterator[None]:
    """Turn what the system refuses into one line that names the file."""
    try:
        yield
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {_reason(error)}") from error


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
