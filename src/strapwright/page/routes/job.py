"""A job's sheet: shown, drafted as one types, written when a field is left, undone and redone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.files.read import toml_tables
from strapwright.job.catalogue.file import catalogue_for
from strapwright.job.spec.job import check_job
from strapwright.page.layout.standing import layout_part
from strapwright.page.leather.choice import choice_of
from strapwright.page.routes.by_hand import by_hand_values
from strapwright.page.routes.cut import cut_values
from strapwright.page.server import respond
from strapwright.page.sheet.form import about_form, belt_form, buckle_names, differences
from strapwright.page.sheet.job_file import (
    text_with_edits,
    text_with_entries,
    text_without_entry,
    value_at,
    with_edits,
)
from strapwright.page.sheet.job_view import (
    job_view,
    mistakes_outside_belts,
    strap_view,
)
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.orders import belts_found, columns_found
from strapwright.page.sheet.permission import allow, digest_of_program, not_allowed
from strapwright.page.sheet.pictures import pictures
from strapwright.page.sheet.shop import LAYOUT, read_written

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request

    from strapwright.page.server.bench import Bench
    from strapwright.page.sheet.job_file import Key
    from strapwright.page.sheet.job_view import JobView

_NEW_BELT: Final[Mapping[str, Any]] = {
    "id": "belt",
    "size": {"girth": "900 mm"},
    "buckle": "single-40",
}


class JobRoutes:
    """What concerns one job's file.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}", self.sheet),
            Route("/job/{name}/belt/{index:int}", self.belt),
            Route("/job/{name}/belt/{index:int}", self.change_belt, methods=["POST"]),
            Route("/job/{name}/belt/{index:int}/form", self.belt_form),
            Route("/job/{name}/strap/{index:int}", self.strap),
            Route("/job/{name}/about", self.change_about, methods=["POST"]),
            Route("/job/{name}/belts", self.change_belts, methods=["POST"]),
            Route("/job/{name}/orders/{what}", self.orders, methods=["POST"]),
            Route("/job/{name}/text", self.text),
            Route("/job/{name}/text", self.change_text, methods=["POST"]),
            Route("/job/{name}/steps", self.step, methods=["POST"]),
            Route("/job/{name}/programs", self.allow_program, methods=["POST"]),
        ]

    async def sheet(self, request: Request) -> Response:
        """Show a job's sheet; the first belt is drawn, the others are when they are seen."""
        name = request.path_params["name"]
        path = self._shop.job(name)
        running = self._bench.worker.is_running(name)  # before its files are looked for, or some are missed
        try:
            view = await run_in_threadpool(job_view, self._shop, name)
        except FileProblems as error:
            return self._file_page(request, name, problems=error.problems)
        folder = path.parent
        return respond.page(
            request,
            "job.html",
            job=view,
            about_words=_about_words(view),
            pictures=pictures(catalogue_for(path).buckles),
            records=records_of(self._shop.folder, view.title),
            programs=[(name, text, digest_of_program(text)) for name, text in view.programs.items()],
            choice=await run_in_threadpool(choice_of, self._bench.stock, self._shop, name),
            machines=[one.name for one in self._shop.machines()],
            laid=(folder / LAYOUT).is_file(),
            **await run_in_threadpool(cut_values, self._shop, path),
            **by_hand_values(self._shop, path),
            layout=await run_in_threadpool(layout_part, self._bench.layouts, name, running=running),
            running=running,
            said=self._bench.said.get(name),
            steps=self._bench.history(name).next,
        )

    async def belt(self, request: Request) -> Response:
        """Return one belt as its file says, drawn."""
        return await self._drawn(request, "belt")

    async def strap(self, request: Request) -> Response:
        """Return one strap that is no belt, drawn."""
        return await self._drawn(request, "strap")

    async def _drawn(self, request: Request, kind: str) -> Response:
        name, index = request.path_params["name"], request.path_params["index"]

        def drawn() -> dict[str, Any]:
            path = self._shop.job(name)
            tables = toml_tables(read_written(path).text, path)
            _entry(tables, kind, index)
            return strap_view(tables, path, kind, index).as_json()

        return JSONResponse(await run_in_threadpool(drawn))

    async def belt_form(self, request: Request) -> Response:
        """Return one belt's form with its drawing, for a belt that is opened."""
        name, index = request.path_params["name"], request.path_params["index"]

        def shown() -> dict[str, Any]:
            path = self._shop.job(name)
            written = read_written(path)
            tables = toml_tables(written.text, path)
            groups = belt_form(buckle_names(path)).shown(_entry(tables, "belt", index))
            drawn = pictures(catalogue_for(path).buckles)
            belt = strap_view(tables, path, "belt", index)
            return {"belt": belt, "groups": groups, "pictures": drawn, "digest": written.digest}

        return respond.page(request, "belt.html", name=name, **await run_in_threadpool(shown))

    async def change_belt(self, request: Request) -> Response:
        """Draft one belt as its form stands, and write it where that is asked for and it is sound."""
        name, index = request.path_params["name"], request.path_params["index"]
        posted, write = await _posted(request)
        return JSONResponse(await run_in_threadpool(self._change, name, ("belt", index), posted, write))

    async def change_about(self, request: Request) -> Response:
        """Check what is said of the job as a whole, and write it where that is asked for and it is sound."""
        posted, write = await _posted(request)
        return JSONResponse(
            await run_in_threadpool(self._change, request.path_params["name"], (), posted, write)
        )

    def _change(self, name: str, place: Key, posted: dict[str, str], write: bool) -> dict[str, Any]:
        path = self._shop.job(name)
        written = read_written(path)
        tables = toml_tables(written.text, path)
        unit, digest = posted.pop("unit", "mm"), posted.pop("digest", "")
        if place:
            _entry(tables, "belt", int(place[1]))
        table = value_at(tables, place) if place else tables
        form = belt_form(buckle_names(path)) if place else about_form()
        edits = form.edits(table, posted, place, unit)
        if digest != written.digest:
            return {
                "conflict": differences(form.shown(table), posted, place, edits),
                "digest": written.digest,
            }
        changed = with_edits(tables, edits)
        if place:
            view = strap_view(changed, path, "belt", int(place[1]))
            answer, title = view.as_json(), view.title
        else:
            answer, title = {"mistakes": mistakes_outside_belts(check_job(changed, path)[1])}, "the job"
        answer |= {"digest": written.digest, "written": False}
        if not (write and edits) or answer["mistakes"]:
            return answer
        keys = sorted({str(key[len(place)]).replace("_", " ") for key in edits})
        self._bench.change_text(
            name, written, text_with_edits(written.text, edits), f"{title}: {', '.join(keys)}"
        )
        steps = self._bench.history(name).next
        return answer | {"digest": read_written(path).digest, "written": True, "steps": steps}

    async def change_belts(self, request: Request) -> Response:
        """Add, copy or remove a belt, then show the sheet anew."""
        form = await request.form()
        what, index = str(form.get("do", "")), str(form.get("index", ""))
        await run_in_threadpool(self._change_belts, request.path_params["name"], what, index)
        return respond.again()

    def _change_belts(self, name: str, what: str, given: str) -> None:
        path = self._shop.job(name)
        written = read_written(path)
        tables = toml_tables(written.text, path)
        index = int(given) if given.isdigit() else -1
        if what == "remove":
            gone = _entry(tables, "belt", index)
            new, words = (
                text_without_entry(written.text, "belt", index),
                f"{gone.get('id', 'a belt')}: removed",
            )
        elif what in ("add", "copy"):
            entry = dict(_entry(tables, "belt", index) if what == "copy" else _NEW_BELT)
            entry["id"] = _free_id(
                str(entry.get("id") or "belt"), {str(one.get("id")) for one in tables.get("belt", [])}
            )
            new, words = text_with_entries(written.text, "belt", [entry]), f"{entry['id']}: added"
        else:
            raise FileProblems((f"found {what!r}, expected add, copy or remove",))
        self._bench.change_text(name, written, new, words)

    async def orders(self, request: Request) -> Response:
        """Show what columns a table of orders has, or add its lines as belts."""
        name, what = request.path_params["name"], request.path_params["what"]
        data = await request.json()
        text = data.get("text") if isinstance(data, dict) else None
        keys = data.get("keys", []) if isinstance(data, dict) else None
        if not isinstance(text, str) or not isinstance(keys, list) or what not in ("read", "add"):
            return respond.words("Found no table in what was sent.")
        if what == "read":
            return JSONResponse(await run_in_threadpool(columns_found, text))
        return JSONResponse(await run_in_threadpool(self._add_orders, name, text, [str(key) for key in keys]))

    def _add_orders(self, name: str, text: str, keys: list[str]) -> dict[str, Any]:
        path = self._shop.job(name)
        written = read_written(path)
        belts, wrong = belts_found(text, keys, toml_tables(written.text, path), path)
        if wrong or not belts:
            return {"wrong": wrong or ["found no belts, expected a line for each below the column names"]}
        new = text_with_entries(written.text, "belt", belts)
        self._bench.change_text(name, written, new, f"{len(belts)} belts from a table")
        return {"wrong": [], "added": len(belts)}

    async def text(self, request: Request) -> Response:
        """Show a job's file as it is written."""
        return self._file_page(request, request.path_params["name"])

    async def change_text(self, request: Request) -> Response:
        """Write a job's file as it was edited as text, unless somebody else has changed it."""
        form = await request.form()
        name, text, digest = (
            request.path_params["name"],
            str(form.get("text", "")),
            str(form.get("digest", "")),
        )
        text = text.replace("\r\n", "\n")
        path = self._shop.job(name)
        written = read_written(path)
        if digest != written.digest:
            return respond.words(
                "The file was changed by another program; nothing is written. Load this page again.", 409
            )
        toml_tables(text, path)
        await run_in_threadpool(self._bench.change_text, name, written, text, "the file as text")
        return respond.gone_to(f"/job/{name}")

    def _file_page(self, request: Request, name: str, problems: tuple[str, ...] = ()) -> Response:
        path, written = self._shop.job(name), None
        try:
            written = read_written(path)
        except FileProblems as error:
            problems = error.problems
        shown: dict[str, Any] = {"name": name, "path": path, "problems": problems, "written": written}
        return respond.page(request, "file.html", action=f"/job/{name}/text", back=f"/job/{name}", **shown)

    async def allow_program(self, request: Request) -> Response:
        """Allow one program of a job to run, as its text was shown; only at this machine itself."""
        if request.state.phone:
            return respond.words("A program is allowed only at the machine it would run on.", 403)
        path = self._shop.job(request.path_params["name"])
        digest = str((await request.form()).get("digest", ""))
        job, _ = await run_in_threadpool(check_job, toml_tables(read_written(path).text, path), path)
        waiting = {} if job is None else not_allowed(job)
        found = [text for text in waiting.values() if digest_of_program(text) == digest]
        if not found:
            return respond.words("The program has changed since it was shown; load the page again.", 409)
        await run_in_threadpool(allow, found[0])
        return respond.again()

    async def step(self, request: Request) -> Response:
        """Undo or redo a step."""
        name = request.path_params["name"]
        history = self._bench.history(name)
        form = await request.form()
        await run_in_threadpool(history.redo if form.get("do") == "redo" else history.undo)
        self._bench.tell("changed", job=name)
        return respond.again()


async def _posted(request: Request) -> tuple[dict[str, str], bool]:
    """Return a form's values, and whether they are to be written."""
    form = await request.form()
    values = {key: value for key, value in form.items() if isinstance(value, str)}
    return values, request.query_params.get("write") == "1"


def _entry(tables: Mapping[str, Any], kind: str, index: int) -> dict[str, Any]:
    """Return one of a list of tables.

    Raises:
        FileProblems: there is no such one.
    """
    entries = tables.get(kind)
    if not isinstance(entries, list) or not 0 <= index < len(entries) or not isinstance(entries[index], dict):
        raise FileProblems((f"found no {kind} {index + 1} in this job",))
    entry: dict[str, Any] = entries[index]
    return entry


def _free_id(wanted: str, taken: set[str]) -> str:
    """Return an id like another that no belt has yet.

    Example:
        >>> _free_id("ines", {"ines", "ines-2"})
        'ines-3'
    """
    stem, count = wanted.rstrip("0123456789").rstrip("-") or "belt", 2
    if stem not in taken:
        return stem
    while f"{stem}-{count}" in taken:
        count += 1
    return f"{stem}-{count}"


def _about_words(view: JobView) -> str:
    """Return what is said of a job's leather, in one line."""
    values = {field.key: field.value for group in view.about for field in group.fields}
    words = [values[f"leather.{key}"] for key in ("of", "thickness", "tannage")]
    return ", ".join(word for word in words if word) or "no leather yet"
