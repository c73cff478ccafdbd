"""What leaves a job: cut files for its machine, papers for the bench."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page import respond
from strapwright.page.made import keep_as_made
from strapwright.page.sheet.cut_view import cuts_json
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, OUT, cut_files
from strapwright.page.worker import CutTask

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from strapwright.page.bench import Bench

PAPERS: Final = ("pattern.pdf", "drawing.pdf", "card.html", "card.pdf")
"""What is made of a job on paper."""


class OutputRoutes:
    """What concerns a job's files for machine and bench.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/cut", self.cut, methods=["POST"]),
            Route("/job/{name}/cuts", self.cuts),
            Route("/job/{name}/out.zip", self.all_files),
            Route("/job/{name}/out/{file}", self.cut_file),
            Route("/job/{name}/paper/{file}", self.paper),
            Route("/job/{name}/made", self.made, methods=["POST"]),
        ]

    async def cut(self, request: Request) -> Response:
        """Begin to plan, write and prove a job's cut files."""
        name = request.path_params["name"]
        form = await request.form()
        hides = await run_in_threadpool(self._bench.stock.of_layout, name)
        machine = self._shop.named(self._shop.machines(), str(form.get("machine") or ""))
        task = CutTask(
            self._shop.job(name), hides, str(machine), accept_fume_risk=form.get("fumes") == "read"
        )
        if not self._bench.worker.start(name, task):
            return respond.words("Something is running for this job already; stop it, or wait.", 409)
        return Response(status_code=204)

    async def cuts(self, request: Request) -> Response:
        """Return a job's cuts in their order, to be played back."""
        name, asked = request.path_params["name"], request.query_params
        machine = self._shop.named(self._shop.machines(), asked.get("machine", ""))
        fumes = asked.get("fumes") == "read"
        return JSONResponse(await run_in_threadpool(_cuts, self._bench, name, str(machine), fumes))

    async def cut_file(self, request: Request) -> Response:
        """Return one of a job's cut files to be saved."""
        path, file = self._shop.job(request.path_params["name"]), request.path_params["file"]
        if file not in cut_files(path):
            raise FileProblems((f"found no file {file!r} of this job",))
        return FileResponse(path.parent / OUT / file, filename=file)

    async def all_files(self, request: Request) -> Response:
        """Return all of a job's cut files as one archive."""
        path = self._shop.job(request.path_params["name"])
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in cut_files(path):
                archive.write(path.parent / OUT / name, name)
        saved = f'attachment; filename="{path.parent.name}-cut-files.zip"'
        return Response(held.getvalue(), media_type="application/zip", headers={"content-disposition": saved})

    async def paper(self, request: Request) -> Response:
        """Return a pattern, drawing or card of a job."""
        path = self._shop.job(request.path_params["name"])
        made, kind = await run_in_threadpool(_paper, path, request.path_params["file"])
        return Response(made, media_type=kind)

    async def made(self, request: Request) -> Response:
        """Keep a job's record, and bring the stock up to date."""
        name = request.path_params["name"]
        machine = str((await request.form()).get("machine") or "")
        profile = str(self._shop.named(self._shop.machines(), machine)) if machine else ""
        await run_in_threadpool(keep_as_made, self._bench, name, profile)
        return respond.again()


def _cuts(bench: Bench, name: str, machine: str, accept_fume_risk: bool) -> dict[str, Any]:
    from strapwright import api

    path = bench.shop.job(name)
    job = check_programs(api.read_job(path))
    layout = api.read_layout(
        path.parent / LAYOUT, api.draft(job), api.read_hides(bench.stock.of_layout(name))
    )
    planned = api.plan(
        layout, api.read_machine(machine), accept_fume_risk=accept_fume_risk, job_name=job.name
    )
    return cuts_json(planned)


def _paper(path: Path, file: str) -> tuple[str | bytes, str]:
    """Return a paper of a job and its media type."""
    from strapwright import api

    if file not in PAPERS:
        raise FileProblems((f"found no paper {file!r}, expected one of {', '.join(PAPERS)}",))
    job = check_programs(api.read_job(path))
    drafted = api.draft(job)
    if file == "drawing.pdf":
        return api.drawing(drafted, ".pdf"), "application/pdf"
    if file == "pattern.pdf":
        return api.pattern(drafted, "a4").pdf, "application/pdf"
    card = api.card(job, drafted=drafted)
    return (card.html(), "text/html") if file == "card.html" else (card.pdf(), "application/pdf")
