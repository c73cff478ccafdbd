"""The page of one shop: what all its routes share, and how files are changed through it as steps."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.routing import Route

from strapwright.core.errors import OutputError, StrapwrightError
from strapwright.files.journal import Change, Transaction
from strapwright.page.forms.form import differences
from strapwright.page.forms.toml_text import text_with_edits, value_at, with_edits
from strapwright.page.layouts import OpenLayouts
from strapwright.page.leather.photograph import Photographs
from strapwright.page.leather.picture import Pictures
from strapwright.page.leather.stock import StockList
from strapwright.page.server import respond
from strapwright.page.server.events import Events
from strapwright.page.server.worker import Worker
from strapwright.page.sheet.history import History, Step
from strapwright.page.sheet.shop import JOB_FILE, LAYOUT, RUNNING, content_with, digest_of, read_written

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request

    from strapwright.page.forms.form import Form
    from strapwright.page.forms.toml_text import Key
    from strapwright.page.server.worker import Task
    from strapwright.page.sheet.shop import Shop, Written

    Files = Mapping[Path, tuple[bytes | None, bytes | None]]

SHOP: Final = ""
"""Stands for a job's name where the shop's own files are changed: catalogue, machines, settings."""


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
        self.pictures = Pictures()
        self.photographs = Photographs()
        self.worker = Worker(self._report, self._keep)
        self.said: dict[str, dict[str, Any]] = {}
        """What the process of each job said last."""
        self._since: dict[str, float] = {}
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
        if (before or b"") != content_with(written.text, before):
            raise OutputError(
                f"{written.path.name}: was changed by another program just now; nothing is written"
            )
        self.change(name, {written.path: (before, content_with(new, before))}, words)

    def change_fields(
        self,
        name: str,
        written: Written,
        tables: Mapping[str, Any],
        form: Form,
        posted: Mapping[str, str],
        check: Callable[[dict[str, Any]], tuple[dict[str, Any], str]],
        *,
        write: bool,
        place: Key = (),
        at: int = -1,
    ) -> dict[str, Any]:
        """Check what a form changes of a file, and write it where that is asked for and it is sound.

        Args:
            name: the job's, or `SHOP`.
            written: the file as it was read; without text where it is not there yet.
            tables: what its text says.
            form: whose fields were posted.
            posted: their values, and the digest of the file they were filled from.
            check: returns what is answered of the file's tables as they would be, with what is wrong by the
                fields' keys as ``mistakes``, and what is changed, for the step.
            write: whether it is to be written.
            place: of the form's table in the file.
            at: which part of a value's place the step is named by.

        Returns:
            What is answered, the file's digest and whether it was written; or, where the file was changed
            meanwhile and nothing is, what differs.
        """
        table = value_at(tables, place)
        edits = form.edits(table, posted, place, posted.get("unit", "mm"))
        if posted.get("digest", "") != written.digest:
            differ = differences(form.shown(table), posted, place, edits)
            return {"conflict": differ, "digest": written.digest}
        answer, title = check(with_edits(tables, edits))
        answer |= {"digest": written.digest, "written": False}
        if not (write and edits) or answer["mistakes"]:
            return answer
        keys = sorted({str(key[at]).replace("_", " ") for key in edits})
        self.change_text(name, written, text_with_edits(written.text, edits), f"{title}: {', '.join(keys)}")
        steps = self.history(name).next
        return answer | {"digest": read_written(written.path).digest, "written": True, "steps": steps}

    def change(self, name: str, files: Files, words: str) -> None:
        """Change files of a job or of the shop, as one step that can be undone, and tell every tab.

        Args:
            name: the job's, or `SHOP`.
            files: content before and after; None where there is no such file.
            words: what was done.

        Raises:
            OutputError: a file is not as it was before; nothing has changed then.
        """
        self.history(name).make(_step(files, words))
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

    def replace(self, name: str, files: Mapping[Path, bytes | None], words: str) -> None:
        """Change files of a job from whatever they hold now: see `change`."""
        before = {path: path.read_bytes() if path.is_file() else None for path in files}
        self.change(name, {path: (before[path], after) for path, after in files.items()}, words)

    def change_stock(self, files: Files, words: str) -> None:
        """Change files of the stock of hides, as one step that can be undone, and tell every tab.

        Args:
            files: content before and after; None where there is no such file.
            words: what was done.

        Raises:
            OutputError: a file is not as it was before; nothing has changed then.
        """
        self.stock_history().make(_step(files, words))
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
            self.replace(name, files, "laid out")
            (folder / RUNNING).unlink(missing_ok=True)
        except (StrapwrightError, OSError) as error:
            return {"stage": "failed", "lines": str(error).splitlines()}
        return said


def _step(files: Files, words: str) -> Step:
    changes = (Change(path, before, after) for path, (before, after) in files.items())
    return Step(words, Transaction(tuple(changes)))


class Routes:
    """Some of the page's addresses and what they answer.

    What a plain method answers, it answers in a thread.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        raise NotImplementedError

    def _begin(self, name: str, task: Task) -> Response:
        """Begin a task for a job, unless one is running for it."""
        if not self._bench.worker.start(name, task):
            return respond.words("Something is running for this job already; stop it, or wait.", 409)
        return Response(status_code=204)

    def _stepped(self, history: History, form: FormData, kind: str, **said: Any) -> Response:
        """Undo a step or do it again, as a form asks, tell every tab, and show the page anew."""
        (history.redo if form.get("do") == "redo" else history.undo)()
        self._bench.tell(kind, **said)
        return respond.again()


def form_route(path: str, answer: Callable[..., Response]) -> Route:
    """Return the route of a form, which is read before it is answered.

    Args:
        path: of the route.
        answer: called in a thread with the request and the form.
    """

    async def read(request: Request) -> Response:
        return await run_in_threadpool(answer, request, await request.form())

    return Route(path, read, methods=["POST"])


def json_route(path: str, answer: Callable[..., Response]) -> Route:
    """Return the route of what a script sends as JSON; what cannot be read is None."""

    async def read(request: Request) -> Response:
        return await run_in_threadpool(answer, request, await respond.sent_json(request))

    return Route(path, read, methods=["POST"])


def values_of(request: Request, form: FormData) -> tuple[dict[str, str], bool]:
    """Return a form's values, those of one name with commas between, and whether they are to be written."""
    values = {key: ", ".join(str(one) for one in form.getlist(key)) for key in form}
    return values, request.query_params.get("write") == "1"
