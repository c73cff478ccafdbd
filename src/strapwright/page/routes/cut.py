"""A job's cut files: planned, played back, written, saved."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page.server import respond
from strapwright.page.server.worker import CutTask
from strapwright.page.sheet.cut_view import cuts_json
from strapwright.page.sheet.permission import check_programs
from strapwright.page.sheet.shop import LAYOUT, OUT, cut_files

if TYPE_CHECKING:
    from starlette.requests import Request

    from strapwright.page.server.bench import Bench


class CutRoutes:
    """What concerns a job's cut files.

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
