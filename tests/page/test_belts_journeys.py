"""Belts on the page in a real browser: by keys alone, findings cured, figures explained, tables taken in."""

from __future__ import annotations

import shutil
import tomllib
from typing import TYPE_CHECKING, Any

import pytest
from playwright.sync_api import expect
from tests.page.conftest import breaches, listening

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Page
    from tests.page.conftest import Served

pytestmark = pytest.mark.slow

MANY_FINDINGS = """
[leather]
thickness = "6 mm"
tannage = "combination"
temper = "soft"

[[belt]]
id = "a-name-that-is-forty-characters-long-now"
name = "Bartholomew Featherstonehaugh-Cholmondeley of the Upper Mills"
size = { trousers = 58 }
buckle = { for_strap = "20 mm", bar_diameter = "2.5 mm", frame_depth = "90 mm", prong_width = "5 mm" }
holes = { count = 13, spacing = "60 mm", last_to_tip = "45 mm", diameter = "9 mm" }
turn_back = "120 mm"
use = "load_carrying"
keeper = { join = "lap", thickness = "6 mm", held = "row_b" }
fastener_holes = { diameter = "3 mm" }
marks = { text = "Row & Daughter", number = true, size = true, height = "12 mm" }
"""


def job_of(folder: Path, name: str = "first") -> dict[str, Any]:
    return tomllib.loads((folder / f"jobs/{name}/job.toml").read_text("utf-8"))


def tab_to(page: Page, selector: str, most: int = 80) -> None:
    """Press Tab until something is focused."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.locator(f"{selector}:focus").count():
            return
    raise AssertionError(f"no way by Tab to {selector}")


def test_by_keys_alone_from_an_empty_folder_to_a_drawn_belt_and_a_figure_s_working(
    tab: Callable[..., Page], served: Served
):
    shutil.rmtree(served.folder / "jobs")
    page = tab()
    expect(page.get_by_role("heading", name="Your first belt")).to_be_visible()
    listening(page)
    tab_to(page, 'input[name="size.way"]')
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    tab_to(page, "#size")
    page.keyboard.type("38 1/2 in")
    tab_to(page, 'input[name="buckle"]')
    page.keyboard.press("ArrowRight")  # single-45
    tab_to(page, 'input[name="leather.thickness"]')
    page.keyboard.type("9 oz")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="First belt")).to_be_visible()
    expect(page.locator("#belt-0 [data-drawing] svg")).to_be_visible()
    listening(page)
    (belt,) = job_of(served.folder, "first-belt")["belt"]
    assert belt == {"id": "belt-1", "size": {"girth": "38 1/2 in"}, "buckle": "single-45"}
    tab_to(page, '[data-drawing] [data-figure="hole in use"]', 150)
    page.keyboard.press("Enter")
    working = page.locator("#working")
    expect(working).to_contain_text("centre of the hole in use")
    page.keyboard.press("Escape")
    expect(working).to_be_hidden()
    expect(page.locator('[data-drawing] [data-figure="hole in use"]')).to_be_focused()


def test_a_finding_s_button_writes_its_value_and_undo_takes_it_back(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("#belt-0 summary", has_text="Holes").click()
    field = page.locator("#b0-holes\\.last_to_tip")
    field.fill("60")
    beside = page.locator('#belt-0 [data-found="holes.last_to_tip"]')
    expect(beside).to_contain_text("tip reaches")
    expect(page.locator("#belt-0 summary", has_text="Holes")).to_contain_text("1 to look at")
    field.press("Tab")
    expect(page.locator("#undo")).to_be_enabled()
    cure = beside.get_by_role("button")
    value = (cure.text_content() or "").removeprefix("use ")
    with page.expect_response(lambda answer: "write=1" in answer.url):
        cure.click()
    expect(field).to_have_value(value)
    expect(field).to_be_focused()
    expect(beside.locator("li")).to_have_count(0)
    expect(page.locator("#undo")).to_have_attribute("title", "ines: holes")
    assert job_of(served.folder)["belt"][0]["holes"]["last_to_tip"] == value
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#b0-holes\\.last_to_tip")).to_have_value("60 mm")


def test_a_finding_of_the_job_leads_to_the_job_s_field(tab: Callable[..., Page], served: Served):
    path = served.folder / "jobs/first/job.toml"
    path.write_text(
        path.read_text("utf-8").replace('tannage = "vegetable" ', 'tannage = "combination"'), "utf-8"
    )
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("#belt-0 [data-rest]").get_by_role("button", name="Tannage of the job's leather").click()
    expect(page.locator("#job-leather\\.tannage")).to_be_focused()
    expect(page.locator("#about")).to_have_attribute("open", "")


def test_a_mistake_goes_when_the_file_turns_out_to_be_changed(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    field = page.locator("#b0-size\\.girth")
    field.fill("5 mm")
    said = page.locator('#belt-0 [data-mistake="size.girth"]')
    expect(said).to_contain_text("expected 150 mm")
    expect(page.locator('#belt-0 [data-mistake=""]')).to_have_text("The drawing is from before this mistake.")
    path = served.folder / "jobs/first/job.toml"
    path.write_text(path.read_text("utf-8").replace("960 mm", "955 mm"), "utf-8")
    field.fill("1000 mm")
    expect(page.locator("#belt-0 .conflict")).to_contain_text("955 mm")
    expect(said).to_be_empty()
    expect(field).not_to_have_attribute("aria-invalid", "true")


def test_what_a_tab_writes_itself_is_no_other_tab_s(tab: Callable[..., Page], served: Served):
    page, other = tab(), tab()
    page.clock.install()
    other.goto(f"{served.base}/job/first")
    listening(other)
    page.goto(f"{served.base}/job/first")
    for girth in ("900", "910", "920"):  # each written before the last is heard of
        page.locator("#b0-size\\.girth").fill(girth)
        with page.expect_response(lambda answer: "write=1" in answer.url):
            page.locator("#b0-size\\.girth").press("Tab")
    page.locator("#b0-name").fill("Inés")
    expect(other.locator("#b0-size\\.girth")).to_have_value("920 mm")  # so it was said to all tabs
    with page.expect_response(lambda answer: "write=0" in answer.url):
        page.locator("#b0-name").fill("Inés R.")
    page.clock.run_for(1000)
    expect(page.locator("#notice")).to_be_empty()
    assert job_of(served.folder)["belt"][0]["size"] == {"girth": "920 mm"}


def test_a_strap_is_added_and_gets_a_ring_by_picture(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.get_by_role("button", name="Add another strap").click()
    expect(page.locator("#strap-0 > summary")).to_be_focused()  # it stands open
    page.locator("#strap-0 summary", has_text="Second end").click()
    page.locator("#strap-0 label", has_text="Round a ring or hook").last.click()
    page.locator("#s0-ends\\.1\\.bar_diameter").fill("5")
    page.locator("#s0-ends\\.1\\.bar_diameter").press("Tab")
    expect(page.locator("#strap-0 [data-drawing] svg")).to_contain_text("fold line to tip")
    expect(page.locator("#undo")).to_have_attribute("title", "strap: ends")
    (strap,) = job_of(served.folder)["strap"]
    assert strap["ends"] == [{"tip": "square"}, {"bar_diameter": "5 mm"}]


def test_thirty_belts_come_in_from_a_table_once_its_mistakes_are_mended(
    tab: Callable[..., Page], served: Served, tmp_path: Path
):
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("#orders > summary").click()
    lines = [f"Person {k};{900 + 5 * k} mm;single-40;c{k}" for k in range(30)]
    table = tmp_path / "orders.csv"
    for bad in (True, False):
        rows = ["Person 7;wide;single-40;c7" if bad and k == 7 else line for k, line in enumerate(lines)]
        table.write_text("\n".join(["Customer;Round the middle;Metal;Tag", *rows]), "utf-8")
        with page.expect_file_chooser() as chooser:
            page.locator("#orders input[type=file]").click()
        chooser.value.set_files(table)
        expect(page.locator(".wrong-lines")).to_have_count(0)
        for column, key in (
            ("Customer", "name"),
            ("Round the middle", "size.girth"),
            ("Metal", "buckle"),
            ("Tag", "id"),
        ):
            page.get_by_label(f"What is in the column {column}").select_option(key)
        page.get_by_role("button", name="Add its lines as belts").click()
        if bad:
            row = page.locator(".wrong-lines tbody tr")
            expect(row).to_have_count(1)
            expect(row.locator("th")).to_have_text("9")
            expect(row.locator("td").nth(1)).to_contain_text('found "wide"')
            assert len(job_of(served.folder)["belt"]) == 2
    expect(page.locator("details.belt")).to_have_count(32)
    expect(page.locator("#b2-name")).to_have_value("Person 0")  # the first of the new ones stands open
    page.locator("#belt-31 > summary").click()
    expect(page.locator("#b31-name")).to_have_value("Person 29")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_many_findings_and_long_names_fit_a_telephone_and_keep_the_rules(
    tab: Callable[..., Page], served: Served, theme: str
):
    (served.folder / "jobs/much").mkdir()
    (served.folder / "jobs/much/job.toml").write_text(
        f'[job]\nname = "{" ".join(["a long name"] * 9)}"\n{MANY_FINDINGS}', "utf-8"
    )
    page = tab(color_scheme=theme, bypass_csp=True, viewport={"width": 390, "height": 844})
    page.goto(f"{served.base}/job/much")
    expect(page.locator("#belt-0 [data-found] li, #belt-0 [data-rest] li")).to_have_count(21)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
    page.locator('#belt-0 [data-figures] [data-figure="blank"]').click()
    expect(page.locator("#working")).to_be_visible()
    for path in ("/job/much", "/"):
        assert page.locator("html").evaluate("node => node.scrollWidth") <= 390, path
        assert breaches(page) == [], path
        page.goto(f"{served.base}/")


def test_a_buckle_measured_from_an_added_belt_is_put_on_it(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/job/first")
    listening(page)
    page.locator("#part-belts > summary").click()  # folded
    expect(page.locator("#belt-0")).to_be_hidden()
    page.locator("#part-belts > summary").click()
    page.get_by_role("button", name="Add a belt").click()
    expect(page.locator("#belt-2 > summary")).to_be_focused()
    page.locator("#belt-2").get_by_role("link", name="Measure another buckle").click()
    for question, value in (
        ("How wide is it inside", "62"),
        ("How thick is the bar", "6"),
        ("How far is it from the bar", "45"),
    ):
        page.get_by_role("group", name=question).get_by_role("textbox").fill(value)
    page.get_by_role("textbox", name="What should jobs call it?").fill("wide-62")
    page.get_by_role("button", name="Save and go back to the job").click()
    expect(page.locator('#belt-2 input[name="buckle"][value="wide-62"]')).to_be_checked()
    expect(page.locator("#undo")).to_have_attribute("title", "belt: buckle")
    assert job_of(served.folder)["belt"][2]["buckle"] == "wide-62"


def test_hides_chosen_are_still_chosen_when_the_sheet_is_loaded_again(
    tab: Callable[..., Page], served: Served
):
    stock = served.folder / "hides"
    (stock / "side-8.toml").write_text(
        (stock / "side-7.toml").read_text("utf-8").replace('"side 7"', '"side 8"'), "utf-8"
    )
    page = tab()
    page.goto(f"{served.base}/job/first")
    page.locator("[data-stock] > summary").click()
    page.get_by_role("button", name="side 8: Lay on it").click()
    page.get_by_role("button", name="side 7: use later").click()
    expect(page.locator("[data-chosen]")).to_have_text("side 8, side 7")
    page.reload()
    expect(page.locator("[data-chosen]")).to_have_text("side 8, side 7")
    assert page.locator('#hide-choice input[name="hide"]').evaluate_all(
        "all => all.map((one) => one.value)"
    ) == ["side-8.toml", "side-7.toml"]
