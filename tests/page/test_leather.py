"""The stock of hides: listed, found, retired, mended as text, each change a step that can be undone."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from strapwright.page.leather.stock import StockList

if TYPE_CHECKING:
    from starlette.testclient import TestClient

EXAMPLES = Path(__file__).parents[2] / "examples/hides"
BROKEN = """[hide]
name = "b"
thicknes = "3 mm"
points = [[0, 0], [900, 0], [900, 400]]

[[flaw]]
kind = "hol"
"""


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def listed(client: TestClient) -> str:
    """The page of the stock, once all hides are worked out."""
    while 'data-left="0"' not in (page := client.get("/leather").text):
        pass
    return page


def digest_in(page: str) -> str:
    return page.split('name="digest" value="')[1].split('"')[0]


def test_hide_files_and_drawings_are_listed_with_what_they_are(client: TestClient, folder: Path):
    for name in ("shoulder.toml", "shoulder.csv", "bend.toml", "bend.svg", "belly.dxf"):
        shutil.copy(EXAMPLES / name, folder / "hides" / name)
    remnant = (
        '[hide]\nname = "r"\nparent = "side 3"\ntannage = "chrome"\npoints = [[0, 0], [900, 0], [900, 400]]\n'
    )
    (folder / "hides/r.toml").write_text(remnant, "utf-8")
    (folder / "hides/b.toml").write_text(BROKEN, "utf-8")
    page = listed(client)
    for words in (
        "side 7",
        "0.924 m², 0.896 m² usable",
        "1571 mm, 38 mm wide",
        "1 hole, 1 mark, 1 loose place",
        "3.4 mm, 3 mm in places",  # the shoulder's thickness map
        "<b>belly</b>",  # a drawing by itself
        "bend 21",  # named by its file; its drawing is no hide of its own
        "<dd>chrome</dd>",
        "<dt>Remnant of</dt><dd>side 3</dd>",
        "line 3: hide.thicknes: unknown key",
        "line 7: flaw[1].kind: found &#34;hol&#34;",
    ):
        assert words in page, words
    assert page.count("data-words=") == 6
    assert 'data-words="r r.toml not measured chrome remnant of side 3 "' in page
    assert client.get("/hide/belly.dxf").status_code == 200
    assert "mend these lines" in client.get("/hide/b.toml/edit", follow_redirects=True).text


def test_a_large_stock_comes_at_once_and_its_rows_as_they_are_worked_out(
    client: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
):
    side = (folder / "hides/side-7.toml").read_text("utf-8")
    for number in range(12):
        (folder / f"hides/s{number}.toml").write_text(side.replace("side 7", f"s {number}"), "utf-8")
    shutil.copy(EXAMPLES / "belly.dxf", folder / "hides")
    whole = StockList.rows_within
    monkeypatch.setattr(StockList, "rows_within", lambda self, _, **more: whole(self, 0.02, **more))
    page = client.get("/leather").text
    assert "to go …" in page
    seen, number = page.count("data-words="), page.split('data-number="')[1].split('"')[0]
    assert seen < 14
    for _ in range(40):
        found = client.get("/leather/rows", params={"after": number}).json()
        seen, number = seen + found["rows"].count("data-words="), found["number"]
        if not found["left"]:
            break
    assert seen == 14  # each once, the drawing too
    assert "to go …" not in client.get("/leather").text


def test_a_hide_is_retired_with_what_it_alone_names_and_comes_back(client: TestClient, folder: Path):
    for name in ("shoulder.toml", "shoulder.csv"):
        shutil.copy(EXAMPLES / name, folder / "hides" / name)
    before = {path.name: path.read_bytes() for path in (folder / "hides").glob("shoulder.*")}
    assert client.post("/hide/shoulder.toml/retire").status_code == 204
    assert not list((folder / "hides").glob("shoulder.*"))
    used = {path.name: path.read_bytes() for path in (folder / "hides/used").iterdir()}
    assert {name: used[name] for name in before} == before
    page = listed(client)
    assert "Last step: shoulder.toml: retired" in page
    assert "shoulder 3" not in page
    client.post("/leather/steps", data={"do": "undo"})
    assert {path.name: path.read_bytes() for path in (folder / "hides").glob("shoulder.*")} == before
    client.post("/leather/steps", data={"do": "redo"})
    assert not list((folder / "hides").glob("shoulder.*"))
    (folder / "hides/used/side-7.toml").write_text("x")
    answer = client.post("/hide/side-7.toml/retire")
    assert (answer.status_code, "is there already" in answer.text) == (400, True)
    assert (folder / "hides/side-7.toml").is_file()


def test_a_broken_hide_is_mended_as_text_once_it_is_sound(client: TestClient, folder: Path):
    path = folder / "hides/b.toml"
    path.write_text(BROKEN, "utf-8")
    page = client.get("/hide/b.toml/text").text
    assert "line 3: hide.thicknes" in page
    half = BROKEN.replace("thicknes ", "thickness ")
    wrong = client.post("/hide/b.toml/text", data={"digest": digest_in(page), "text": half})
    assert wrong.status_code == 400
    assert wrong.text.splitlines()[0].startswith("line 7: flaw[1].kind: found")
    assert path.read_text("utf-8") == BROKEN
    good = half.replace('kind = "hol"', 'kind = "hole"\nat = [500, 100]\nsize = "20 mm"')
    stale = client.post("/hide/b.toml/text", data={"digest": "0" * 64, "text": good})
    assert "was changed by another program" in stale.text
    done = client.post("/hide/b.toml/text", data={"digest": digest_in(page), "text": good})
    assert done.headers["hx-redirect"] == "/leather"
    assert path.read_text("utf-8") == good
    client.post("/leather/steps", data={"do": "undo"})
    assert path.read_text("utf-8") == BROKEN
    (folder / "hides/d.svg").write_text("<svg", "utf-8")
    assert "Mend it where it was drawn" in client.get("/hide/d.svg/text").text


def test_the_hides_of_a_job_are_chosen_among_those_that_fit_its_leather(client: TestClient, folder: Path):
    side = (folder / "hides/side-7.toml").read_text("utf-8")
    for name, old, new in (
        ("thin", '"3.6 mm"', '"2 mm"'),
        ("chrome", '"3.6 mm"', '"3.6 mm"\ntannage = "chrome"'),
        ("a-r1", '"3.6 mm"', '"3.7 mm"\nparent = "a"\ntannage = "vegetable"'),
        ("unmeasured", 'thickness = "3.6 mm"', ""),
    ):
        text = side.replace("side 7", name).replace(old, new)
        (folder / f"hides/{name}.toml").write_text(text, "utf-8")
    listed(client)
    page = client.get("/job/first").text
    chosen = page.split('<ol class="hides chosen"')[1].split("</ol>")[0]
    assert chosen.count('name="hide"') == 1  # the first that fits
    assert 'value="a-r1.toml"' in chosen
    words = page.split('data-need role="status">')[1].split("<")[0]
    assert words.startswith("The parts alone take 0.097 m² of 3.57 mm vegetable; ")
    assert words.endswith("; 1 hide chosen, 0.896 m² usable.")
    rows = client.get("/job/first/hides").json()["rows"].split("<li ")[1:]
    fitting = {row.split('data-file="')[1].split(".toml")[0] for row in rows if "data-fits" in row}
    assert fitting == {"a-r1", "side-7", "unmeasured"}
    assert [row.count("data-remnant") for row in rows if '"a-r1.toml"' in row] == [1]
    two = client.get("/job/first/need", params={"hide": ["side-7.toml", "thin.toml", "no.toml"]}).json()[
        "words"
    ]
    assert "2 hides chosen, 1.791 m² usable" in two
    none = client.get("/job/first/need").json()["words"]
    assert none.endswith("no hide chosen; that is less than the parts alone take.")
    job = folder / "jobs/first/job.toml"
    job.write_text(job.read_text("utf-8").replace('"960 mm"', '"wide"'), "utf-8")
    assert "once every belt is ready" in client.get("/job/first/need").json()["words"]
    assert client.get("/job/first").status_code == 200
