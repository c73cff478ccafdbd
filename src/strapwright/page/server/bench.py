"""The page of one shop: what all its routes share, and how a job's file is changed through it."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import OutputError, StrapwrightError
from strapwright.files.journal import Change, Transaction
from strapwright.page.layout.opened import OpenLayouts
from strapwright.page.leather.stock import StockList
from strapwright.page.server.events import Events
from strapwright.page.server.worker import Worker
from strapwright.page.sheet.history import History, Step
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT, RUNNING, digest_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from strapwright.page.sheet.shop import Shop, Written

SHOP: Final = ""
"""Stands for a job's name where the shop's own files are changed: catalogue, machines, settings."""

_MARK = "\ufeff".encode()
"""A byte order mark, which an editor may put before a file's text; it stays."""


class Bench:
    """The page of one shop.

    Args:
        shop: the shop.
    """

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.stock = StockList(shop)
        self.events = Events()
        self.layouts = OpenLayouts(shop, self.stock)
        self.worker = Worker(self._report, self._keep)
        self.said: dict[str, dict[str, Any]] = {}
        self._since: dict[str, float] = {}
        """What the process of each job said last."""
        self._loop: asyncio.AbstractEventLoop | None = None

    def open(self) -> None:
        """Begin, in the loop that answers."""
        self._loop = asyncio.get_running_loop()

    def close(self) -> None:
        """End all streams and processes."""
        self.events.close()
        self.worker.close()

    def change_text(self, name: str, written: Written, new: str, words: str) -> None:
        """Change a file of a job or of the shop, as one step that can be undone.

        Args:
            name: the job's, or `SHOP`.
            written: as it was read; without text where there is no such file yet.
            new: its text then.
            words: what was done.

        Raises:
            OutputError: the file was changed meanwhile; nothing has changed then.
        """
        before = written.path.read_bytes() if written.path.exists() else None
        mark = _MARK if before and before.startswith(_MARK) else b""
        if (before or b"") != mark + written.text.encode():
            raise OutputError(
                f"{written.path.name}: was changed by another program just now; nothing is written"
            )
        self.change(name, {written.path: (before, mark + new.encode())}, words)

    def change(self, name: str, files: Mapping[Path, tuple[bytes | None, bytes | None]], words: str) -> None:
        """Change files of a job or of the shop, as one step that can be undone, and tell every tab.

        Args:
            name: the job's, or `SHOP`.
            files: content before and after; None where there is no such file.
            words: what was done.

        Raises:
            OutputError: a file is not as it was before; nothing has changed then.
        """
        changes = tuple(Change(path, before, after) for path, (before, after) in files.items())
        self.history(name).make(Step(words, Transaction(changes)))
        written = next((after for path, (_, after) in files.items() if path.name == JOB_FILE), None)
        laid = next((after for path, (_, after) in files.items() if path.name == LAYOUT), None)
        inside = self.shop.folder
        self.tell(
            "changed",
            job=name,
            digest=digest_of(written) if written else "",
            layout=digest_of(laid) if laid else "",
            files={
                path.relative_to(inside).as_posix(): digest_of(after) if after is not None else ""
                for path, (_, after) in files.items()
            },
        )

    def change_stock(self, files: Mapping[Path, tuple[bytes | None, bytes | None]], words: str) -> None:
        """Change files of the stock of hides, as one step that can be undone, and tell every tab.

        Args:
            files: content before and after; None where there is no such file.
            words: what was done.

        Raises:
            OutputError: a file is not as it was before; nothing has changed then.
        """
        changes = tuple(Change(path, before, after) for path, (before, after) in files.items())
        self.stock_history().make(Step(words, Transaction(changes)))
        self.tell(
            "stock", files={path.name: after and digest_of(after) for path, (_, after) in files.items()}
        )

    def stock_history(self) -> History:
        """Return the steps of the stock of hides."""
        return History(self.shop.folder / "hides", self.shop.folder)

    def history(self, name: str) -> History:
        """Return the steps of a job, or those of the shop for `SHOP`."""
        folder = self.shop.folder
        return History(folder if name == SHOP else self.shop.job(name).parent, folder)

    def tell(self, kind: str, **data: Any) -> None:
        """Send a message to every tab, from whatever thread."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(lambda: self.events.say(kind, **data))

    def running_words(self, name: str) -> tuple[str, int]:
        """Return what is done for a job now, in words, and for how many whole seconds."""
        said = self.said.get(name, {})
        words = said["words"] if said.get("stage") in ("before", "after") else "Searching"
        since = time.monotonic() - self._since.get(name, time.monotonic())
        return words, int(since + said.get("elapsed", 0.0))

    def _report(self, name: str, said: dict[str, Any]) -> None:
        self.said[name] = said
        self._since[name] = time.monotonic()
        self.tell("job", job=name, **said)

    def _keep(self, name: str, said: dict[str, Any]) -> dict[str, Any]:
        """Write the layout a search ended with as one step; what it had written on its way goes."""
        if said.get("what") != "nest":
            return said
        folder = self.shop.job(name).parent
        files: dict[Path, bytes | None] = {folder / file: made for file, made in said.pop("files").items()}
        try:
            before = {path: path.read_bytes() if path.exists() else None for path in files}
            self.change(name, {path: (before[path], files[path]) for path in files}, "laid out")
            (folder / RUNNING).unlink(missing_ok=True)
        except (StrapwrightError, OSError) as error:
            return {"stage": "failed", "lines": str(error).splitlines()}
        return said
