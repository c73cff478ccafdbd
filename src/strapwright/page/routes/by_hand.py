"""A job on paper: pattern, drawing and bench card."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.page.sheet.permission import check_programs

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from strapwright.page.server.bench import Bench

PAPERS: Final = ("pattern.pdf", "drawing.pdf", "card.html", "card.pdf")
"""What is made of a job on paper."""


class ByHandRoutes:
    """What concerns a job's papers.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/job/{name}/paper/{file}", self.paper)]

    async def paper(self, request: Request) -> Response:
        """Return a pattern, drawing or card of a job."""
        path = self._shop.job(request.path_params["name"])
        made, kind = await run_in_threadpool(_paper, path, request.path_params["file"])
        return Response(made, media_type=kind)


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
