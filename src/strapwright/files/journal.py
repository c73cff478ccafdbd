"""A set of files changed as one: all of it or none, even where the process is killed half way.

Every folder that is written to has a file ``.strapwright-journal`` while that goes on. It is a lock, which
ends with the process that holds it, and it says which of the folder's files become what. New contents lie
ready beside their files before it is written, old ones are kept until all are in place. Of several folders
the first one's journal, written last, decides: with it the change is made, without it nothing has happened.
Whoever finds a journal that nobody holds any more completes the change, or takes it back.

A journal speaks of files in its own folder alone: one that came with somebody's folder can touch no other.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import re
import secrets
import shutil
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import OutputError, os_reason

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

JOURNAL: Final = ".strapwright-journal"
"""The lock and journal of a folder that is being written to."""

_SPARE: Final = re.compile(r"\.strapwright-.*\.(new|old)")
_LARGEST: Final = 1 << 24
"""Most bytes read of a journal: some fifty thousand files."""
_PATIENCE: Final = 10.0
"""Seconds to wait for another run that writes to a folder: it takes a fraction of one."""


@dataclass(frozen=True)
class Change:
    """What becomes of one file.

    Args:
        path: the file, as it is called in messages; a link is followed.
        before: its content; None where there is no such file.
        after: its content then; None to take the file away.
    """

    path: Path
    before: bytes | None
    after: bytes | None

    @property
    def digests(self) -> tuple[str | None, str | None]:
        """SHA-256 of the content before and after, as hex digits; None where there is no file."""
        return _digest(self.before), _digest(self.after)


@dataclass(frozen=True)
class Transaction:
    """Changes of files that are made together or not at all.

    Args:
        changes: one a file.
    """

    changes: tuple[Change, ...]

    def reversed(self) -> Transaction:
        """Return what undoes it; it is refused once one of the files has been changed since."""
        return Transaction(tuple(Change(one.path, one.after, one.before) for one in self.changes))


def commit(transaction: Transaction) -> None:
    """Make all changes of a transaction, or none.

    A reader never sees half a file, and neither an error nor the end of the process leaves some files new
    and others old: see :func:`settle`. Missing folders are made.

    Raises:
        OutputError: a file is not as it was before, two paths lead to one file, or the disk, the
            folder or the name does not allow it. Nothing has changed then.
    """
    if not transaction.changes:
        return
    targets = {real_path(change.path): change for change in transaction.changes}
    if len(targets) < len(transaction.changes):
        names = ", ".join(str(change.path) for change in transaction.changes)
        raise OutputError(f"two outputs would be one file: {names}")
    named = {target.parent: change.path for target, change in reversed(targets.items())}
    with contextlib.ExitStack() as made:
        for folder, path in named.items():
            with _named(path):
                _make_folder(folder, made)
        with _locked_when_settled(named) as locks:
            _carry_out(targets, locks)
        made.pop_all()


def settle(folder: Path) -> None:
    """Complete or take back what a run that was ended left half done in a folder, and clear up after it.

    Does nothing where no run was ended; waits a little for one that is still writing. A file that was
    changed since by somebody else is left as it is, which is said.

    Args:
        folder: about to be read from or written to; need not be there.

    Raises:
        OutputError: what was left can neither be completed nor taken back, or another run does not finish.
    """
    while os.path.lexists(folder / JOURNAL):
        real = real_path(folder)
        involved = _involved(real)
        try:
            with _locked({one: one for one in involved}) as locks:
                if _involved(real) == involved:
                    _recover(locks)
                    return
                locks.keep()
        except OutputError:
            if not os.access(real, os.W_OK) and not any(map(_is_begun, involved)):
                return  # nothing was changed in it, and nothing can be cleared up
            raise


def real_path(path: Path) -> Path:
    """Follow links, so that a link stays one and the file behind it is replaced.

    Raises:
        OutputError: the links go round in a circle, or the name cannot be one.
    """
    try:
        return Path(os.path.realpath(path))
    except (OSError, ValueError) as error:
        raise OutputError(f"{path}: cannot be written: {os_reason(error)}") from error


@dataclass(frozen=True)
class _Entry:
    """A file of a journal: its name in the folder, its digests, and where its contents lie ready."""

    name: str
    before: str | None
    after: str | None
    new: str
    old: str


@dataclass(frozen=True)
class _Journal:
    """What stands in a folder's journal.

    Args:
        number: of the transaction, the same in all its folders.
        folders: all of them; the first one's journal decides.
        entries: of this folder's files.
    """

    number: str
    folders: tuple[Path, ...]
    entries: tuple[_Entry, ...]


class _Locks:
    """The folders one holds, each with its open journal."""

    def __init__(self) -> None:
        self.handles: dict[Path, int] = {}
        self._kept = False

    def keep(self, *, kept: bool = True) -> None:
        """Leave journals that say something where they are when the locks go, or do not."""
        self._kept = kept

    def forget(self) -> None:
        """Empty the journals of a change that was taken back, the one that decides first."""
        for folder in sorted(self.handles, key=str):
            if os.fstat(self.handles[folder]).st_size:
                os.ftruncate(self.handles[folder], 0)
                os.fsync(self.handles[folder])
        self._kept = False

    def release(self) -> None:
        """Clear up and let go, the folder that decides last."""
        for folder in sorted(self.handles, key=str, reverse=True):
            if self._kept and os.fstat(self.handles[folder]).st_size:
                os.close(self.handles[folder])
                continue
            _sweep(folder)
            if sys.platform == "win32":  # an open file cannot be removed there
                os.close(self.handles[folder])
                _quietly(folder.joinpath(JOURNAL).unlink)
            else:
                _quietly(folder.joinpath(JOURNAL).unlink)
                os.close(self.handles[folder])
        self.handles.clear()


def _carry_out(targets: Mapping[Path, Change], locks: _Locks) -> None:
    """Get everything ready, write the journals, and rename."""
    number = secrets.token_hex(8)
    entries: dict[Path, _Entry] = {}
    for target, change in targets.items():
        spare = f".strapwright-{number}-{len(entries)}"
        entries[target] = entry = _Entry(target.name, *change.digests, f"{spare}.new", f"{spare}.old")
        with _named(change.path):
            if _digest_at(target) != entry.before:
                raise OutputError(
                    f"{change.path}: was changed by another program just now; nothing is written, try again"
                )
            _lay_ready(target, change, entry)
    folders = tuple(locks.handles)
    try:
        for folder in reversed(folders):  # the first one, which decides, is written last
            mine = {target: entry for target, entry in entries.items() if target.parent == folder}
            with _named(targets[next(iter(mine))].path):
                journal = _Journal(number, folders, tuple(mine.values()))
                _write_journal(locks.handles[folder], folder, journal)
        for target, entry in entries.items():
            with _named(targets[target].path):
                _put(target.parent, entry.name, entry.new, entry.after)
        for folder in folders:
            _sync_folder(folder)
    except BaseException:
        locks.keep()  # should this fail too, the next run sees to it
        with contextlib.suppress(OSError):
            for target, entry in entries.items():
                if _digest_at(target) != entry.before:
                    _put(target.parent, entry.name, entry.old, entry.before)
            locks.forget()
        raise


def _lay_ready(target: Path, change: Change, entry: _Entry) -> None:
    """Put the new content beside its file, to the disk itself, and keep the old one."""
    if change.after is not None:
        new = target.with_name(entry.new)
        handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with open(handle, "wb") as stream:
            stream.write(change.after)
            stream.flush()
            os.fsync(stream.fileno())
        if change.before is not None:
            shutil.copymode(target, new)
    if change.before is not None:
        old = target.with_name(entry.old)
        try:
            os.link(target, old)  # the target keeps its name until the very rename
        except OSError:  # not every file system has hard links
            shutil.copy2(target, old)


def _put(folder: Path, name: str, spare: str, digest: str | None) -> None:
    """Give a file the content that lies ready, or take it away where it is to be none."""
    if digest is None:
        folder.joinpath(name).unlink(missing_ok=True)
    else:
        os.replace(folder / spare, folder / name)


def _write_journal(handle: int, folder: Path, journal: _Journal) -> None:
    """Write a folder's journal; it counts once all of it is on the disk, its own digest included."""
    data = {
        "number": journal.number,
        "folders": [_from(folder, other) for other in journal.folders],
        "files": [[entry.name, entry.before, entry.after, entry.new, entry.old] for entry in journal.entries],
    }
    text = json.dumps(data).encode()
    text += f"\n{hashlib.sha256(text).hexdigest()}\n".encode()
    while text:
        text = text[os.write(handle, text) :]
    os.fsync(handle)
    _sync_folder(folder)


def _from(folder: Path, other: Path) -> str:
    """Return the way from one folder to another, which stays true where both are moved together."""
    try:
        return os.path.relpath(other, folder)
    except ValueError:  # on another drive
        return str(other)


def _read_journal(folder: Path) -> _Journal | None:
    """Return a folder's journal; None where there is none, or it was not finished or is not sound."""
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        with open(os.open(folder / JOURNAL, flags), "rb") as stream:
            text, _, digest = stream.read(_LARGEST).rpartition(b"\n")[0].rpartition(b"\n")
        if hashlib.sha256(text).hexdigest().encode() != digest:
            return None
        data = json.loads(text)
        folders = tuple(Path(os.path.realpath(folder / other)) for other in data["folders"])
        entries = tuple(_Entry(*row) for row in data["files"])
        names = [entry.name for entry in entries]
        spares = [spare for entry in entries for spare in (entry.new, entry.old)]
        sound = (
            folder in folders
            and all(os.path.basename(name) == name and name not in ("", ".", "..") for name in names)
            and all(os.path.basename(spare) == spare and _SPARE.fullmatch(spare) for spare in spares)
        )
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return _Journal(str(data["number"]), folders, entries) if sound else None


def _involved(folder: Path) -> list[Path]:
    """Return the folders whose journals belong to that of a folder, itself among them, in order."""
    mine = _read_journal(folder)
    if mine is None:
        return [folder]
    first = _read_journal(mine.folders[0])
    if first is None or first.number != mine.number:
        return [folder]
    others = ((other, _read_journal(other)) for other in first.folders)
    return sorted({folder, *(other for other, one in others if one and one.number == mine.number)}, key=str)


def _is_begun(folder: Path) -> bool:
    """Whether a folder's journal counts: the one that decides was written, or a file is already changed."""
    mine = _read_journal(folder)
    if mine is None:
        return False
    first = _read_journal(mine.folders[0])
    if first is not None and first.number == mine.number:
        return True
    return any(
        entry.after != entry.before and _digest_at(folder / entry.name) == entry.after
        for entry in mine.entries
    )


def _recover(locks: _Locks) -> None:
    """Complete what the journals of the folders one holds say, or take it back where it cannot be."""
    entries = [
        (folder, entry)
        for folder in locks.handles
        if _is_begun(folder) and (journal := _read_journal(folder)) is not None
        for entry in journal.entries
    ]
    if not entries:
        return
    locks.keep()
    found = {(folder, entry.name): _digest_at(folder / entry.name) for folder, entry in entries}
    foreign = [
        folder / entry.name
        for folder, entry in entries
        if found[folder, entry.name] not in (entry.before, entry.after)
    ]
    ours = [(folder, entry) for folder, entry in entries if folder / entry.name not in foreign]
    forward = [(folder, one.name, one.new, one.after) for folder, one in ours]
    back = [(folder, one.name, one.old, one.before) for folder, one in ours]
    for moves, become in ((forward, "is now complete"), (back, "has been taken back")):
        due = [move for move in moves if found[move[0], move[1]] != move[3]]
        if any(
            digest is not None and _digest_at(folder / spare) != digest for folder, _, spare, digest in due
        ):
            continue
        for folder, name, spare, digest in due:
            with _named(folder / name):
                _put(folder, name, spare, digest)
        for folder in locks.handles:
            _sync_folder(folder)
        if moves is back:
            with _named(entries[0][0]):
                locks.forget()
        locks.keep(kept=False)
        _say(entries, foreign, become)
        return
    names = ", ".join(str(folder / entry.name) for folder, entry in ours)
    raise OutputError(
        f"{names}: a run was ended while it wrote these files, and what would complete them is gone; see "
        f"which of them are as you want them, then remove {JOURNAL} beside them"
    )


def _say(entries: Sequence[tuple[Path, _Entry]], foreign: Sequence[Path], become: str) -> None:
    folders = ", ".join(dict.fromkeys(str(folder) for folder, _ in entries))
    log = logging.getLogger(__name__)
    log.warning("%s: a run was ended while it wrote %d files here; that %s", folders, len(entries), become)
    for path in foreign:
        log.warning("%s: was changed since by another program and is left as it is", path)


@contextlib.contextmanager
def _locked_when_settled(folders: Mapping[Path, Path]) -> Iterator[_Locks]:
    """Hold folders in which nothing is left half done; each with the path it is called by in messages."""
    while True:
        for folder in folders:
            settle(folder)
        with _locked(folders) as locks:
            if any(map(_is_begun, folders)):
                locks.keep()
                continue
            with _named(next(iter(folders.values()))):
                locks.forget()
            for folder in locks.handles:
                _sweep(folder)
            yield locks
            return


@contextlib.contextmanager
def _locked(folders: Mapping[Path, Path]) -> Iterator[_Locks]:
    """Hold folders, taken in the order of their names so that no two runs wait for each other."""
    locks = _Locks()
    try:
        for folder in sorted(folders, key=str):
            with _named(folders[folder]):
                locks.handles[folder] = _lock(folder)
        yield locks
    finally:
        locks.release()


def _lock(folder: Path) -> int:
    path = folder / JOURNAL
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    end = time.monotonic() + _PATIENCE
    while True:
        handle = os.open(path, flags, 0o666)
        # The run that held it may have removed the file between its opening and its locking.
        if try_lock(handle) and _is_still(handle, path):
            return handle
        os.close(handle)
        if time.monotonic() > end:
            raise OutputError(
                f"{folder}: another strapwright has been writing here for a long time; wait for it or end it"
            )
        time.sleep(0.01)


def try_lock(handle: int) -> bool:
    """Lock an open file as long as this process has it open; return False where another has."""
    if sys.platform == "win32":
        import msvcrt

        os.lseek(handle, 1 << 30, os.SEEK_SET)  # a locked byte cannot be read there: take one far behind
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(handle, 0, os.SEEK_SET)
        return True
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True  # a file system without locks: better written than refused
    return True


def _is_still(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path, follow_symlinks=False))
    except FileNotFoundError:
        return False


def _sweep(folder: Path) -> None:
    """Remove what runs that were ended left in a folder that nobody else holds."""
    with contextlib.suppress(OSError):
        for entry in list(os.scandir(folder)):
            if _SPARE.fullmatch(entry.name) and not entry.is_dir(follow_symlinks=False):
                _quietly(Path(entry.path).unlink)


def _digest(content: bytes | None) -> str | None:
    return None if content is None else hashlib.sha256(content).hexdigest()


def _digest_at(path: Path) -> str | None:
    """Return a file's digest; None where there is none, and an empty text for what is no plain file."""
    if not os.path.lexists(path):
        return None
    if path.is_symlink() or not path.is_file():
        return ""
    return _digest(path.read_bytes())


def _make_folder(folder: Path, made: contextlib.ExitStack) -> None:
    missing = []
    while not folder.exists():
        missing.append(folder)
        folder = folder.parent
    for one in reversed(missing):
        one.mkdir(exist_ok=True)
        made.callback(_quietly, one.rmdir)


def _sync_folder(folder: Path) -> None:
    """Make the renames last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _quietly(action: Callable[[], object]) -> None:
    """Clean up as far as it goes: the error that led here is the one to report."""
    with contextlib.suppress(OSError):
        action()


@contextlib.contextmanager
def _named(path: Path) -> Iterator[None]:
    """Turn what the system refuses into one line that names the file."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {os_reason(error)}") from error
