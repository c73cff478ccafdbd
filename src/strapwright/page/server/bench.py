"""The page of one shop: what all its routes share, and how files are changed through it as steps."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import OutputError, StrapwrightError
from strapwright.files.journal import Change, Transaction
from strapwright.files.read import toml_tables
from strapwright.page.forms.form import differences
from strapwright.page.forms.toml_text import text_with_edits, value_at, with_edits
from strapwright.page.layouts import OpenLayouts
from strapwright.page.leather.stock import StockList
from strapwright.page.server.events import Events
from strapwright.page.server.worker import Worker
from strapwright.page.sheet.history import History, Step
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT, RUNNING, digest_of, read_written, written_or_new

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.requests import Request

    from strapwright.page.forms.form import Form
    from strapwright.page.forms.toml_text import Key
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


class Routes:
    """Some of the page's addresses and what they answer.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop


async def posted_form(request: Request) -> tuple[dict[str, str], bool]:
    """Return a form's values, those of one name with commas between, and whether they are to be written."""
    form = await request.form()
    values = {key: ", ".join(str(one) for one in form.getlist(key)) for key in form}
    return values, request.query_params.get("write") == "1"


def change_fields(
    bench: Bench,
    path: Path,
    form: Form,
    posted: dict[str, str],
    mistakes_of: Callable[[Mapping[str, Any]], Mapping[str, str]],
    *,
    write: bool,
    title: str,
    place: Key = (),
) -> dict[str, Any]:
    """Check what a form changes of a file, and write it where that is asked for and it is sound.

    Args:
        bench: of the shop.
        path: the file; need not be there.
        form: whose fields were posted.
        posted: their values, and the digest of the file they were filled from.
        mistakes_of: says what is wrong with the file's tables, by the fields' keys.
        write: whether it is to be written.
        title: what is changed, for the step.
        place: of the form's table in the file.

    Returns:
        Mistakes by field, the file's digest and whether it was written; or, where the file was changed
        meanwhile and nothing is, what differs.
    """
    written = written_or_new(path)
    tables = toml_tables(written.text, path)
    unit, digest = posted.get("unit", "mm"), posted.get("digest", "")
    table = value_at(tables, place) if place else tables
    edits = form.edits(table, posted, place, unit)
    if digest != written.digest:
        return {"conflict": differences(form.shown(table), posted, place, edits), "digest": written.digest}
    mistakes = mistakes_of(with_edits(tables, edits))
    answer = {"mistakes": dict(mistakes), "digest": written.digest, "written": False}
    if not (write and edits) or mistakes:
        return answer
    keys = sorted({str(key[-1]).replace("_", " ") for key in edits})
    bench.change_text(SHOP, written, text_with_edits(written.text, edits), f"{title}: {', '.join(keys)}")
    steps = bench.history(SHOP).next
    return answer | {"digest": read_written(path).digest, "written": True, "steps": steps}
