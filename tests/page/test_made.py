"""A job that is made: what will happen is shown first; record and stock are one step that can be undone."""

from __future__ import annotations

import html
import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from strapwright.cli.main import command

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient


def strapwright(*words: object) -> str:
    run = CliRunner().invoke(command, [str(word) for word in words])
    assert run.exit_code == 0, run.output
    return run.output


@pytest.fixture
def laid(folder: Path) -> Path:
    job = folder / "jobs/first"
    strapwright("nest", job / "job.toml", "--hide", folder / "hides/side-7.toml", "--steps", 1, "--out", job)
    return folder


def files(folder: Path) -> dict[str, bytes]:
    """What is in a shop, but for the step history and hidden files."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }


def test_what_will_happen_is_shown_and_nothing_is_done_by_it(client: TestClient, laid: Path):
    before = files(laid)
    shown = html.unescape(client.get("/job/first/made", params={"machine": "laser.toml"}).text)
    assert "<b>Goes:</b> <code>hides/side-7.toml</code> to <code>hides/used/</code>" in shown
    assert "<b>Comes:</b> <code>hides/side-7-r1.toml</code>" in shown
    assert "a record in <code>records/first-belts/</code>" in shown
    assert files(laid) == before


def test_a_job_that_changed_since_it_was_laid_out_is_not_made(client: TestClient, laid: Path):
    job = laid / "jobs/first/job.toml"
    job.write_text(job.read_text("utf-8").replace("960 mm", "955 mm"), "utf-8")
    before = files(laid)
    assert "It is made" not in client.get("/job/first/made").text
    assert client.post("/job/first/made", data={"machine": ""}).status_code == 400
    assert files(laid) == before
    assert not (laid / "records/first-belts").exists() or not any((laid / "records/first-belts").iterdir())


def test_record_and_stock_are_one_step_undone_and_done_again(client: TestClient, laid: Path, tmp_path: Path):
    before = files(laid)
    assert client.post("/job/first/made", data={"machine": "laser.toml"}).status_code == 204
    after = files(laid)
    assert "hides/side-7.toml" not in after
    assert after["hides/used/side-7.toml"] == before["hides/side-7.toml"]
    (folder,) = (laid / "records/first-belts").iterdir()
    assert {"machine.toml", "card.pdf", "layout.json"} <= {path.name for path in folder.iterdir()}
    again = strapwright("draft", folder / "job.toml", "--json")
    assert again == strapwright("draft", laid / "jobs/first/job.toml", "--json")
    assert "record kept" in client.get("/job/first").text
    assert '"stage">made' in client.get("/").text
    for name in ("card.pdf", "hides/side-7.toml"):
        answer = client.get(f"/job/first/record/{folder.name}/{name}")
        assert answer.content == (folder / name).read_bytes()
    for name in ("record.toml", "../../../jobs/first/job.toml", "none"):
        assert client.get(f"/job/first/record/{folder.name}/{name}").status_code == 404
    assert client.post("/job/first/steps", data={"do": "undo"}).status_code == 204
    assert files(laid) == before
    assert "record kept" not in client.get("/job/first").text
    assert not (laid / "records").exists()  # no empty folder, which would take the name
    assert client.post("/job/first/steps", data={"do": "redo"}).status_code == 204
    assert files(laid) == after
    assert client.post("/job/first/steps", data={"do": "undo"}).status_code == 204
    assert client.post("/job/first/made", data={"machine": "laser.toml"}).status_code == 204
    assert files(laid) == after


def test_a_job_of_which_nothing_is_laid_is_drafted_and_not_made(client: TestClient, folder: Path):
    assert client.post("/job/first/empty", data={"hide": "side-7.toml", "machine": ""}).status_code == 204
    assert '"stage">drafted' in client.get("/").text
    assert "lay it out first" in client.get("/job/first").text
    assert "nothing is laid on a hide yet" in client.get("/job/first/made").text
    assert client.post("/job/first/made", data={"machine": ""}).status_code == 400
    assert not (folder / "records").exists()


def test_the_record_has_the_bytes_of_the_command_line(client: TestClient, laid: Path, tmp_path: Path):
    job = laid / "jobs/first"
    given = ["--layout", job / "layout.json", "--hide", laid / "hides/side-7.toml"]
    strapwright("card", job / "job.toml", *given, "--record", tmp_path / "records")
    assert client.post("/job/first/made", data={"machine": ""}).status_code == 204
    assert files(laid / "records") == files(tmp_path / "records")


def test_a_remnant_in_the_way_is_named_and_nothing_changes(client: TestClient, laid: Path):
    (laid / "hides/side-7-r1.toml").write_text("[hide]\n")
    before = files(laid)
    assert "side-7-r1.toml: is there already" in client.get("/job/first/made").text
    assert client.post("/job/first/made", data={"machine": ""}).status_code == 400
    assert files(laid) == before


def test_a_record_is_made_again_with_the_settings_of_its_day(client: TestClient, laid: Path):
    client.post("/job/first/made", data={"machine": ""})
    (record,) = (laid / "records/first-belts").iterdir()
    house = laid / "house.toml"
    text = house.read_text("utf-8").replace('keeper_ease_width = "1 mm"', 'keeper_ease_width = "4 mm"')
    house.write_text(text, "utf-8")
    assert "Make it again" in client.get("/job/first").text
    answer = client.post(f"/job/first/record/{record.name}")
    assert answer.headers["hx-redirect"] == "/job/first-belts"
    again = laid / "jobs/first-belts"
    assert 'name = "first belts (again)"' in (again / "job.toml").read_text("utf-8")
    drafted = json.loads((record / "draft.json").read_text("utf-8"))
    assert json.loads(strapwright("draft", again / "job.toml", "--json"))["belts"] == drafted["belts"]
    assert client.post("/job/first/record/2020-01-01-00000000").status_code == 400
