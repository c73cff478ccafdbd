"""The page as an application: all routes, and the door in front of them."""

from __future__ import annotations

from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Final

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from strapwright.core.errors import FileProblems
from strapwright.page.routes.belts import BeltRoutes
from strapwright.page.routes.by_hand import ByHandRoutes
from strapwright.page.routes.catalogue import CatalogueRoutes
from strapwright.page.routes.cut import CutRoutes
from strapwright.page.routes.hide import HideRoutes
from strapwright.page.routes.job import JobRoutes
from strapwright.page.routes.layout import KeptLayoutRoutes, LayoutRoutes
from strapwright.page.routes.leather import LeatherRoutes
from strapwright.page.routes.machines import MachineRoutes
from strapwright.page.routes.made import MadeRoutes
from strapwright.page.routes.photograph import PhotographRoutes
from strapwright.page.routes.shop import ShopRoutes
from strapwright.page.routes.work import WorkRoutes
from strapwright.page.server import respond
from strapwright.page.server.access import Door, Entrance

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from starlette.types import ASGIApp, Receive, Scope, Send

    from strapwright.page.server.bench import Bench, Routes
    from strapwright.page.sheet.shop import Shop


_ROUTES: Final[tuple[type[Routes], ...]] = (
    WorkRoutes,
    LeatherRoutes,
    HideRoutes,
    PhotographRoutes,
    ShopRoutes,
    MachineRoutes,
    CatalogueRoutes,  # last of the shop's: any other name below /shop is a kind of entry
    JobRoutes,
    BeltRoutes,
    LayoutRoutes,
    KeptLayoutRoutes,
    CutRoutes,
    ByHandRoutes,
    MadeRoutes,
)


class Inside:
    """Middleware that refuses what would lead out of the shop by a link, before anything is read.

    Args:
        app: what is behind it.
        shop: the shop.
    """

    def __init__(self, app: ASGIApp, shop: Shop) -> None:
        self._app = app
        self._shop = shop

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say which link leads out."""
        if scope["type"] == "http" and not scope["path"].startswith("/static/"):
            _, place, job = f"{scope['path']}//".split("/")[:3]
            try:
                self._shop.check_links(job if place == "job" else "")
            except FileProblems as error:
                await respond.refused(Request(scope), error)(scope, receive, send)
                return
        await self._app(scope, receive, send)


def app(bench: Bench, hosts: frozenset[str], key: str, phone: Entrance | None = None) -> Door:
    """Return the whole page.

    Args:
        bench: of the shop.
        hosts: under which it may be asked for, each with its port.
        key: that the first address holds.
        phone: the way in for another device; None where there is none.
    """

    @asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        del app
        bench.open()
        yield
        bench.close()

    async def stream(request: Request) -> Response:
        last = request.headers.get("last-event-id", request.query_params.get("seen", ""))
        seen = int(last) if last.isdecimal() and len(last) < 12 else None
        if bench.events.is_full:
            return respond.words("Too many tabs are open; close some, then load this page again.", 429)
        return StreamingResponse(bench.events.stream(seen), media_type="text/event-stream")

    async def looks(request: Request) -> Response:
        del request
        from strapwright.drawing.looks import LOOKS, style_sheet

        return Response(style_sheet(LOOKS), media_type="text/css")

    routes = [
        *(route for kind in _ROUTES for route in kind(bench).routes()),
        Route("/events", stream),
        Route("/looks.css", looks),
        Mount("/static", StaticFiles(packages=[("strapwright.page", "static")])),
    ]
    entrances = (Entrance(hosts, key), *([phone] if phone is not None else []))
    return Door(
        Starlette(
            routes=routes,
            lifespan=life,
            middleware=[Middleware(Inside, shop=bench.shop)],
            exception_handlers=respond.HANDLERS,
        ),
        entrances,
        lambda: bench.events.number,
    )
