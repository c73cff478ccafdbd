"""Undo and redo: every change of a job's or the shop's files as it was committed, kept beside them."""

from __future__ import annotations

import base64
import contextlib
import json
import os
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from strapwright.core.errors import OutputError
from strapwright.files.atomic_write import write_whole
from strapwright.files.journal import Change, Transaction, commit

STEPS_FILE: Final = ".strapwright-steps.json"
"""The file of a job's folder, or of the shop's, that keeps its steps."""

MOST_STEPS: Final = 100
"""So many steps are kept; the oldest go first."""

_STEPPING: Final = threading.Lock()
"""Held while files are changed and the step is kept: requests are answered in threads."""


@dataclass(frozen=True)
class Step:
    """One step that can be undone.

    Args:
        words: what was done, such as "ines: waist or girth".
        transaction: the files it changed.
    """

    words: str
    transaction: Transaction


@dataclass(frozen=True)
class History:
    """The steps of a job or of the shop, kept in a file in its folder.

    Args:
        folder: the job's, or the shop's.
        shop: the folder that all files it changes are in; the job's own if None.
    """

    folder: Path
    shop: Path | None = None

    def make(self, step: Step) -> None:
        """Carry a step out and keep it; what had been undone before cannot be redone any more.

        Raises:
            OutputError: a file is not as the step found it; nothing has changed then.
        """
        with _STEPPING:
            commit(step.transaction)
            done, _ = self._read()
            self._keep([*done, step][-MOST_STEPS:], [])

    def undo(self) -> str:
        """Undo the last step and return what it was; empty where there is none.

        Raises:
            OutputError: a file was changed since by somebody else; nothing has changed then.
        """
        with _STEPPING:
            done, undone = self._read()
            if not done:
                return ""
            self._commit(done[-1].transaction.reversed())
            self._keep(done[:-1], [done[-1], *undone])
            return done[-1].words

    def redo(self) -> str:
        """Do the step that was undone last again and return what it was; empty where there is none.

        Raises:
            OutputError: a file was changed since by somebody else; nothing has changed then.
        """
        with _STEPPING:
            done, undone = self._read()
            if not undone:
                return ""
            self._commit(undone[0].transaction)
            self._keep([*done, undone[0]], undone[1:])
            return undone[0].words

    @property
    def next(self) -> tuple[str, str]:
        """What undo and redo would do, in words; empty where there is nothing to."""
        done, undone = self._read()
        return (done[-1].words if done else "", undone[0].words if undone else "")

    def _commit(self, transaction: Transaction) -> None:
        try:
            commit(transaction)
        except OutputError as error:
            names = ", ".join(change.path.name for change in transaction.changes)
            text = f"{names}: changed since by another program; the step stays as it is"
            raise OutputError(text) from error
        for change in transaction.changes:
            if change.after is None:
                self._clear(change.path.parent)

    def _clear(self, folder: Path) -> None:
        """Take away a folder that a step left empty, and those above it: a name it has is free again."""
        root = self.shop or self.folder
        with contextlib.suppress(OSError):  # something is in it
            while folder != root and folder.is_relative_to(root):
                folder.rmdir()
                folder = folder.parent

    def _read(self) -> tuple[list[Step], list[Step]]:
        """Return the steps done and those undone; none where the file is not there or not sound."""
        try:
            data = json.loads((self.folder / STEPS_FILE).read_text("utf-8"))
            return tuple([self._step(one) for one in data[key]] for key in ("done", "undone"))  # type: ignore[return-value]
        except (OSError, ValueError, KeyError, TypeError):
            return [], []

    def _keep(self, done: list[Step], undone: list[Step]) -> None:
        data = {
            key: [self._plain(one) for one in steps] for key, steps in (("done", done), ("undone", undone))
        }
        write_whole({self.folder / STEPS_FILE: json.dumps(data) + "\n"}, force=True)

    def _step(self, data: dict[str, Any]) -> Step:
        root = os.path.realpath(self.shop or self.folder)
        changes = []
        for name, before, after in data["files"]:
            path = (self.shop or self.folder) / name
            if not Path(os.path.realpath(path)).is_relative_to(root):
                raise ValueError(name)  # no step of ours
            changes.append(Change(path, _bytes(before), _bytes(after)))
        return Step(str(data["words"]), Transaction(tuple(changes)))

    def _plain(self, step: Step) -> dict[str, Any]:
        root = self.shop or self.folder
        files = [
            [one.path.relative_to(root).as_posix(), _text(one.before), _text(one.after)]
            for one in step.transaction.changes
        ]
        return {"words": step.words, "files": files}


def _text(content: bytes | None) -> str | None:
    return None if content is None else base64.b64encode(content).decode()


def _bytes(text: str | None) -> bytes | None:
    return None if text is None else base64.b64decode(text)
