"""A hide from a photograph: the mark sheets, the form, the check picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.core.errors import FileProblems, PhotoError
from strapwright.files.atomic_write import sealed
from strapwright.page.leather.photograph import BACKS, KINDS, PAPERS, chalks, crosses
from strapwright.page.server import respond
from strapwright.page.server.access import LARGER_POSTS
from strapwright.page.server.bench import Routes

if TYPE_CHECKING:
    from starlette.requests import Request


_PATH = "/leather/photograph"


class PhotographRoutes(Routes):
    """What concerns a hide that is measured from a photograph; `HideRoutes` shows and saves it."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [
            Route(_PATH, self.form),
            Route(_PATH, self.measure, methods=["POST"]),
            Route("/leather/sheets/{paper}.pdf", self.sheets),
            Route("/leather/measured/{digest}/check.png", self.check_picture),
        ]

    def form(self, request: Request) -> Response:
        """Show how a hide is photographed, and what it is measured by."""
        return respond.page(
            request,
            "photograph.html",
            papers={paper: (words, *crosses(paper)) for paper, words in PAPERS.items()},
            backs=BACKS,
            chalks=chalks(),
            kinds=KINDS,
            missing=_missing(),
            most=LARGER_POSTS[_PATH],
        )

    def sheets(self, request: Request) -> Response:
        """Return the mark sheets to print."""
        from strapwright import api

        paper = request.path_params["paper"]
        if paper not in PAPERS:
            raise FileProblems((f"found no paper {paper!r}, expected {' or '.join(PAPERS)}",))
        return Response(
            sealed(api.mark_sheets(paper)),
            media_type="application/pdf",
            headers={"content-disposition": f'inline; filename="mark-sheets-{paper}.pdf"'},
        )

    async def measure(self, request: Request) -> Response:
        """Measure a photograph, and say where the hide is seen, or what is wrong beside which field."""
        async with request.form(max_files=1, max_fields=30) as form:
            photo = form.get("photo")
            fields = {key: value for key, value in form.items() if isinstance(value, str)}
            name, content = "", b""
            if isinstance(photo, UploadFile):
                name, content = photo.filename or "", await photo.read()
        digest, mistakes = await run_in_threadpool(self._bench.photographs.measure, fields, name, content)
        found: dict[str, Any] = {"mistakes": mistakes}
        return JSONResponse(found | ({"address": f"/leather/measured/{digest}"} if digest else {}))

    def check_picture(self, request: Request) -> Response:
        """Return the photograph made flat, with all that was found in it."""
        found = self._bench.photographs.get(request.path_params["digest"])
        return Response(sealed(found.found.picture), media_type="image/png")


def _missing() -> str:
    """Return what must be installed before a photograph can be measured; nothing where it is."""
    from strapwright.api.photos import check_photo_extra

    try:
        check_photo_extra()
    except PhotoError as error:
        return str(error)
    return ""
