"""A job's sheet: shown, its file as text, its programs allowed, its steps undone and redone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.core.units import Units
from strapwright.files.read import read_toml, toml_tables
from strapwright.job.catalogue.file import HOUSE_NAME
from strapwright.job.spec.job import check_job
from strapwright.page.forms.toml_text import text_with_edits, with_lines
from strapwright.page.layouts import layout_part
from strapwright.page.leather.stock import choice_of
from strapwright.page.routes.by_hand import by_hand_values
from strapwright.page.routes.cut import cut_values
from strapwright.page.routes.shop import of_other_files
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes
from strapwright.page.sheet.job_view import job_view
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.permission import allow, digest_of_program, not_allowed
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import LAYOUT, digest_laid_out, read_written

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.sheet.job_view import JobView


class JobRoutes(Routes):
    """What concerns one job's file."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}", self.sheet),
            Route("/job/{name}/text", self.text),
            Route("/job/{name}/text", self.change_text, methods=["POST"]),
            Route("/job/{name}/steps", self.step, methods=["POST"]),
            Route("/job/{name}/programs", self.allow_program, methods=["POST"]),
            Route("/units", self.units, methods=["POST"]),
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
            pictures=pictures(view.within.catalogue.buckles),
            measuring=how_to_measure(),
            records=records_of(self._shop.folder, view.title),
            programs=[(name, text, digest_of_program(text)) for name, text in view.programs.items()],
            choice=await run_in_threadpool(choice_of, self._bench.stock, self._shop, name),
            machines=self._shop.machine_names(),
            laid=(folder / LAYOUT).is_file(),
            placed=bool(digest_laid_out(path)),
            **await run_in_threadpool(cut_values, self._shop, path),
            **by_hand_values(self._shop, path),
            layout=await run_in_threadpool(layout_part, self._bench.layouts, name, running=running),
            running=running,
            shown=request.query_params.get("show", ""),
            picked=request.query_params.get("buckle", ""),
            said=self._bench.said.get(name),
            doing=self._bench.running_words(name),
            steps=self._bench.history(name).next,
        )

    async def text(self, request: Request) -> Response:
        """Show a job's file as it is written."""
        name = request.path_params["name"]
        return self._file_page(request, name, await run_in_threadpool(_problems_in, self._shop.job(name)))

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
        others = of_other_files(self._bench, problems)
        try:
            written = read_written(path)
            problems = () if others else with_lines(problems, str(path), written.text)
        except FileProblems as error:
            problems = error.problems
        shown: dict[str, Any] = {"name": name, "path": path, "written": written, "others": others}
        shown["problems"] = self._shop.told(problems)
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

    async def units(self, request: Request) -> Response:
        """Show figures in other units, in all the shop: kept in its house file."""
        units = str((await request.form()).get("units", ""))
        if units not in get_args(Units):
            return respond.words("Figures are shown in mm or in inches.")
        path = self._shop.folder / HOUSE_NAME
        await run_in_threadpool(self._set_units, path, units)
        return respond.again()

    def _set_units(self, path: Path, units: str) -> None:
        before = path.read_bytes() if path.is_file() else None
        if before is None:
            self._bench.change(SHOP, {path: (None, f'units = "{units}"\n'.encode())}, f"figures in {units}")
            return
        written = read_written(path)
        new = text_with_edits(written.text, {("units",): units})
        self._bench.change_text(SHOP, written, new, f"figures in {units}")


def _problems_in(path: Path) -> tuple[str, ...]:
    """Return what is wrong with a job's file."""
    try:
        return tuple(one.line(str(path)) for one in check_job(read_toml(path), path)[1])
    except FileProblems as error:
        return error.problems


def _about_words(view: JobView) -> str:
    """Return what is said of a job's leather, in one line."""
    values = {field.key: field.value for group in view.about for field in group.fields}
    words = [values[f"leather.{key}"] for key in ("of", "thickness", "tannage")]
    return ", ".join(word for word in words if word) or "no leather yet"
