"""A job's sheet: shown, its file as text, its programs allowed, its steps undone and redone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

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
from strapwright.page.routes.shop import of_other_files, text_changed
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP, Routes, form_route
from strapwright.page.sheet.job_view import job_view
from strapwright.page.sheet.made_view import records_of
from strapwright.page.sheet.permission import allow, digest_of_program, not_allowed
from strapwright.page.sheet.pictures import how_to_measure, pictures
from strapwright.page.sheet.shop import LAYOUT, digest_laid_out, read_written

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import FormData
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
            form_route("/job/{name}/text", self.change_text),
            form_route("/job/{name}/steps", self.step),
            form_route("/job/{name}/programs", self.allow_program),
            form_route("/units", self.units),
        ]

    def sheet(self, request: Request) -> Response:
        """Show a job's sheet; the first belt is drawn, the others are when they are seen."""
        name = request.path_params["name"]
        path = self._shop.job(name)
        running = self._bench.worker.is_running(name)  # before its files are looked for, or some are missed
        try:
            view = job_view(self._shop, name)
        except FileProblems as error:
            return self._file_page(request, name, problems=error.problems)
        return respond.page(
            request,
            "job.html",
            job=view,
            about_words=_about_words(view),
            pictures=pictures(view.within.catalogue.buckles),
            measuring=how_to_measure(),
            records=records_of(self._shop.folder, view.title),
            programs=[(name, text, digest_of_program(text)) for name, text in view.programs.items()],
            choice=choice_of(self._bench.stock, self._shop, name),
            machines=self._shop.machine_names(),
            laid=(path.parent / LAYOUT).is_file(),
            placed=bool(digest_laid_out(path)),
            **cut_values(self._shop, path),
            **by_hand_values(self._shop, path),
            layout=layout_part(self._bench.layouts, name, running=running),
            running=running,
            shown=request.query_params.get("show", ""),
            picked=request.query_params.get("buckle", ""),
            said=self._bench.said.get(name),
            doing=self._bench.running_words(name),
            steps=self._bench.history(name).next,
        )

    def text(self, request: Request) -> Response:
        """Show a job's file as it is written."""
        name = request.path_params["name"]
        return self._file_page(request, name, _problems_in(self._shop.job(name)))

    def change_text(self, request: Request, form: FormData) -> Response:
        """Write a job's file as it was edited as text, unless somebody else has changed it."""
        name = request.path_params["name"]
        written = read_written(self._shop.job(name))
        return text_changed(self._bench, name, written, form, "the file as text", f"/job/{name}")

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

    def allow_program(self, request: Request, form: FormData) -> Response:
        """Allow one program of a job to run, as its text was shown; only at this machine itself."""
        if request.state.phone:
            return respond.words("A program is allowed only at the machine it would run on.", 403)
        path = self._shop.job(request.path_params["name"])
        job, _ = check_job(toml_tables(read_written(path).text, path), path)
        waiting = {} if job is None else not_allowed(job)
        digest = str(form.get("digest", ""))
        found = [text for text in waiting.values() if digest_of_program(text) == digest]
        if not found:
            return respond.words("The program has changed since it was shown; load the page again.", 409)
        allow(found[0])
        return respond.again()

    def step(self, request: Request, form: FormData) -> Response:
        """Undo or redo a step."""
        name = request.path_params["name"]
        return self._stepped(self._bench.history(name), form, "changed", job=name)

    def units(self, request: Request, form: FormData) -> Response:
        """Show figures in other units, in all the shop: kept in its house file."""
        del request
        units = str(form.get("units", ""))
        if units not in get_args(Units):
            return respond.words("Figures are shown in mm or in inches.")
        path, words = self._shop.folder / HOUSE_NAME, f"figures in {units}"
        if path.is_file():
            written = read_written(path)
            new = text_with_edits(written.text, {("units",): units})
            self._bench.change_text(SHOP, written, new, words)
        else:
            self._bench.change(SHOP, {path: (None, f'units = "{units}"\n'.encode())}, words)
        return respond.again()


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
