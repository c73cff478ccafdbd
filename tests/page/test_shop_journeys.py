"""The shop in a real browser: a buckle measured, a kerf recorded, settings changed and undone."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from tests.page.conftest import Served, breaches

from strapwright.machine.profile.machine import read_machine

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page

pytestmark = pytest.mark.slow

PAGES = (
    "/shop",
    "/shop/buckle/new",
    "/shop/buckle/house-double-50",
    "/shop/screw_post/1%2F4%20in",
    "/shop/punch/new",
    "/shop/machine/laser.toml",
    "/shop/house",
    "/shop/file/catalogue.toml",
)


def test_a_buckle_is_measured_on_a_phone_and_used_in_a_belt(tab: Callable[..., Page], served: Served):
    page = tab(viewport={"width": 390, "height": 844}, has_touch=True)
    page.goto(f"{served.base}/shop/buckle/new?back=/job/first")
    page.get_by_label("6 mm to 150 mm").first.fill("4 cm")
    page.get_by_label("flat").check()
    expect(page.locator('[data-question="bar_width"]')).to_be_visible()
    expect(page.locator('[data-question="bar_diameter"]')).to_be_hidden()
    page.locator("#m-bar_width").fill("5")
    page.locator("#m-bar_height").fill("99")
    expect(page.locator("#m-bar_height-said")).to_contain_text("expected 0.5 mm to 40 mm")
    page.locator("#m-bar_height").fill("3")
    page.get_by_role("button", name="Save and go back to the job").click()
    expect(page.locator("#m-frame_depth-said")).to_contain_text("found nothing")
    expect(page.locator("#m-frame_depth")).to_be_focused()
    page.locator("#m-frame_depth").fill("1 3/8 in")
    expect(page.locator("[data-summary]")).to_contain_text("It takes a strap 38 mm")
    expect(page.locator("[data-drawing] svg")).to_be_visible()
    expect(page.locator("#m-called")).to_have_attribute("placeholder", "my-single-40")
    page.get_by_role("button", name="Save and go back to the job").click()
    expect(page).to_have_url(re.compile("/job/first$"))
    expect(page.locator("#belt-0 form[data-watched]")).to_be_attached()
    picked = page.locator('#belt-0 input[name="buckle"][value="my-single-40"]')
    picked.check(force=True)
    expect(page.locator("#belt-0 [data-summary]")).to_contain_text("strap 38 mm wide")
    expect(page.locator("#undo")).to_be_enabled()
    job = tomllib.loads((served.folder / "jobs/first/job.toml").read_text("utf-8"))
    assert job["belt"][0]["buckle"] == "my-single-40"
    catalogue = tomllib.loads((served.folder / "catalogue.toml").read_text("utf-8"))
    assert catalogue["buckle"]["my-single-40"]["frame_depth"] == "1 3/8 in"


def test_a_kerf_is_recorded_and_seen_in_the_plot(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/shop/machine/laser.toml")
    plot = page.locator(".plot").first
    marks = plot.locator("circle").count()
    page.locator("summary", has_text="Record what you measured").click()
    page.get_by_label("Tannage of the leather").select_option("vegetable")
    page.get_by_label("Thickness of that leather").fill("3.6")
    page.get_by_label("All strips of the comb").fill("120")
    expect(page.locator("#r-strips-said")).to_contain_text("push all")
    page.get_by_label("All strips of the comb").fill("97,9; 97,8; 98,0")
    expect(page.locator("[data-working]")).to_contain_text("spread")
    expect(page.locator("#recording [data-summary]")).to_contain_text("Kerf 0.21 mm in vegetable leather")
    page.get_by_role("button", name="Record it").click()
    expect(plot.locator("circle")).to_have_count(marks + 1)
    newest = page.locator(".kerf-rows tbody tr").first
    expect(newest).to_contain_text("0.21 mm")
    expect(newest).to_contain_text("in use: the newest of its thickness")
    heads_above = """table => {
        const parts = [table.tHead, table.tBodies[0]]
        const [head, row] = parts.map(part => part.rows[0].cells[0].getBoundingClientRect())
        return head.x === row.x && head.bottom <= row.top + 1
    }"""
    assert page.locator(".kerf-rows").first.evaluate(heads_above)
    machine = read_machine(str(served.folder / "machines/laser.toml"))
    assert machine.kerf[-1].width == pytest.approx(0.21)
    assert machine.kerf[-1].spread == pytest.approx(0.02)
    page.get_by_role("button", name="Undo").click()
    expect(plot.locator("circle")).to_have_count(marks)


def test_house_settings_are_changed_undone_and_compared(tab: Callable[..., Page], served: Served):
    page = tab()
    path = served.folder / "house.toml"
    before = path.read_text("utf-8")
    page.goto(f"{served.base}/shop/house")
    narrower = page.get_by_label("Strap narrower by", exact=True)
    narrower.fill("9 mm")
    expect(page.locator('[data-mistake="house.strap_clearance"]')).to_contain_text("expected 0 mm to 8 mm")
    narrower.fill("1.5")
    narrower.press("Tab")
    expect(page.locator("#undo")).to_be_enabled()
    assert 'strap_clearance = "1.5 mm" ' in path.read_text("utf-8")
    page.locator("#undo").click()
    expect(narrower).to_have_value("2 mm")
    assert path.read_text("utf-8") == before
    page.get_by_label("A step of your own").fill("tooling")
    page.get_by_role("button", name="Add the step").click()
    expect(page.locator("#step-minutes-said")).to_contain_text("missing")
    page.get_by_label("Minutes", exact=True).fill("20")
    page.get_by_role("button", name="Add the step").click()
    expect(page.get_by_label("tooling (your own, a strap)")).to_have_value("20")
    path.write_text(path.read_text("utf-8").replace('fold_play = "0.25 mm"', 'fold_play = "0.5 mm"'), "utf-8")
    page.get_by_label("Air at the fold", exact=True).fill("0.3")
    page.get_by_label("Air at the fold", exact=True).press("Tab")
    expect(page.get_by_role("alert")).to_contain_text("0.5 mm")
    assert 'fold_play = "0.5 mm"' in path.read_text("utf-8")


def test_another_tab_s_change_is_taken_up(tab: Callable[..., Page], served: Served):
    first, second = tab(), tab()
    for page in (first, second):
        page.goto(f"{served.base}/shop/machine/laser.toml")
    first.get_by_label("Called", exact=True).fill("the big one")
    first.get_by_label("Called", exact=True).press("Tab")
    expect(first.locator("#undo")).to_be_enabled()
    expect(second.get_by_role("heading", name="the big one")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_of_the_shop_is_accessible_and_fits_a_phone(
    tab: Callable[..., Page], served: Served, scheme: str
):
    page = tab(color_scheme=scheme, viewport={"width": 390, "height": 844})
    for path in PAGES:
        page.goto(served.base + path)
        for box in page.locator("main details:not(.help)").all():
            box.evaluate("box => { box.open = true }")
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, path
        assert breaches(page) == [], path
