"""The hides a job is laid on, chosen by picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from strapwright.page.leather.choice import AT_ONCE, fits, in_words, needed_leather
from strapwright.page.server import respond
from strapwright.page.server.routes import Routes

if TYPE_CHECKING:
    from starlette.requests import Request


class HideChoiceRoutes(Routes):
    """What concerns the choice of hides for one job."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/job/{name}/hides", self.stock), Route("/job/{name}/need", self.need)]

    async def stock(self, request: Request) -> Response:
        """Return the hides in stock to choose from, as far as they are worked out."""
        given = request.query_params.get("after", "")
        after = int(given) if given.isdecimal() and len(given) < 10 else -1

        def found() -> dict[str, Any]:
            job = self._shop.job(request.path_params["name"])
            rows = self._bench.stock.rows_within(5 * AT_ONCE, after=after)
            needed, good = needed_leather(job), [row for row in rows.rows if not row.wrong]
            fitting = {row.file for row in good if fits(row, needed)}
            shown = respond.page(
                request,
                "job/hide_rows.html",
                hides=good,
                fitting=fitting,
                order=False,
                units=self._shop.units,
            )
            return {"rows": bytes(shown.body).decode(), "left": rows.left, "number": rows.number}

        return JSONResponse(await run_in_threadpool(found))

    async def need(self, request: Request) -> Response:
        """Return the leather a job's parts take against that of some hides, in a line."""
        wanted = request.query_params.getlist("hide")

        def words() -> str:
            rows = {row.file: row for row in self._bench.stock.rows_within(AT_ONCE).rows}
            chosen = [rows[file] for file in wanted if file in rows]
            needed = needed_leather(self._shop.job(request.path_params["name"]))
            return in_words(needed, chosen, self._shop.units)

        return JSONResponse({"words": await run_in_threadpool(words)})
