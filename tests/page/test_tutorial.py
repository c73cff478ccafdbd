"""The tutorial for the page is walked through in a real browser, step by step, as it is written."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page
    from tests.page.conftest import Served

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial-page.md"

STEP = re.compile(
    r'[Ii]n \*(?P<field>[^*]+)\* type "(?P<value>[^"]+)"'
    r"|[Pp]ress \*\*(?P<button>[^*]+)\*\*"
    r"|[Oo]pen \*(?P<part>[^*]+)\*"
    r"|[Gg]o back by \*(?P<link>[^*]+)\*"
    r'|(?:you see|the page says) "(?P<seen>[^"]+)"'
)


def steps() -> list[dict[str, str]]:
    """Every step of the tutorial in its order, and what one sees by it."""
    text = " ".join(TUTORIAL.read_text("utf-8").split())
    return [{k: v for k, v in found.groupdict().items() if v} for found in STEP.finditer(text)]


@pytest.mark.slow
def test_the_tutorial_can_be_followed_to_its_end(tab: Callable[..., Page], served: Served):
    page = tab()
    found = steps()
    assert [next(iter(one)) for one in found].count("button") >= 7
    for one in found:
        (kind, words), *value = one.items()
        if kind == "field":
            field = page.get_by_label(re.compile(rf"^\s*{re.escape(words)}")).first
            field.fill(value[0][1])
            field.press("Tab")
        elif kind == "button":
            button = page.get_by_role("button", name=words, exact=True)
            button.or_(page.get_by_role("link", name=words, exact=True)).first.click()
            waited = {
                "Draw it": page.get_by_role("heading", name="Belt for Ana"),
                "Lay it out": page.get_by_label("Go on from this layout"),
                "See the cuts in their order": page.locator("figure.player"),
                "See the sheets": page.locator(".sheets svg").first,
                "Open the card": page.get_by_label("Punch the holes and slots."),
                "See what will change": page.get_by_role("button", name="It is made"),
            }
            if words in waited:
                expect(waited[words]).to_be_visible()
        elif kind == "part":
            page.locator("details.fold", has=page.get_by_role("heading", name=words)).locator(
                "summary"
            ).first.click()
        elif kind == "link":
            page.get_by_role("link", name=words).click()
        else:
            expect(page.get_by_text(words).locator("visible=true").first).to_be_visible()
    job = served.folder / "jobs/belt-for-ana"
    assert (job / "out/Belt-for-Ana.dxf").is_file()
    assert "hides/side-7.toml" in page.locator("#made-before").inner_text()
