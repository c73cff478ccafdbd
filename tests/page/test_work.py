"""The list of work: begun, copied, put away and put back; sorted by the day it is due."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

ANSWERS = {
    "title": "First belt",
    "size.way": "girth",
    "size": "96 cm",
    "buckle": "single-40",
    "leather.thickness": "9 oz",
    "leather.tannage": "vegetable",
}


def jobs(client: TestClient, address: str = "/") -> list[str]:
    return re.findall(r'<li><a href="/job/([^"]+)"', client.get(address).text)


def begun(client: TestClient, **answers: str) -> str:
    answer = client.post("/new", data=ANSWERS | answers)
    assert "hx-redirect" in answer.headers, answer.text
    return answer.headers["hx-redirect"]


def test_an_empty_folder_opens_on_the_first_belt_which_three_answers_make(client: TestClient, folder: Path):
    for name in ("jobs/first/job.toml", "house.toml"):
        (folder / name).unlink()
    page = client.get("/").text
    assert "Your first belt" in page
    assert len(re.findall(r"<legend>", page)) == 3
    assert begun(client) == "/job/first-belt"
    job = tomllib.loads((folder / "jobs/first-belt/job.toml").read_text("utf-8"))
    assert job == {
        "job": {"name": "First belt"},
        "leather": {"thickness": "9 oz", "tannage": "vegetable"},
        "belt": [{"id": "belt-1", "size": {"girth": "96 cm"}, "buckle": "single-40"}],
    }
    assert (folder / "house.toml").is_file()
    assert "blank" in client.get("/job/first-belt").text


def test_wrong_answers_are_said_beside_their_questions_and_nothing_is_written(
    client: TestClient, folder: Path
):
    for key, value, words in (
        ("size", "", "missing"),
        ("size", "wide", "expected a length"),
        ("size", "5 mm", "expected 150 mm to 3000 mm"),
        ("buckle", "none-such", "expected a buckle"),
        ("leather.thickness", "", "missing"),
        ("leather.thickness", "thick", "expected a thickness"),
        ("leather.tannage", "smoke", "expected"),
        ("title", " ", "1 to 80 printable characters"),
        ("title", "x" * 90, "1 to 80 printable characters"),
    ):
        answer = client.post("/new", data=ANSWERS | {key: value})
        assert answer.status_code == 200
        assert "hx-redirect" not in answer.headers
        said = answer.text.split(f'id="{key}-said"')[1].split("</p>")[0]
        assert words in said, (key, said)
        assert 'value="96 cm"' in answer.text or key == "size"
    assert [path.name for path in (folder / "jobs").iterdir()] == ["first"]


def test_other_ways_of_sizing_and_names_of_all_kinds_begin_a_job(client: TestClient, folder: Path):
    assert begun(client, title='Žofie\'s "wide" \\ belt') == "/job/zofies-wide-belt"
    assert begun(client, title='Žofie\'s "wide" \\ belt') == "/job/zofies-wide-belt-2"
    assert begun(client, **{"size.way": "trousers", "size": "36"}, title="t") == "/job/t"
    assert tomllib.loads((folder / "jobs/t/job.toml").read_text("utf-8"))["belt"][0]["size"] == {
        "trousers": 36
    }
    assert begun(client, **{"size.way": "worn_to_hole", "size": "1000"}, title="w") == "/job/w"
    size = tomllib.loads((folder / "jobs/w/job.toml").read_text("utf-8"))["belt"][0]["size"]
    assert size == {"worn_to_hole": "1000 mm"}


def test_jobs_are_sorted_by_the_day_they_are_due_or_by_name(client: TestClient, folder: Path):
    for title, due in (("a later", "2027-03-01"), ("b sooner", "2027-01-01"), ("c never", "")):
        begun(client, title=title)
        path = folder / f"jobs/{title.replace(' ', '-')}/job.toml"
        if due:
            path.write_text(path.read_text("utf-8") + f"due = {due}\n", "utf-8")
    assert jobs(client) == ["b-sooner", "a-later", "c-never", "first"]
    assert jobs(client, "/?sort=name") == ["a-later", "b-sooner", "c-never", "first"]
    page = client.get("/").text
    assert "2 belts for Inés, front of house" in page
    assert 'class="drawing" aria-hidden="true"><svg' in page


def test_a_job_is_copied_without_its_layout_and_steps(client: TestClient, folder: Path):
    first = folder / "jobs/first"
    (first / "layout.json").write_text("{}")
    (first / "tip.py").write_text("# a sketch\n")
    assert client.post("/", data={"do": "copy", "job": "first"}).status_code == 204
    assert jobs(client, "/?sort=name") == ["first", "first-2"]
    assert sorted(path.name for path in (folder / "jobs/first-2").iterdir() if path.name[0] != ".") == [
        "job.toml",
        "tip.py",
    ]
    copied = (folder / "jobs/first-2/job.toml").read_text("utf-8")
    original = (first / "job.toml").read_text("utf-8")
    assert copied == original.replace('name = "first belts"', 'name = "first belts (copy)"')


def test_a_job_is_put_away_and_put_back_as_it_was(client: TestClient, folder: Path):
    def files(where: str) -> dict[str, bytes]:
        found = (path for path in (folder / where).rglob("*") if path.is_file())
        return {path.relative_to(folder / where).as_posix(): path.read_bytes() for path in found}

    begun(client, title="other")
    client.post("/job/first/belts", data={"do": "copy", "index": "0"})  # a step to be kept
    before = files("jobs/first")
    for what, place in (("archive", "archive"), ("remove", "removed")):
        assert client.post("/", data={"do": what, "job": "first"}).status_code == 204
        assert jobs(client) == ["other"]
        assert files(f"{place}/first") == before
        assert client.get("/job/first").status_code == 404
        assert f'name="from" value="{place}"' in client.get("/").text
        assert client.post("/", data={"do": "back", "job": "first", "from": place}).status_code == 204
        assert files("jobs/first") == before
        assert jobs(client, "/?sort=name") == ["first", "other"]
    assert client.post("/job/first/steps", data={"do": "undo"}).status_code == 204
    for bad in (
        {"do": "archive", "job": "none"},
        {"do": "melt", "job": "first"},
        {"do": "back", "job": "first", "from": "archive"},
        {"do": "back", "job": "../secret", "from": "removed"},
        {"do": "back", "job": "first", "from": ".."},
    ):
        assert client.post("/", data=bad).status_code == 400, bad
    assert jobs(client, "/?sort=name") == ["first", "other"]


def test_a_job_whose_name_is_taken_comes_back_under_another_without_its_steps(
    client: TestClient, folder: Path
):
    client.post("/job/first/belts", data={"do": "copy", "index": "0"})
    client.post("/", data={"do": "remove", "job": "first"})
    begun(client, title="first")
    client.post("/", data={"do": "back", "job": "first", "from": "removed"})
    assert jobs(client, "/?sort=name") == ["first", "first-2"]
    assert not (folder / "jobs/first-2/.strapwright-steps.json").exists()


def test_a_folder_whose_jobs_are_all_put_away_shows_where_they_are(client: TestClient, folder: Path):
    client.post("/", data={"do": "remove", "job": "first"})
    page = client.get("/").text
    assert "No job is under way." in page
    assert "Put first back" in page
