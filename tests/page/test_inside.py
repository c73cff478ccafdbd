"""Nothing leads out of the shop's folder: no link, no name of a file, no index that came with a folder."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

SECRET = "nobody-is-to-read-this"
PAGES = ("/", "/leather", "/shop", "/shop/house", "/shop/file/house.toml", "/shop/file/catalogue.toml")
JOBS = ("/job/first", "/job/first/text", "/job/first/cuts?machine=laser.toml", "/job/first/out/a.dxf")
LINKS = {
    "house.toml": "file",
    "catalogue.toml": "file",
    ".strapwright-steps.json": "file",
    "hides/.strapwright-steps.json": "file",
    "jobs/first/layout.json": "file",
    "jobs/first/card.json": "file",
    "jobs/first/.strapwright-steps.json": "file",
    "jobs/first/part.py": "file",
    "jobs/first/layouts/.running.json": "file",
    "jobs/first/out/.strapwright-cut.json": "file",
    "jobs/first/out": "folder",
    "jobs/first/layouts": "folder",
    "jobs": "folder",
    "hides": "folder",
    "hides/used": "folder",
    "machines/put-away": "folder",
    "records": "folder",
    "removed": "folder",
}


@pytest.mark.parametrize(("name", "kind"), LINKS.items())
def test_a_link_out_of_the_shop_is_named_and_neither_read_nor_written(
    client: TestClient, folder: Path, tmp_path: Path, name: str, kind: str
):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "a.dxf").write_text(SECRET)
    target = outside if kind == "folder" else outside / "secret"
    if kind == "file":
        target.write_text(SECRET)
    link = folder / name
    if link.is_dir():
        link.rename(tmp_path / "aside")
    link.unlink(missing_ok=True)
    link.parent.mkdir(parents=True, exist_ok=True)
    link.symlink_to(target)
    of_job = name.startswith("jobs/")
    for path in JOBS if of_job else PAGES:
        answer = client.get(path)
        assert answer.status_code == 404
        assert answer.text == f"{name}: is a link that leads out of the shop; put what it leads to here"
    posts = ("/job/first/belts", "/job/first/steps") if of_job else ("/units", "/shop/steps", "/", "/new")
    for path in posts:
        answer = client.post(path, data={"do": "remove", "units": "in", "index": "0", "job": "first"})
        assert answer.status_code == 400
        assert "leads out" in answer.text
    assert sorted(os.listdir(outside)) == (["a.dxf"] if kind == "folder" else ["a.dxf", "secret"])
    assert client.get("/static/bench.css").status_code == 200


def test_a_record_s_index_that_came_with_a_folder_names_no_file_elsewhere(
    client: TestClient, folder: Path, tmp_path: Path
):
    (tmp_path / "secret").write_text(SECRET)
    record = folder / "records/first-belts/2026-01-01-00000000"
    record.mkdir(parents=True)
    away = "../../../../secret"
    (record / "card.pdf").write_bytes(b"%PDF")
    (record / "bill.csv").symlink_to(tmp_path / "secret")
    about = "".join(f'"{name}" = "0"\n' for name in (away, "card.pdf", "bill.csv"))
    (record / "record.toml").write_text(f"made = 2026-01-01\n[sha256]\n{about}")
    base = "/job/first/record/2026-01-01-00000000"
    assert client.get(f"{base}/card.pdf").content == b"%PDF"
    for name in (away.replace("/", "%2f"), away.replace("..", "%2e%2e"), "bill.csv", "record.toml"):
        answer = client.get(f"{base}/{name}")
        assert answer.status_code == 404
        assert SECRET not in answer.text


@pytest.mark.parametrize("key", ["outline", "stations"])
def test_a_hide_names_no_drawing_or_table_elsewhere(
    client: TestClient, folder: Path, tmp_path: Path, key: str
):
    (tmp_path / "secret.dxf").write_text(SECRET)
    (folder / "hides/other.toml").write_text(f'[hide]\nname = "other"\n{key} = "../../secret.dxf"\n')
    text = client.get("/hide/other.toml/text").text
    assert "which lies outside this shop" in text
    assert SECRET not in text
    changed = {"text": f'[hide]\nname = "o"\n{key} = "{tmp_path}/secret.dxf"\n', "digest": ""}
    said = client.post("/hide/other.toml/text", data=changed)
    assert said.status_code == 400
    assert "which lies outside this shop" in said.text
    assert SECRET not in said.text


def test_a_drawing_that_is_a_link_out_of_the_shop_is_not_read(
    client: TestClient, folder: Path, tmp_path: Path
):
    (tmp_path / "secret.dxf").write_text(SECRET)
    (folder / "hides/away.dxf").symlink_to(tmp_path / "secret.dxf")
    (folder / "hides/other.toml").write_text('[hide]\nname = "other"\noutline = "away.dxf"\n')
    said = "hides/away.dxf: is a link that leads out of the shop"
    assert said in client.get("/leather").text
    assert said in client.get("/hide/other.toml/edit").text
    assert client.get("/hide/other.toml").status_code == 404
