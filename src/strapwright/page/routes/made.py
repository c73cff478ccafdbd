"""A job that is made: its record kept, its hides taken from stock, what is left of them put in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import FileResponse
from starlette.routing import Route

from strapwright.core.errors import StrapwrightError
from strapwright.files.atomic_write import sealed
from strapwright.page.jobs import begun_again
from strapwright.page.server import respond
from strapwright.page.server.bench import Routes, form_route
from strapwright.page.sheet.made_view import RECORDS, made_job, made_view, record_file, record_job
from strapwright.page.sheet.shop import LAYOUT

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.server.bench import Bench


class MadeRoutes(Routes):
    """What ends a job."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route("/job/{name}/made", self.before),
            form_route("/job/{name}/made", self.made),
            Route("/job/{name}/record/{record}", self.again, methods=["POST"]),
            Route("/job/{name}/record/{record}/{file:path}", self.record),
        ]

    def before(self, request: Request) -> Response:
        """Show what being made will do to the shop."""
        name = request.path_params["name"]
        try:
            made = made_job(self._shop, name, self._bench.stock.of_layout(name))
        except StrapwrightError as error:
            return respond.page(request, "job/made_before.html", wrong=str(error).splitlines())
        machine = request.query_params.get("machine", "")
        view = made_view(made, self._shop)
        return respond.page(request, "job/made_before.html", wrong=(), name=name, machine=machine, **view)

    def made(self, request: Request, form: FormData) -> Response:
        """Keep a job's record, and bring the stock up to date."""
        machine = str(form.get("machine") or "")
        profile = str(self._shop.named(self._shop.machines(), machine)) if machine else ""
        keep_as_made(self._bench, request.path_params["name"], profile)
        return respond.again()

    def record(self, request: Request) -> Response:
        """Return a file of a record of the job."""
        name, key, file = (request.path_params[one] for one in ("name", "record", "file"))
        path = record_file(self._shop.folder, self._title(name), key, file)
        return FileResponse(path, filename=path.name)

    def again(self, request: Request) -> Response:
        """Begin a job from a record, with the catalogue and settings it was made with, and show it."""
        name, key = request.path_params["name"], request.path_params["record"]
        new = begun_again(self._shop, *record_job(self._shop.folder, self._title(name), key))
        return respond.gone_to(f"/job/{new}")

    def _title(self, name: str) -> str:
        from strapwright.job.spec.job import read_job

        return read_job(self._shop.job(name)).name or name


def keep_as_made(bench: Bench, name: str, machine: str) -> None:
    """Keep a job's record, and bring the stock of hides up to date: one step that can be undone.

    Args:
        bench: the shop's page.
        name: the job's.
        machine: the machine's file it was cut with; empty for work by hand.

    Raises:
        FileProblems: there is no layout, or a file is in the way.
        OutputError: the disk does not allow it.
    """
    from strapwright import api

    shop, path = bench.shop, bench.shop.job(name)
    made = made_job(shop, name, bench.stock.of_layout(name))

    def write(record: Mapping[Path, str | bytes]) -> None:
        kept = {file: (None, sealed(content)) for file, content in record.items()}
        bench.change(name, {**made.changes, **kept}, made.words)

    api.keep_record(
        shop.folder / RECORDS,
        path,
        made.job,
        api.card(made.job, drafted=made.draft, layout=made.layout),
        layout=path.parent / LAYOUT,
        hides=made.hides,
        machine=machine,
        write=write,
    )
