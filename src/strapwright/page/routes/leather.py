"""Leather: the hides in stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.responses import Response
from starlette.routing import Route

from strapwright.page.server import respond

if TYPE_CHECKING:
    from starlette.requests import Request

    from strapwright.page.server.bench import Bench


class LeatherRoutes:
    """What concerns the stock of hides.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/leather", self.leather), Route("/hide/{file}", self.hide)]

    async def leather(self, request: Request) -> Response:
        """Show the hides in stock."""
        hides = await run_in_threadpool(self._bench.stock.rows)
        return respond.page(request, "leather.html", hides=hides)

    async def hide(self, request: Request) -> Response:
        """Return a hide as a small picture."""
        picture = await run_in_threadpool(self._bench.stock.picture, request.path_params["file"])
        return Response(picture, media_type="image/svg+xml")
