"""A click before the scripts listen, and words said before the stream is open: neither is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from tests.page.conftest import listening

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page, Route
    from tests.page.conftest import Served

pytestmark = pytest.mark.slow

PAGES = (
    "/new",
    "/leather",
    "/leather/add",
    "/leather/photograph",
    "/hide/side-7.toml/text",
    "/shop/buckle/new",
    "/shop/house",
    "/job/first/card",
    "/job/first",
)

CONTROLS = ":is(button, input:not([type=hidden]), select, textarea)"


class Held:
    """Requests of a page that wait until they are let go."""

    def __init__(self, page: Page, what: str) -> None:
        self._waiting: list[Route] | None = []
        page.route(what, self._take)

    def _take(self, route: Route) -> None:
        if self._waiting is None:
            route.continue_()
        else:
            self._waiting.append(route)

    def let_go(self) -> None:
        waiting, self._waiting = self._waiting or [], None
        for one in waiting:
            one.continue_()

    def again(self) -> None:
        self._waiting = []


def test_nothing_can_be_pressed_before_its_script_listens(tab: Callable[..., Page], served: Served):
    page = tab()
    scripts = Held(page, "**/static/*.mjs")
    for path in PAGES:
        page.goto(served.base + path, wait_until="commit")
        expect(page.locator(CONTROLS).first).to_be_attached()
        assert page.locator(f"{CONTROLS}:enabled").count() == 0, path
        scripts.let_go()
        listening(page)
        assert page.locator(f"{CONTROLS}:enabled").count() > 0, path
        scripts.again()
    page.goto(f"{served.base}/job/first", wait_until="commit")
    expect(page.locator("#b0-quantity")).to_be_disabled()
    scripts.let_go()
    page.locator("#b0-quantity").fill("3")  # at once: it waits until it is heard
    page.locator("#b0-quantity").press("Tab")
    expect(page.locator("#undo")).to_be_enabled()
    assert "quantity = 3" in (served.folder / "jobs/first/job.toml").read_text("utf-8")


def test_what_is_said_while_a_page_is_on_its_way_reaches_it(tab: Callable[..., Page], served: Served):
    page, other = tab(), tab()
    stream = Held(page, "**/events?*")
    for one in (page, other):
        one.goto(f"{served.base}/job/first")
    other.locator("#b0-size\\.girth").fill("970 mm")
    with other.expect_response(lambda answer: "write=1" in answer.url):
        other.locator("#b0-size\\.girth").press("Tab")
    expect(page.locator("#b0-size\\.girth")).to_have_value("960 mm")
    stream.let_go()
    expect(page.locator("#b0-size\\.girth")).to_have_value("970 mm")
