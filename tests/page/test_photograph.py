"""A hide from a photograph on the page: measured and saved as the command does, refused in its words."""

from __future__ import annotations

import html
import io
import json
import re
import struct
import tomllib
import zlib
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner
from PIL import Image
from playwright.sync_api import expect
from tests.page.conftest import breaches
from tests.page.test_hide import drawn, save
from tests.page.test_hide_journeys import place

from strapwright import api
from strapwright.cli.main import command
from strapwright.nesting.hide.file import read_hide
from strapwright.page.server.access import LARGER_POSTS, LARGEST_POST

if TYPE_CHECKING:
    from collections.abc import Callable

    from playwright.sync_api import Page
    from starlette.testclient import TestClient
    from tests.page.conftest import Served

    from strapwright.api import PhotoAsked, PhotoHide

pytest.importorskip("cv2")

PHOTO = Path(__file__).parents[2] / "examples/side-7.jpg"
FORM = {
    "name": "side from above",
    "thickness": "3.4",
    "backbone": "bottom",
    "paper": "a4",
    "across": "160",
    "along": "240",
    "blue": "mark",
    "red": "hole",
    "yellow": "loose",
    "green": "",
    "white": "",
}


def measured(client: TestClient, content: bytes, file: str = "side-7.jpg", **form: str) -> dict[str, Any]:
    answer = client.post("/leather/photograph", data=FORM | form, files={"photo": (file, content)})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


@pytest.fixture(scope="module")
def by_command(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The hide's file as the command writes it."""
    out = tmp_path_factory.mktemp("command") / "h.toml"
    words = [str(PHOTO), "--out", str(out), "--name", FORM["name"], "--thickness", "3.4 mm"]
    words += ["--correct", "240:240", "--backbone", "bottom"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(api, "measure_photos", patiently)
        done = CliRunner().invoke(command, ["measure", "hide", *words])
    assert done.exit_code == 0, done.output
    return out.read_bytes()


patiently = partial(api.measure_photos, within=600.0)
"""Measures a photograph on a busy machine too."""

KEPT: dict[tuple[str, tuple[bytes, ...]], PhotoHide] = {}


@pytest.fixture(autouse=True)
def measured_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Measure a photograph by the same form once."""

    def remembered(asked: PhotoAsked) -> PhotoHide:
        key = repr(replace(asked, photos=())), tuple(one.read_bytes() for one in asked.photos)
        if key not in KEPT:
            KEPT[key] = patiently(asked)
        return KEPT[key]

    monkeypatch.setattr(api, "measure_photos", remembered)


@pytest.fixture
def client(client: TestClient, folder: Path) -> TestClient:
    client.shop = folder  # type: ignore[attr-defined]
    return client


def test_the_mark_sheets_are_those_of_the_command(client: TestClient, tmp_path: Path):
    for paper in ("a4", "letter"):
        found = client.get(f"/leather/sheets/{paper}.pdf")
        assert found.headers["content-type"] == "application/pdf"
        out = tmp_path / f"{paper}.pdf"
        words = ["measure", "hide", "--sheets", paper, "--out", str(out)]
        assert CliRunner().invoke(command, words).exit_code == 0
        assert found.content == out.read_bytes()
    assert client.get("/leather/sheets/a3.pdf").status_code == 404
    page = client.get("/leather/photograph").text
    for words in ("Not tried on leather", "with a tape", "step ladder", "/leather/sheets/letter.pdf"):
        assert words in page
    assert 'href="/leather/photograph"' in client.get("/leather").text


def test_a_photograph_is_saved_as_the_command_writes_it_and_undone(
    client: TestClient, folder: Path, by_command: bytes
):
    found = measured(client, PHOTO.read_bytes())
    assert found["mistakes"] == {}
    assert not list((folder / "hides").glob("side-from*"))  # looked at first
    sent = drawn(client, found["address"], fields=fields_of(client, found["address"]))
    assert client.post("/leather/check", json=sent).json()["mistakes"] == {}
    file = save(client, sent)["file"]
    path = folder / "hides" / file
    assert path.read_bytes() == by_command
    hide = read_hide(path)
    assert (hide.name, hide.thickness, len(hide.flaws)) == (FORM["name"], 3.4, 7)  # two are unsure stretches
    place = json.loads((folder / "hides/side-from-above.picture.json").read_text())
    with Image.open(folder / "hides/side-from-above.picture.jpg") as picture:
        assert picture.size == pytest.approx(
            [(side + 120) / place["mm_per_pixel"] for side in (2056.5, 866.4)], abs=3
        )
    check = client.get(f"{found['address']}/check.png")
    with Image.open(io.BytesIO(check.content)) as picture:
        assert picture.format == "PNG"
    before = client.get("/leather").text
    assert "Last step: side-from-above.toml: added" in before
    client.post("/leather/steps", data={"do": "undo"})
    assert not path.exists()
    assert not (folder / "hides/side-from-above.picture.json").exists()


def test_the_flattened_picture_lies_where_the_hide_is(client: TestClient):
    """Where the outline runs, the picture changes from leather to floor: brighter outside than inside."""
    import numpy as np
    import shapely

    state = state_of(client, measured(client, PHOTO.read_bytes())["address"])
    place = state["picture"]
    with Image.open(io.BytesIO(client.get(f"/leather/picture/{place['digest']}").content)) as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(float)
    edge = shapely.Polygon(state["points"])

    def seen(off: float) -> Any:
        ring = edge.buffer(off, join_style="mitre").exterior
        points = np.array([ring.interpolate(at).coords[0] for at in np.arange(0, ring.length, 15)])
        columns = (points[:, 0] - place["x"]) / place["mm_per_pixel"] - 0.5
        rows = len(pixels) - (points[:, 1] - place["y"]) / place["mm_per_pixel"] - 0.5
        return pixels[rows.round().astype(int), columns.round().astype(int)]

    leather, floor = (np.median(seen(off), axis=0) for off in (-40, 40))
    share = {}
    for off in (-5, 5):
        towards_floor = ((seen(off) - leather) @ (floor - leather)) / ((floor - leather) @ (floor - leather))
        share[off] = (towards_floor > 0.5).mean()
    assert share[-5] < 0.05
    assert share[5] > 0.85  # the rest is soft shadow


def test_what_is_corrected_keeps_every_other_key_and_comment(
    client: TestClient, folder: Path, by_command: bytes
):
    address = measured(client, PHOTO.read_bytes())["address"]
    sent = drawn(client, address, fields=fields_of(client, address) | {"backbone": "top"})
    sent["points"][0][0] += 2
    del sent["unsure"][0]
    found = client.post("/leather/check", json=sent).json()
    assert len(found["sure"]) > 100
    assert found["outline"] == sent["points"]  # as it stands in the file, not as what is surely there
    written = (folder / "hides" / save(client, sent)["file"]).read_text("utf-8")
    was, now = tomllib.loads(by_command.decode()), tomllib.loads(written)
    assert (now["hide"]["backbone"], len(now["unsure"])) == ("top", len(was["unsure"]) - 1)
    assert now["unsure"] == was["unsure"][1:]
    assert now["hide"]["uncertainty"] == was["hide"]["uncertainty"]
    assert now["hide"]["points"][1:] == was["hide"]["points"][1:]
    assert now["flaw"] == was["flaw"]
    for words in ("# Measured from the photograph side-7.jpg.", "# ringed in blue", "# 95 of 100 points"):
        assert words in written
    again = drawn(client, "/hide/side-from-above.toml/edit")
    assert (len(again["unsure"]), again["picture"]["digest"]) == (1, sent["picture"]["digest"])
    assert save(client, again)["written"]
    assert (folder / "hides/side-from-above.toml").read_text("utf-8") == written


def test_a_photograph_turned_by_its_camera_gives_the_same_hide(client: TestClient):
    with Image.open(PHOTO) as picture:
        upright, sideways = io.BytesIO(), io.BytesIO()
        picture.save(upright, "PNG", compress_level=0)
        exif = Image.Exif()
        exif[0x0112] = 6  # the camera was held upright: turn by 90 degrees to see it
        picture.transpose(Image.Transpose.ROTATE_90).save(sideways, "PNG", exif=exif, compress_level=0)
    hides = []
    for content in (upright, sideways):
        assert content.tell() > LARGEST_POST  # a large one
        hides.append(state_of(client, measured(client, content.getvalue(), "p.png")["address"]))
    for state in hides:
        state.pop("measured")
    assert hides[0] == hides[1]


def test_what_is_no_photograph_is_refused_beside_the_field(client: TestClient, folder: Path):
    for name, content, words in (
        ("notes.jpg", b"a list of hides\n" * 50, "notes.jpg: is no photograph that can be read"),
        ("half.jpg", PHOTO.read_bytes()[:300_000], "half.jpg: is broken off or damaged"),
        ("huge.png", png_of(20_000, 20_000), "huge.png: has 400 megapixels, 64 are the most"),
        ("../../side.jpg", plain(), "found 0 whole mark sheets, 4 are the least"),
        ("none.jpg", b"", "choose a photograph"),
    ):
        found = measured(client, content, name)
        assert found["mistakes"].keys() == {"photo"}
        assert found["mistakes"]["photo"].startswith(words), found
        assert len(found["mistakes"]["photo"].splitlines()) == 1
        assert "/" not in found["mistakes"]["photo"]
    answer = client.post("/leather/photograph", data=FORM)
    assert answer.json()["mistakes"] == {"photo": "choose a photograph"}
    assert not list((folder / "hides").glob("*.picture.*"))


def test_what_cannot_be_read_in_the_form_stands_beside_its_field(client: TestClient):
    wrong = {
        "thickness": "thick",
        "along": "200",
        "across": "-160",
        "paper": "a4",
        "blue": "spot",
        "name": "n" * 81,
    }
    mistakes = measured(client, PHOTO.read_bytes(), **wrong)["mistakes"]
    assert mistakes.keys() == {"thickness", "along", "across", "blue", "name"}
    assert "thick" in mistakes["thickness"]
    assert "240 printed as 200" in mistakes["along"]
    assert mistakes["blue"] == "found 'spot', expected mark, hole, loose"
    assert measured(client, plain(), paper="a3")["mistakes"].keys() == {"paper"}


def test_too_large_a_post_is_refused_and_other_addresses_take_no_more(client: TestClient):
    big = b"0" * (LARGER_POSTS["/leather/photograph"] + 1)
    answer = client.post("/leather/photograph", files={"photo": ("big.jpg", big)})
    assert (answer.status_code, answer.text) == (413, "Larger than 40 MB; nothing was done.\n")
    assert client.post("/leather/check", content=b"0" * (LARGEST_POST + 1)).status_code == 413


def test_a_measured_hide_that_is_no_longer_at_hand_is_said_to_be(client: TestClient):
    answer = client.get(f"/leather/measured/{'0' * 64}")
    assert answer.status_code == 404
    assert "measure the photograph again" in answer.text


def state_of(client: TestClient, address: str) -> dict[str, Any]:
    page = client.get(address).text
    state: dict[str, Any] = json.loads(html.unescape(page.split("data-state='")[1].split("'>")[0]))
    return state


def fields_of(client: TestClient, address: str) -> dict[str, str]:
    """What stands in the fields of a page that has no file yet."""
    page = client.get(address).text
    fields = {
        name: html.unescape(value)
        for name, value in re.findall(r'<input id="h-[^"]*" name="([^"]*)" value="([^"]*)"', page)
    }
    chosen = re.findall(r'<select id="h-([^"]*)".*?</select>', page, re.DOTALL)
    for key in chosen:
        inside = page.split(f'<select id="h-{key}"')[1].split("</select>")[0]
        fields[key] = (re.findall(r'<option value="([^"]*)" selected', inside) or [""])[0]
    return {key: value for key, value in fields.items() if value}


def png_of(width: int, height: int) -> bytes:
    """A PNG whose head says so many pixels; there is nothing in it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


def plain() -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (1600, 1200), "tan").save(stream, "JPEG")
    return stream.getvalue()


@pytest.mark.slow
def test_a_photograph_becomes_a_hide_in_stock(tab: Callable[..., Page], served: Served):
    page = tab()
    page.get_by_role("link", name="Leather").click()
    page.get_by_role("link", name="From a photograph").click()
    page.get_by_role("button", name="Measure it").click()
    expect(page.locator("#p-photo-said")).to_have_text("choose a photograph")
    page.get_by_label("A JPEG, PNG, TIFF or WebP file").set_input_files(PHOTO)
    page.get_by_label("Thickness, as callipered").fill("3.4")
    page.get_by_label("Along, should be 240 mm").fill("12")
    page.get_by_role("button", name="Measure it").click()
    expect(page.locator("#p-along-said")).to_contain_text("240 printed as 12")
    page.get_by_label("Along, should be 240 mm").fill("240")
    page.get_by_role("button", name="Measure it").click()
    expect(page.get_by_role("progressbar")).to_be_visible()
    page.wait_for_url("**/leather/measured/*")
    expect(page.locator(".hide-draw image")).to_be_visible()
    expect(page.locator(".hide-draw .sure")).to_be_visible()
    expect(page.locator(".hide-draw .unsure")).to_have_count(2)
    expect(page.get_by_text("Not tried on leather")).to_be_visible()
    expect(page.get_by_label("Edge and flaws may be off by", exact=True)).to_have_value(
        re.compile(r"^2\.\d mm$")
    )
    page.get_by_role("button", name="Unsure stretch 1: I have looked, it is right").click()
    expect(page.locator(".hide-draw .unsure")).to_have_count(1)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".hide-draw .unsure")).to_have_count(2)
    page.get_by_role("button", name="Redo").click()
    page.get_by_label("Flaw 5: what it is").select_option("mark")
    page.get_by_role("button", name="Tap the edge that is the back").click()
    page.mouse.click(*place(page, (0.5, 0.6)))
    expect(page.get_by_label("Where the back is", exact=True)).to_have_value("bottom")
    page.get_by_role("button", name="Save it").click()
    page.wait_for_url("**/hide/side-7-2.toml/edit")  # the shop has a side 7
    expect(page.locator(".hide-draw image")).to_be_visible()
    tables = tomllib.loads((served.folder / "hides/side-7-2.toml").read_text("utf-8"))
    assert (tables["hide"]["backbone"], len(tables["unsure"])) == ("bottom", 1)
    assert [flaw["kind"] for flaw in tables["flaw"]][-1] == "mark"
    page.get_by_role("link", name="Leather").click()
    expect(page.get_by_text("Last step: side-7-2.toml: added")).to_be_visible()


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_photographs_on_a_phone_keep_the_rules_for_accessible_pages(
    tab: Callable[..., Page],
    served: Served,
    theme: str,
):
    page = tab(
        viewport={"width": 390, "height": 844},
        has_touch=True,
        is_mobile=True,
        color_scheme=theme,
        bypass_csp=True,
    )
    page.goto(f"{served.base}/leather/photograph")
    for at_last in (False, True):
        if at_last:
            page.get_by_label("A JPEG, PNG, TIFF or WebP file").set_input_files(PHOTO)
            page.get_by_role("button", name="Measure it").tap()
            page.wait_for_url("**/leather/measured/*")
            expect(page.locator(".hide-draw .sure")).to_be_visible()
        assert page.locator("html").evaluate("node => node.scrollWidth") <= 390
        assert breaches(page) == []
