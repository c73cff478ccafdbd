"""``--remnants``: what a nest leaves becomes hide files, and nothing of the user's is lost by it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from tests.cli.runner import ONE, SIDE, run

from strapwright.nesting.hide.file import read_hide

if TYPE_CHECKING:
    from pathlib import Path


def test_nest_writes_the_remnant_and_it_can_be_nested_on(tmp_path: Path) -> None:
    stock = tmp_path / "stock"
    result = run("nest", ONE, "--hide", SIDE, "--steps", "1", "--remnants", stock, "--json")
    data = json.loads(result.stdout)
    (left,) = data["remnants"]
    assert data["files"] == [str(stock / "side-14-r1.toml")]
    hide = read_hide(stock / "side-14-r1.toml")
    assert (hide.name, hide.parent) == ("side 14 r1", "side 14")
    assert hide.area == left["area_mm2"]
    assert left["edge"] in ("straight", "stepped")
    again = run("nest", ONE, "--hide", stock / "side-14-r1.toml", "--steps", "1").output
    assert "2 of 2 parts placed" in again
    assert "side 14 r1 r1" in again


def test_a_remnant_that_was_edited_is_not_overwritten_and_that_is_said_before_the_search(
    tmp_path: Path,
) -> None:
    run("nest", ONE, "--hide", SIDE, "--steps", "1", "--remnants", tmp_path)
    path = tmp_path / "side-14-r1.toml"
    path.write_text(path.read_text() + "# the dog had a bite of it\n")
    call = ("nest", ONE, "--hide", SIDE, "--time", "60s", "--remnants", tmp_path)
    result = run(*call, "--out", tmp_path / "out", status=1)
    assert result.output == f"error: {path}: was edited since strapwright wrote it; --force overwrites it\n"
    assert not (tmp_path / "out").exists()
    assert "the dog" in path.read_text()


def test_a_remnant_of_an_earlier_nest_that_is_none_any_more_is_named(tmp_path: Path) -> None:
    run("nest", ONE, "--hide", SIDE, "--steps", "1", "--remnants", tmp_path)
    first = tmp_path / "side-14-r1.toml"
    second = tmp_path / "side-14-r2.toml"
    second.write_bytes(first.read_bytes())
    result = run("nest", ONE, "--hide", SIDE, "--steps", "1", "--remnants", tmp_path)
    assert f"caution: {second} is from an earlier nest of that hide" in result.stderr
    assert second.exists()


def test_cut_writes_remnants_too(tmp_path: Path) -> None:
    call = ("cut", ONE, "--hide", SIDE, "--machine", "wide-laser", "--steps", "1", "--out", tmp_path / "out")
    result = run(*call, "--remnants", tmp_path / "stock", "--json")
    assert str(tmp_path / "stock" / "side-14-r1.toml") in json.loads(result.stdout)["files"]
    assert read_hide(tmp_path / "stock" / "side-14-r1.toml").parent == "side 14"


def test_nest_goes_on_from_a_layout_with_a_lock_and_a_zone(tmp_path: Path) -> None:
    first = tmp_path / "first"
    run("nest", ONE, "--hide", SIDE, "--steps", "1", "--out", first)
    file = first / "layout.json"
    data = json.loads(file.read_text())
    id_ = data["placed"][0]["id"]
    data["locked"] = [id_]
    file.write_text(json.dumps(data))
    out = tmp_path / "second"
    call = (
        "nest",
        ONE,
        "--hide",
        SIDE,
        "--steps",
        "1",
        "--from",
        file,
        "--avoid",
        "1500,700,30",
        "--out",
        out,
    )
    run(*call)
    after = json.loads((out / "layout.json").read_text())
    assert after["locked"] == [id_]
    told = {finding["code"]: finding["what"] for finding in after["findings"]}
    assert told["parts-locked"] == f"1 part stayed in place, locked in the layout file: {id_}."
    assert told["zones-avoided"] == "1 more zone kept clear for this layout only."
    assert after["placed"][0] == data["placed"][0]
    laid = ("--hide", SIDE, "--layout", out / "layout.json")
    cut, card = tmp_path / "cut", tmp_path / "card.html"
    run("cut", ONE, *laid, "--machine", "wide-laser", "--out", cut)
    run("card", ONE, *laid, "--out", card)
    assert "kept clear for this layout" in card.read_text()
    for folder in (out, cut):
        assert sorted(path.suffix for path in folder.glob("layout.*")) == [".json", ".png"]
    told = run("nest", ONE, "--hide", SIDE, "--from", tmp_path / "no.json", status=1).output
    assert told == f"error: {tmp_path / 'no.json'}: no such file\n"
    told = run("nest", ONE, "--hide", SIDE, "--avoid", "soft spot", status=1).output
    assert 'zone to avoid: found "soft spot"' in told
