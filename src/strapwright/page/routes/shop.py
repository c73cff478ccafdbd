"""Shop: hardware, machines and house settings at a glance, and the steps that can be undone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import Route

from strapwright.core.errors import FileProblems
from strapwright.core.units import format_length
from strapwright.files.read import toml_tables
from strapwright.files.validate import attempt
from strapwright.job.catalogue.file import CATALOGUE_NAME, HOUSE_NAME
from strapwright.job.spec.job import HouseFile
from strapwright.page.server import respond
from strapwright.page.server.bench import SHOP
from strapwright.page.server.routes import Routes
from strapwright.page.sheet.shop import written_or_new
from strapwright.page.workshop.entries import listed
from strapwright.page.workshop.machines import machine_row, profiles
from strapwright.page.workshop.to_scale import BUCKLE_SCALE, SMALL_SCALE, scale_bar

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from strapwright.page.sheet.shop import Shop


class ShopRoutes(Routes):
    """What concerns the tools of the shop."""

    def routes(self) -> list[Route]:
        """Return its routes."""
        return [Route("/shop", self.tools), Route("/shop/steps", self.step, methods=["POST"])]

    async def tools(self, request: Request) -> Response:
        """Show hardware, machines and settings."""
        shown = await run_in_threadpool(_tools, self._shop)
        opened = request.query_params.get("open", "buckle")
        return respond.page(
            request, "shop.html", steps=self._bench.history(SHOP).next, opened=opened, **shown
        )

    async def step(self, request: Request) -> Response:
        """Undo or redo a step of the shop: of its catalogue, machines or settings."""
        history = self._bench.history(SHOP)
        back = (await request.form()).get("do") != "redo"
        await run_in_threadpool(history.undo if back else history.redo)
        self._bench.tell("changed", job=SHOP)
        return respond.again()


def _tools(shop: Shop) -> dict[str, Any]:
    """Return what the shop has; of a bad file, what is wrong with it."""
    machines = (machine_row(str(path), path.name) for path in shop.machines())
    kinds, wrong = listed(shop.folder / CATALOGUE_NAME, shop.units)
    return {
        "kinds": kinds,
        "wrong": shop.told(wrong),
        "bars": (scale_bar(BUCKLE_SCALE, 50.0), scale_bar(SMALL_SCALE, 10.0)),
        "machines": [replace(one, wrong=shop.told(one.wrong)) for one in machines],
        "profiles": profiles(),
        "house": _house_words(shop),
    }


def _house_words(shop: Shop) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what the settings say, in short, and what is wrong with their file."""
    path = shop.folder / HOUSE_NAME
    try:
        tables = toml_tables(written_or_new(path).text, path)
    except FileProblems as error:
        return (), shop.told(error.problems)
    file, mistakes = attempt(HouseFile, tables)
    if file is None:
        return (), tuple(one.line(HOUSE_NAME) for one in mistakes)
    price = file.price
    clearance = format_length(file.house.strap_clearance, file.units)
    words = [f"A strap is made {clearance} narrower than its buckle's opening."]
    sign = f"{price.currency} " if price.currency else ""
    rates = (("An hour at the bench", price.hourly_rate), ("An hour of the machine", price.machine_rate))
    words += [f"{what}: {sign}{value:g}." for what, value in rates if value is not None]
    if price.hourly_rate is None:
        words.append("No hourly rate is set yet.")
    return tuple(words), ()
