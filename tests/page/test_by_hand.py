"""A job's papers are seen, printed and saved as asked for; its card is ticked and keeps its ticks."""

from __future__ import annotations

import html
import json
import re
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from playwright.sync_api import expect
from tests.page.conftest import breaches

from strapwright.cli.main import command

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page
    from starlette.testclient import TestClient
    from tests.page.conftest import Served


def strapwright(*words: object) -> None:
    run = CliRunner().invoke(command, [str(word) for word in words])
    assert run.exit_code == 0, run.output


def ticks(folder: Path) -> dict[str, object]:
    return json.loads((folder / "jobs/first/card.json").read_text("utf-8"))


@pytest.mark.parametrize(
    ("asked", "options"),
    [
        (
            {"paper": "letter", "whole": "yes", "units": "in"},
            ["--paper", "letter", "--whole", "--units", "in"],
        ),
        ({"paper": "a4", "belt": "ines"}, ["--paper", "a4", "--belt", "ines"]),
        (
            {"paper": "a3", "bar": "100", "short": "99.4", "long": "99,8"},
            ["--paper", "a3", "--correct", "short=100:99.4,long=100:99.8"],
        ),
        (
            {"paper": "roll", "roll": "914 mm", "short": "99.4"},
            ["--paper", "roll:914mm", "--correct", "across=100:99.4"],
        ),
    ],
)
def test_a_pattern_has_the_bytes_of_the_command_line(
    client: TestClient, folder: Path, tmp_path: Path, asked: dict[str, str], options: list[str]
):
    strapwright("pattern", folder / "jobs/first/job.toml", *options, "--out", tmp_path / "cli.pdf")
    answer = client.get("/job/first/paper/pattern.pdf", params=asked)
    assert answer.content == (tmp_path / "cli.pdf").read_bytes()
    seen = client.get("/job/first/pattern", params=asked).json()["html"]
    count = int(re.search(r"(\d+) sheets?\. Print at 100 %", seen)[1])
    assert seen.count("<svg") == count


@pytest.mark.parametrize(
    ("asked", "field", "words"),
    [
        ({"paper": "b5"}, "paper", 'found "b5", expected a4'),
        ({"paper": "roll", "roll": ""}, "roll", "roll"),
        ({"paper": "roll", "roll": "900 cm"}, "roll", "a roll of 9000 mm"),
        ({"short": "80"}, "correct", "a scale of 125 %"),
        ({"long": "wide"}, "correct", "expected a length"),
        ({"belt": "nobody"}, "belt", 'found "nobody"'),
    ],
)
def test_a_pattern_that_cannot_be_is_refused_beside_the_field(
    client: TestClient, asked: dict[str, str], field: str, words: str
):
    said = client.get("/job/first/pattern", params=asked).json()
    assert words in said["mistakes"][field]
    assert not said["html"]
    page = client.get("/job/first").text
    assert f'data-mistake="{field}"' in page[page.index("paper-pattern") :]
    assert client.get("/job/first/paper/pattern.pdf", params=asked).status_code in (400, 404)


def test_drawing_card_and_bill_have_the_bytes_of_the_command_line(
    client: TestClient, folder: Path, tmp_path: Path
):
    job = folder / "jobs/first/job.toml"
    strapwright("draft", job, "--units", "in", "--drawing", tmp_path / "drawing.svg")
    strapwright("card", job, "--units", "in", "--paper", "letter", "--brief", "--out", tmp_path / "card.html",
                "--out", tmp_path / "card.pdf", "--bom", tmp_path / "bill.csv")  # fmt: skip
    asked = {"units": "in", "paper": "letter", "brief": "yes"}
    for name in ("drawing.svg", "card.html", "bill.csv"):
        found = client.get(f"/job/first/paper/{name}", params=asked).content
        assert found == (tmp_path / name).read_bytes(), name
    assert client.get("/job/first/paper/card.pdf", params=asked).content[:5] == b"%PDF-"
    saved = client.get("/job/first/paper/bill.csv").headers["content-disposition"]
    assert saved == 'attachment; filename="first-bill.csv"'


def test_the_strap_cutter_is_set_pull_by_pull_from_the_layout(client: TestClient, folder: Path):
    assert "Lay it out first" in client.get("/job/first/straps").text
    job = folder / "jobs/first"
    strapwright("nest", job / "job.toml", "--hide", folder / "hides/side-7.toml", "--steps", 1, "--out", job)
    shown = client.get("/job/first/straps").text
    lists = json.loads((job / "layout.json").read_text("utf-8"))["strap_cutter"]
    widths = [f"{rip['width_mm']:.1f} mm" for one in lists for rip in one["strips"]]
    assert "43.0 mm" in widths
    assert re.findall(r"<b>(\d+\.\d mm)</b>", shown) == widths
    client.post("/units", data={"units": "in"})
    shown = client.get("/job/first/straps").text
    assert re.findall(r"<b>[^<]* in \((\d+\.\d mm)\)</b>", shown) == widths
    assert "<b>1 11/16 in (43.0 mm)</b>" in shown
    assert not re.search(r"\d mm[ ,.;]", shown)


def step(client: TestClient, words: str) -> dict[str, object]:
    """The box of a step on the card as it is shown."""
    page = client.get("/job/first/card").text
    for found in re.finditer(r'data-sheet="([^"]*)" data-step="([^"]*)"( checked| data-fell)?', page):
        sheet, text, state = (html.unescape(one or "") for one in found.groups())
        if words in text:
            return {"sheet": sheet, "step": text, "state": state.strip()}
    raise AssertionError(words)


def test_a_ticked_step_stays_and_falls_with_its_own_belt_alone(client: TestClient, folder: Path):
    for words in ("Crease 3 mm", "Cutting list, straps with the backbone: ines"):
        box = step(client, words)
        assert box.pop("state") == ""
        assert client.post("/job/first/card/ticks", json=box | {"done": True}).json() == {"done": True}
    bevel = step(client, "Bevel the edges")  # of ines, the first belt with one
    client.post("/job/first/card/ticks", json={"sheet": bevel["sheet"], "step": bevel["step"], "done": True})
    assert step(client, "Crease 3 mm")["state"] == "checked"
    assert "3 steps ticked on the card" in client.get("/job/first").text
    job = folder / "jobs/first/job.toml"
    job.write_text(job.read_text("utf-8").replace('girth = "960 mm"', 'girth = "955 mm"'), "utf-8")
    assert step(client, "Crease 3 mm") == {
        "sheet": "tomasz",
        "step": "Order of work: Crease 3 mm from the edge.",
        "state": "checked",
    }
    assert step(client, "Bevel the edges")["state"] == "data-fell"
    page = client.get("/job/first/card").text
    assert "The job was changed since these were ticked" in page
    assert page.count("<li>ines · Order of work: Bevel the edges") == 1
    client.post("/job/first/card/ticks", json={"sheet": bevel["sheet"], "step": bevel["step"], "done": True})
    assert step(client, "Bevel the edges")["state"] == "checked"
    client.post("/job/first/card/ticks", json={"sheet": bevel["sheet"], "step": bevel["step"], "done": False})
    assert step(client, "Bevel the edges")["state"] == ""
    assert {one["sheet"] for one in ticks(folder)["ticked"]} == {"", "tomasz"}


def test_bad_ticks_are_refused_and_a_broken_file_of_ticks_is_not_thrown_away(
    client: TestClient, folder: Path
):
    belt, shop = {"sheet": "ines", "done": True}, {"sheet": "", "done": True}
    steps = [belt | {"step": one} for one in ("", "x" * 3000)] + [shop | {"step": 7}]
    unfit = [{"sheet": "ines", "step": "a", "done": "yes"}, {"sheet": "nobody", "step": "a", "done": True}]
    for bad in ({}, [], "x", *steps, *unfit):
        assert client.post("/job/first/card/ticks", json=bad).status_code == 400
    path = folder / "jobs/first/card.json"
    assert not path.exists()
    path.write_text('{"ticked": 3}')
    assert "move it away to begin anew" in client.get("/job/first/card").text
    assert "cannot be read" in client.get("/job/first").text
    box = step(client, "Crease")
    assert client.post("/job/first/card/ticks", json=box | {"done": True}).status_code == 400
    assert path.read_text() == '{"ticked": 3}'


def test_the_card_of_a_laser_is_refused_where_its_fumes_are(client: TestClient, folder: Path):
    job = folder / "jobs/first/job.toml"
    job.write_text(job.read_text("utf-8").replace('tannage = "vegetable"', 'tannage = "chrome"', 1), "utf-8")
    answer = client.get("/job/first/card", params={"machine": "laser.toml"})
    assert answer.status_code == 400
    assert "chromium(VI)" in answer.text
    assert client.get("/job/first/card").status_code == 200
    shown = client.get("/job/first/card/fumes", params={"machine": "laser.toml"}).text
    assert "type <b>chrome</b>" in shown
    assert 'name="fumes"' not in client.get("/job/first/card/fumes", params={"machine": ""}).text
    for typed, status in (("yes", 400), ("chrome", 200), ("", 400)):  # not remembered
        asked = {"machine": "laser.toml", "fumes": typed}
        assert client.get("/job/first/card", params=asked).status_code == status


@pytest.mark.slow
def test_the_card_is_ticked_on_a_phone_and_still_after_a_restart(tab: Callable[..., Page], served: Served):
    phone = tab(viewport={"width": 390, "height": 844}, has_touch=True, color_scheme="dark")
    desk = tab()
    for page in (phone, desk):
        page.goto(f"{served.base}/job/first/card")
    assert phone.locator("html").evaluate("node => node.scrollWidth") <= 390
    expect(phone.get_by_role("button", name="tomasz")).to_have_attribute("aria-expanded", "false")
    phone.get_by_role("button", name="ines").tap()
    box = phone.get_by_label("Punch the holes and slots.").first
    target = phone.locator("label", has_text="Punch the holes and slots.").first.bounding_box()
    assert target is not None
    assert target["height"] >= 44
    box.tap()
    expect(phone.locator("#ticked")).to_contain_text("1 of ")
    expect(desk.get_by_label("Punch the holes and slots.").first).to_be_checked()  # another device sees it
    served.end()
    served.start()
    phone.goto(served.address)
    phone.goto(f"{served.base}/job/first/card")
    phone.get_by_role("button", name="ines").tap()
    expect(phone.get_by_role("button", name="ines")).to_contain_text("1 of ")
    expect(phone.get_by_label("Punch the holes and slots.").first).to_be_checked()
    phone.get_by_label("Punch the holes and slots.").first.tap()
    expect(phone.locator("#ticked")).to_contain_text("0 of ")
    assert ticks(served.folder)["ticked"] == []


@pytest.mark.slow
def test_papers_are_seen_before_they_are_printed_and_keep_the_rules_for_accessible_pages(
    tab: Callable[..., Page], served: Served
):
    page = tab(color_scheme="dark", viewport={"width": 390, "height": 844}, bypass_csp=True)
    page.goto(f"{served.base}/job/first")
    page.locator("#part-hand > summary").click()
    page.get_by_role("button", name="See the sheets").click()
    expect(page.locator(".sheets svg")).to_have_count(3)
    sheet = page.locator(".sheets svg").first  # paper is white and print black, however dark the page
    expect(sheet.locator("> rect").first).to_have_css("fill", "rgb(255, 255, 255)")
    expect(sheet.locator("text").first).to_have_css("fill", "rgb(0, 0, 0)")
    page.locator("#part-hand [name=whole]").select_option("yes")
    expect(page.locator(".sheets svg")).not_to_have_count(3)
    link = page.locator("#part-hand a", has_text="Print it (PDF)").nth(1)
    expect(link).to_have_attribute("href", re.compile(r"pattern\.pdf\?.*whole=yes"))
    page.get_by_role("button", name="See it").click()
    expect(page.get_by_alt_text("Drawing of every belt with its dimensions")).to_be_visible()
    assert page.locator("html").evaluate("node => node.scrollWidth") <= 390
    for path, within in (
        ("/job/first", "#part-hand"),
        ("/job/first/card", "body"),
        ("/job/first/straps", "body"),
    ):
        page.goto(served.base + path)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        assert breaches(page, within) == [], path
