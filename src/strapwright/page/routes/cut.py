"""A job's cut files: what the machine says to them, played back, written, saved."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, PlanError, StrapwrightError
from strapwright.page.forms.page_words import in_page_words
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route
from strapwright.page.server.worker import CutTask
from strapwright.page.sheet.cut_form import fumes_refused, machine_view, read_cut_form
from strapwright.page.sheet.cut_view import cuts_json, written_cuts
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, OUT, cut_files

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import FormData, ImmutableMultiDict
    from starlette.requests import Request

    from strapwright.page.server.bench import Bench
    from strapwright.page.sheet.cut_form import CutForm
    from strapwright.page.sheet.cut_view import WrittenCuts
    from strapwright.page.sheet.shop import Shop


class CutRoutes(Routes):
    """What concerns a job's cut files."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/cut", self.machine),
            form_route("/job/{name}/cut", self.cut),
            Route("/job/{name}/cuts", self.cuts),
            Route("/job/{name}/out.zip", self.all_files),
            Route("/job/{name}/out/{file}", self.cut_file),
        ]

    def machine(self, request: Request) -> Response:
        """Show what a machine says of cutting a job: formats, kerf, fumes, cautions."""
        path = self._shop.job(request.path_params["name"])
        profile = self._machine(request.query_params.get("machine", ""))
        try:
            view = machine_view(path, profile, _shared(path))
        except StrapwrightError as error:
            return respond.page(request, "job/cut_machine.html", wrong=str(error).splitlines())
        return respond.page(request, "job/cut_machine.html", wrong=(), **view)

    def cut(self, request: Request, form: FormData) -> Response:
        """Begin to plan, write and prove a job's cut files; or say what is wrong, field by field."""
        name = request.path_params["name"]
        hides = self._bench.stock.of_layout(name)
        path, profile = self._shop.job(name), self._machine(str(form.get("machine") or ""))
        asked, wrong, accepted = _asked(path, profile, form)
        if wrong:
            return JSONResponse({"mistakes": wrong})
        return self._begin(name, CutTask(path, hides, profile, asked, accept_fume_risk=accepted))

    def cuts(self, request: Request) -> Response:
        """Return a job's cuts in their order, to be played back; or what is wrong, field by field."""
        name, form = request.path_params["name"], request.query_params
        path, profile = self._shop.job(name), self._machine(form.get("machine", ""))
        return JSONResponse(_cuts(self._bench, name, path, profile, form))

    def cut_file(self, request: Request) -> Response:
        """Return one of a job's cut files to be saved."""
        path, file = self._shop.job(request.path_params["name"]), request.path_params["file"]
        if file not in cut_files(path):
            raise FileProblems((f"found no file {file!r} of this job",))
        return FileResponse(path.parent / OUT / file, filename=file)

    def all_files(self, request: Request) -> Response:
        """Return the cut files that were written last as one archive."""
        path = self._shop.job(request.path_params["name"])
        names = [name for name, wrong in cuts_of(path).files if not wrong]
        if not names:
            raise FileProblems(("these files are of another layout or an older job; write them again",))
        contents = {name: (path.parent / OUT / name).read_bytes() for name in names}
        return respond.archive(contents, f"{path.parent.name}-cut-files.zip")

    def _machine(self, name: str) -> Path:
        return self._shop.named(self._shop.machines(), name)


def cuts_of(path: Path) -> WrittenCuts:
    """Return a job's cut files, each with what it is of.

    Args:
        path: the job's file.
    """
    from strapwright.job.spec.job import read_job

    try:
        return written_cuts(path, read_job(path).digest)
    except StrapwrightError:
        return written_cuts(path, "")


def cut_values(shop: Shop, path: Path) -> dict[str, Any]:
    """Return what a job's sheet shows of its cut files.

    Args:
        shop: the shop.
        path: the job's file.
    """
    cuts = cuts_of(path)
    machine = next((one for one in shop.machines() if one.name == cuts.machine), None)
    return {"cuts": cuts, "send_commands": send_commands(path, cuts, machine)}


def send_commands(path: Path, cuts: WrittenCuts, machine: Path | None) -> list[tuple[str, str]]:
    """Return each file and the command that brings it to its machine, for a person who stands there.

    Args:
        path: the job's file.
        cuts: its files.
        machine: the file of the machine they were written for; None where it is not known.
    """
    from strapwright.machine.profile.machine import read_machine
    from strapwright.write.formats.format import FORMATS

    if machine is None:
        return []
    try:
        serial = read_machine(str(machine)).serial is not None
    except StrapwrightError:
        return []
    driving = {one.suffix for one in FORMATS.values() if one.drives}
    found = []
    for name, wrong in cuts.files:
        file = path.parent / OUT / name
        if wrong or file.suffix not in {one.suffix for one in FORMATS.values()}:
            continue
        over = ["--port", "PORT", "--armed"] if serial and file.suffix in driving else ["--to", "FOLDER"]
        words = ["strapwright", "send", str(file.absolute()), "--machine", str(machine.absolute()), *over]
        found.append((name, _shell(words)))
    return found


def _shell(words: list[str]) -> str:
    """Return a command as it is typed in this machine's own shell."""
    import os
    import shlex
    import subprocess

    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _shared(path: Path) -> bool | None:
    """Return whether a job's layout was made for edges cut once; None where there is no layout."""
    try:
        return bool(json.loads((path.parent / LAYOUT).read_text("utf-8"))["clearance"]["shared"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _asked(
    path: Path, profile: Path, given: ImmutableMultiDict[str, Any]
) -> tuple[CutForm, dict[str, str], bool]:
    """Return what a form asks for, what is wrong with it, and whether the risk of fumes was taken."""
    from strapwright import api

    form, wrong = read_cut_form(given)
    parts = api.draft(check_programs(api.read_job(path))).parts
    refused = fumes_refused(form.fumes, parts, api.read_machine(str(profile)))
    return form, wrong | ({"fumes": refused} if refused else {}), bool(form.fumes) and not refused


def _cuts(
    bench: Bench, name: str, path: Path, profile: Path, given: ImmutableMultiDict[str, Any]
) -> dict[str, Any]:
    from strapwright import api

    form, wrong, accepted = _asked(path, profile, given)
    if wrong:
        return {"mistakes": wrong}
    job, machine = check_programs(api.read_job(path)), api.read_machine(str(profile))
    if form.long_edges_by_hand:
        machine = machine.model_copy(update={"ends_only": True})
    layout = api.read_layout(
        path.parent / LAYOUT, api.draft(job), api.read_hides(bench.stock.of_layout(name))
    )
    try:
        planned = api.plan(
            layout,
            machine,
            kerf=form.kerf,
            accept_fume_risk=accepted,
            job_name=job.name,
            touches=[api.touch_at(at, own, machine) for at, own in form.touches],
        )
    except PlanError as error:
        return {"wrong": in_page_words(str(error)).splitlines()}
    return cuts_json(planned, form.units)
