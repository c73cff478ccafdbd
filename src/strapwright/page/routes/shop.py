"""Shop: machines, buckles and house settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.core.errors import FileProblems, StrapwrightError
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.server.bench import Bench
    from strapwright.page.sheet.shop import Shop


class ShopRoutes:
    """What concerns the tools of the shop.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/shop", self.tools), Route("/shop/steps", self.step, methods=["POST"])]

    async def tools(self, request: Request) -> Response:
        """Show machines and buckles."""
        steps = self._bench.history(SHOP).next
        return respond.page(request, "shop.html", steps=steps, **await run_in_threadpool(_tools, self._shop))

    async def step(self, request: Request) -> Response:
        """Undo or redo a step of the shop: of its hides, catalogue, machines or settings."""
        history = self._bench.history(SHOP)
        back = (await request.form()).get("do") != "redo"
        await run_in_threadpool(history.undo if back else history.redo)
        self._bench.tell("changed", job=SHOP)
        return respond.again()


def _tools(shop: Shop) -> dict[str, Any]:
    """Return machines and buckles; of a bad file, what is wrong with it."""
    from strapwright.job.catalogue.file import CATALOGUE_NAME, catalogue_for, read_catalogue, shipped
    from strapwright.machine.profile.machine import read_machine

    machines: list[dict[str, Any]] = []
    for path in shop.machines():
        about: dict[str, Any] = {"file": path.name, "name": path.stem, "kind": "", "wrong": ()}
        try:
            one = read_machine(str(path))
            about |= {"name": one.name, "kind": str(one.kind).replace("_", " ")}
        except StrapwrightError as error:
            about["wrong"] = str(error).splitlines()
        machines.append(about)
    own_path = shop.folder / CATALOGUE_NAME
    own, wrong, buckles = frozenset[str](), tuple[str, ...](), shipped().buckles
    try:
        if own_path.exists():
            own = frozenset(read_catalogue(own_path).buckles)
        buckles = catalogue_for(shop.folder / "job.toml").buckles
    except FileProblems as error:
        wrong = error.problems
    return {"machines": machines, "buckles": sorted(buckles.items()), "own": own, "wrong": wrong}
