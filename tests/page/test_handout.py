"""A belt is given away from the page as from the command line; what is wrong stands beside its field."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect
from tests.page.conftest import LONG

from strapwright.api import handouts
from strapwright.cli.main import command
from strapwright.page.sheet import papers as handout

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page
    from starlette.testclient import TestClient
    from tests.page.conftest import Served


@pytest.fixture
def flat(monkeypatch: pytest.MonkeyPatch) -> None:
    """No belt in the round, which takes some seconds, and everything in this process."""
    monkeypatch.setattr(handouts, "_picture", lambda *_: (None, "left out"))
    monkeypatch.setattr(handout, "handout_pdf", lambda asked: handout._made(asked, in_the_round=True).pdf)
    monkeypatch.setattr("strapwright.page.routes.by_hand.handout_pdf", handout.handout_pdf)


@pytest.mark.usefixtures("flat")
def test_a_handout_has_the_bytes_of_the_command_line(client: TestClient, folder: Path, tmp_path: Path):
    out = tmp_path / "handout.pdf"
    job = folder / "jobs/first/job.toml"
    words = ["handout", job, "--belt", "ines", "--sizes", "30-34/2", "--paper", "letter", "--out", out]
    run = CliRunner().invoke(command, [str(word) for word in words])
    assert run.exit_code == 0, run.output
    asked = {"belt": "ines", "sizes": "30-34/2", "paper": "letter", "units": "mm"}
    seen = client.get("/job/first/handout", params=asked).json()
    assert seen["mistakes"] == {}
    assert "Sizes 30, 32, 34; the pattern takes " in seen["html"]
    link = html.unescape(seen["html"]).split('href="')[1].split('"')[0]
    answer = client.get(link)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content == out.read_bytes()
    saved = client.get(link + "&save=yes").headers["content-disposition"]
    assert saved == 'attachment; filename="ines-handout.pdf"'


@pytest.mark.parametrize(
    ("asked", "field", "words"),
    [
        ({"belt": "ines", "sizes": "30-46"}, "sizes", 'found "30-46", expected a step after the run too'),
        ({"belt": "nobody"}, "belt", 'the job has no belt "nobody"'),
        ({}, "belt", "the job has 2 belts; choose one: ines, tomasz"),
        ({"belt": "ines", "font": "none.ttf"}, "font", "found no file 'none.ttf'"),
    ],
)
def test_what_is_wrong_with_a_handout_stands_beside_its_field(
    client: TestClient, asked: dict[str, str], field: str, words: str
):
    found = client.get("/job/first/handout", params=asked).json()
    assert found["html"] == ""
    assert list(found["mistakes"]) == [field]
    assert found["mistakes"][field].startswith(words)


@pytest.mark.slow
def test_a_handout_is_made_on_the_page_once_its_sizes_are_right(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("#part-hand > summary").click()
    section = page.get_by_role("region", name="A belt given away")
    section.get_by_label("Sizes").fill("30-46")
    section.get_by_role("button", name="Make it").click()
    expect(section.locator('[data-mistake="sizes"]')).to_contain_text("expected a step")
    expect(section.get_by_label("Sizes")).to_have_attribute("aria-invalid", "true")
    section.get_by_label("Sizes").fill("30-34/4")
    section.get_by_role("button", name="Make it").click()
    expect(section).to_contain_text("Sizes 30, 34")
    expect(section.locator('[data-mistake="sizes"]')).to_be_empty()
    link = section.get_by_role("link", name="Open it").get_attribute("href")
    found = page.request.get(f"{served.base}{link}", timeout=LONG)
    assert found.body()[:5] == b"%PDF-"
