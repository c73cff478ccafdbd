"""A hide drawn in a real browser: by mouse, by finger, by keys, over a picture, behind the page's back."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from playwright.sync_api import expect
from tests.page.conftest import breaches

from strapwright.nesting.hide.file import read_hide

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from playwright.sync_api import Locator, Page
    from tests.page.conftest import Served

pytestmark = pytest.mark.slow

CORNERS = ((0.1, 0.2), (0.9, 0.25), (0.88, 0.8), (0.5, 0.75), (0.12, 0.82))
"""Where a hide is drawn, as shares of the drawing's width and height."""


def sheet(page: Page) -> Locator:
    return page.get_by_role("application", name="Drawing of the hide")


def place(page: Page, share: tuple[float, float]) -> tuple[float, float]:
    sheet(page).scroll_into_view_if_needed()
    box = sheet(page).bounding_box()
    assert box is not None
    return box["x"] + share[0] * box["width"], box["y"] + share[1] * box["height"]


def save(page: Page) -> None:
    page.get_by_role("button", name="Save it").click()


def test_a_hide_and_a_machine_are_checked_with_all_their_fields_when_they_are_opened(
    tab: Callable[..., Page], served: Served
):
    page = tab()
    with page.expect_response("**/leather/check") as checked:
        page.goto(f"{served.base}/hide/side-7.toml/edit")
    assert checked.value.json()["mistakes"] == {}
    assert checked.value.request.post_data_json["fields"]["name"] == "side 7"
    with page.expect_request("**/shop/machine/laser.toml/kerf?*") as asked:
        page.goto(f"{served.base}/shop/machine/laser.toml")
    assert "material=" in str(asked.value.post_data)


def test_a_hide_drawn_by_mouse_is_listed_and_laid_on(tab: Callable[..., Page], served: Served):
    page = tab()
    page.get_by_role("link", name="Leather").click()
    page.get_by_role("link", name="Add a hide").click()
    page.get_by_label("Called", exact=True).fill("bend 3")
    page.get_by_label("Thickness", exact=True).fill("3.6")
    for share in CORNERS:
        page.mouse.click(*place(page, share))
    page.mouse.click(*place(page, CORNERS[0]))  # the first again: round
    expect(page.locator('[data-figure="area"]')).to_contain_text("m²")
    before = page.locator('[data-figure="area"]').inner_text()
    page.mouse.move(*place(page, CORNERS[3]))
    page.mouse.down()
    page.mouse.move(*place(page, (0.5, 0.9)), steps=4)
    page.mouse.up()
    expect(page.locator('[data-figure="area"]')).not_to_have_text(before)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator('[data-figure="area"]')).to_have_text(before)
    page.get_by_role("button", name="Redo").click()
    page.get_by_role("button", name="Add a round one").click()
    page.mouse.click(*place(page, (0.4, 0.5)))
    expect(page.get_by_label("Flaw 1: across in mm")).to_have_value("30")
    page.get_by_label("Flaw 1: what it is").select_option("mark")
    page.get_by_role("button", name="Tap the edge that is the back").click()
    page.mouse.click(*place(page, (0.5, 0.27)))
    expect(page.get_by_label("Where the back is", exact=True)).to_have_value("top")
    save(page)
    page.wait_for_url("**/hide/bend-3.toml/edit")
    hide = read_hide(served.folder / "hides/bend-3.toml")
    assert (len(hide.outline), len(hide.flaws), hide.thickness) == (5, 1, 3.6)
    page.get_by_role("link", name="Leather").click()
    page.get_by_label("Find by name").fill("bend 3.6")
    expect(page.locator("#stock > li:visible")).to_have_count(1)
    page.goto(f"{served.base}/job/first")
    page.locator("summary", has_text="Choose from the stock").click()
    page.get_by_role("button", name="side 7: lay on it").click()
    page.get_by_role("button", name="side 7: use earlier").click()
    expect(page.locator("[data-need]")).to_contain_text("2 hides chosen")
    page.get_by_role("button", name="side 7: leave out").click()
    page.locator("summary", has_text="By steps").click()
    page.get_by_label("Steps instead of seconds").fill("5")
    page.get_by_role("button", name="Lay it out").click()
    expect(page.locator('[data-part="ines/strap"]')).to_be_visible()
    expect(page.locator("#hides figcaption")).to_contain_text("bend 3")


def test_a_hide_is_drawn_by_finger_on_a_telephone(tab: Callable[..., Page], served: Served):
    page = tab(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.goto(f"{served.base}/leather/add")
    page.get_by_label("Called", exact=True).fill("by finger")
    for share in CORNERS:
        page.touchscreen.tap(*place(page, share))
    page.get_by_role("button", name="Done").tap()
    page.get_by_role("button", name="Add one with corners").tap()
    for share in ((0.3, 0.4), (0.4, 0.4), (0.35, 0.5)):
        page.touchscreen.tap(*place(page, share))
    page.get_by_role("button", name="Done").tap()
    page.touchscreen.tap(*place(page, (0.9, 0.25)))  # a corner, chosen and typed
    expect(page.get_by_text("Corner 2 of the edge", exact=True)).to_be_visible()
    page.get_by_label("x, mm").fill("2345.5")
    page.get_by_label("x, mm").press("Tab")
    wide = page.locator("html").evaluate("node => node.scrollWidth")
    assert wide <= 390
    seen = [float(one) for one in (sheet(page).get_attribute("viewBox") or "").split()]
    touch = page.context.new_cdp_session(page)
    for kind, reach in (("touchStart", 30), ("touchMove", 45), ("touchMove", 60), ("touchEnd", 0)):
        x, y = place(page, (0.5, 0.5))
        points = [{"x": x + way * reach, "y": y, "id": at} for at, way in enumerate((-1, 1)) if reach]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    closer = [float(one) for one in (sheet(page).get_attribute("viewBox") or "").split()]
    assert closer[2] == pytest.approx(seen[2] / 2, rel=0.05)  # two fingers twice as far apart
    middles = [one[0] + one[2] / 2 for one in (seen, closer)]
    assert middles[1] == pytest.approx(middles[0], abs=0.05 * seen[2])
    save(page)
    page.wait_for_url("**/hide/by-finger.toml/edit")
    hide = read_hide(served.folder / "hides/by-finger.toml")
    assert hide.outline[:, 0].max() == 2345.5
    assert len(hide.flaws[0].polygon) == 3


def test_a_hide_is_drawn_over_a_picture_that_is_there_next_time(
    tab: Callable[..., Page],
    served: Served,
    tmp_path: Path,
):
    Image.new("RGB", (1000, 500), "tan").save(tmp_path / "side.png")
    page = tab()
    page.goto(f"{served.base}/leather/add")
    page.get_by_label("Called", exact=True).fill("pictured")
    page.locator("summary", has_text="Over a picture").click()
    page.get_by_label("A picture, PNG or JPEG").set_input_files(tmp_path / "side.png")
    image = page.locator(".hide-draw image")
    expect(image).to_have_attribute("width", "2000")
    page.get_by_role("button", name="Tap two points in it").click()
    box = image.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    for share in (0.0, 1.0):
        page.mouse.click(box["x"] + share * box["width"], middle)
    page.get_by_label("How far apart they are, mm").fill("1500")
    page.get_by_role("button", name="Set the scale").click()
    assert abs(float(image.get_attribute("width") or 0) - 1500) < 12  # a pixel of the screen is some mm
    page.get_by_role("button", name="Draw it").click()
    for share in CORNERS:
        page.mouse.click(*place(page, share))
    page.get_by_role("button", name="Done").click()
    save(page)
    page.wait_for_url("**/hide/pictured.toml/edit")
    expect(page.locator(".hide-draw image")).to_have_attribute("width", re.compile(r"^1[45]\d\d"))
    assert (served.folder / "hides/pictured.picture.jpg").is_file()
    (tmp_path / "no.png").write_bytes(b"no picture")
    page.locator("summary", has_text="Over a picture").click()
    page.get_by_label("A picture, PNG or JPEG").set_input_files(tmp_path / "no.png")
    expect(page.locator("#notice")).to_contain_text("cannot be opened")
    expect(page.locator(".hide-draw image")).to_be_visible()


def test_a_hide_changed_behind_the_page_is_shown_beside_what_is_drawn(
    tab: Callable[..., Page],
    served: Served,
):
    page = tab()
    page.goto(f"{served.base}/hide/side-7.toml/edit")
    expect(page.locator('[data-figure="area"]')).to_have_text("0.924 m²")
    path = served.folder / "hides/side-7.toml"
    theirs = path.read_text("utf-8").replace('"3.6 mm"', '"4 mm"').replace("[1600, 330]", "[1700, 330]")
    path.write_text(theirs, "utf-8")
    page.locator("summary", has_text="Its corners as numbers").click()
    page.get_by_label("Edge, corner 3, y in mm").fill("35")
    page.get_by_label("Edge, corner 3, y in mm").press("Tab")
    save(page)
    told = page.get_by_role("alert")
    expect(told).to_contain_text("4 mm")
    expect(told).to_contain_text("[900, 35]")
    expect(told).to_contain_text("[1700, 330]")
    expect(page.locator(".hide-draw .theirs")).to_be_visible()
    assert path.read_text("utf-8") == theirs
    expect(page.get_by_label("Edge, corner 3, y in mm")).to_have_value("35")  # nothing drawn is lost
    page.get_by_role("button", name="Save mine over it").click()
    expect(page.locator("#hide-saved")).to_contain_text("Saved")
    assert "[900, 35]" in path.read_text("utf-8")
    assert "[1600, 330]" in path.read_text("utf-8")
    page.goto(f"{served.base}/leather")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Last step")).to_have_count(0)
    assert path.read_text("utf-8") == theirs


def test_a_hide_is_drawn_by_keys_alone(tab: Callable[..., Page], served: Served):
    page = tab()
    page.goto(f"{served.base}/hide/side-7.toml/edit")
    expect(page.locator('[data-figure="area"]')).to_have_text("0.924 m²")
    sheet(page).focus()
    for key in ("n", "n", "Shift+ArrowUp", "ArrowRight", "Insert", "Delete", "p"):
        page.keyboard.press(key)
    expect(page.locator("#hide-now")).to_contain_text("Corner 2 of the edge: x 261, y 10 mm.")
    page.get_by_role("button", name="Save it").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#hide-saved")).to_contain_text("Saved")
    assert "[0, 60], [261, 10], [900, 25]," in (served.folder / "hides/side-7.toml").read_text("utf-8")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_pages_of_hides_keep_the_rules_for_accessible_ones(
    tab: Callable[..., Page],
    served: Served,
    theme: str,
):
    (served.folder / "hides/b.toml").write_text('[hide]\nname = "b"\n', "utf-8")
    page = tab(color_scheme=theme, bypass_csp=True)
    for path in ("/leather", "/leather/add", "/hide/side-7.toml/edit", "/hide/b.toml/text", "/job/first"):
        page.goto(served.base + path)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true })")
        if path == "/job/first":
            expect(page.locator("[data-stock]")).to_have_attribute("data-loaded", "yes")
            expect(page.locator(".belt-form").first).to_be_visible()
        assert breaches(page) == [], path


def test_a_hide_is_drawn_in_inches_where_the_house_has_them(tab: Callable[..., Page], served: Served):
    house = served.folder / "house.toml"
    house.write_text('units = "in"\n' + house.read_text("utf-8"), "utf-8")
    page = tab()
    page.goto(f"{served.base}/leather/add")
    expect(page.locator("[data-scale]")).to_contain_text("taps go to the nearest 1/4 in.")
    page.get_by_label("Called", exact=True).fill("inches")
    for share in CORNERS:
        page.mouse.click(*place(page, share))
    page.get_by_role("button", name="Done").click()
    expect(page.locator('[data-figure="area"]')).to_contain_text("sq ft")
    page.locator("summary", has_text="Its corners as numbers").click()
    for number, (x, y) in enumerate((("0", "0"), ("48 1/16", "1/2"), ("1230 mm", "25.3"), ("24", "25")), 1):
        for axis, words in (("x", x), ("y", y)):
            page.get_by_label(f"Edge, corner {number}, {axis} in in").fill(words)
            page.get_by_label(f"Edge, corner {number}, {axis} in in").press("Tab")
    expect(page.get_by_label("Edge, corner 3, x in in")).to_have_value("48.425")
    expect(page.get_by_label("Edge, corner 3, y in in")).to_have_value("25.3")
    page.get_by_label("Edge, corner 5, x in in").fill("1/0")
    page.get_by_label("Edge, corner 5, x in in").press("Tab")
    expect(page.get_by_label("Edge, corner 5, x in in")).to_have_class("wrong-value")
    page.get_by_role("button", name="Edge: remove corner 5").click()
    page.get_by_role("button", name="Add a round one").click()
    page.mouse.click(*place(page, (0.4, 0.5)))
    expect(page.get_by_label("Flaw 1: across in in")).to_have_value("1 1/4")
    page.get_by_label("Flaw 1: x in in").fill("10 3/8")
    page.get_by_label("Flaw 1: y in in").fill("11 7/64")
    page.get_by_label("Flaw 1: y in in").press("Tab")
    page.get_by_label("Edge, corner 2, x in in").focus()
    sheet(page).focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    expect(page.locator("#hide-now")).to_contain_text("Corner 2 of the edge: x 48 1/8, y 1 in.")
    save(page)
    page.wait_for_url("**/hide/inches.toml/edit")
    tables = tomllib.loads((served.folder / "hides/inches.toml").read_text("utf-8"))
    assert tables["hide"]["points"] == [[0, 0], [1222.375, 25.4], [1230, 642.62], [609.6, 635]]
    assert (tables["flaw"][0]["at"], tables["flaw"][0]["size"]) == ([263.525, 282.178125], "31.75 mm")
    page.goto(f"{served.base}/leather/add")
    page.get_by_label("Called", exact=True).fill("taped")
    page.get_by_label("By tape, from a straight edge").check()
    page.get_by_label("Station 1: to the upper edge, in").fill("26 1/2")
    for words, typed in (
        ("along the tape", "40"),
        ("to the lower edge", "0"),
        ("to the upper edge", "61 cm"),
    ):
        page.get_by_label(f"Station 2: {words}, in").fill(typed)
        page.get_by_label(f"Station 2: {words}, in").press("Tab")
    expect(page.locator('[data-figure="area"]')).to_contain_text("sq ft")
    save(page)
    page.wait_for_url("**/hide/taped.toml/edit")
    stations = tomllib.loads((served.folder / "hides/taped.toml").read_text("utf-8"))["hide"]["stations"]
    assert stations == [[0, 0, "26 1/2 in"], ["40 in", "0 in", "61 cm"]]
    expect(page.get_by_label("Station 2: along the tape, in")).to_have_value("40 in")
