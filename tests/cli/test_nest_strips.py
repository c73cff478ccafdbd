"""``nest --strips``: the list, the files, the bill and what is refused."""

from __future__ import annotations

import csv
import json

import pytest
from tests.cli.runner import BATCH, EXAMPLES, ONE, SIDE, run

from strapwright.nesting.strips.file import read_strips

STRIPS = EXAMPLES / "strips.csv"
CALL = ("nest", BATCH, "--strips", STRIPS, "--steps", "40")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("strips")
    result = run(
        *CALL, "--out", folder, "--remnants", folder / "stock", "--picture", folder / "a.svg", "--json"
    )
    return folder, json.loads(result.stdout)


def test_the_plan_is_written_with_list_picture_and_leftovers(made):
    folder, data = made
    assert [path.rpartition("/")[2] for path in data["files"]] == [
        "strips.json",
        "strips.png",
        "strips.txt",
        "strips-left.toml",
        "a.svg",
    ]
    plan = json.loads((folder / "strips.json").read_text())
    assert plan["cut"] == data["cut"]
    assert sum(len(cut["parts"]) for cut in plan["cut"]) == 16
    assert not plan["unplaced"]
    left = read_strips([folder / "stock" / "strips-left.toml"])
    before = sum(strip.quantity for strip in read_strips([STRIPS]))
    whole = sum(strip.quantity for strip in left if not strip.parent)
    assert whole + len(plan["cut"]) == before
    assert [strip.id for strip in left if strip.parent] == [one["id"] for one in plan["leftovers"]]
    listed = (folder / "strips.txt").read_text()
    for cut in plan["cut"]:
        for one in cut["parts"]:
            assert one["id"] in listed
            assert f"{one['from_mm']:.1f}" in listed


def test_the_fewest_strips_are_proven(made):
    _, data = made
    assert data["gap"] == 0
    assert data["cost"] == data["bound"] == len(data["cut"])


def test_the_bill_takes_the_true_waste_and_a_changed_job_is_refused(made, tmp_path):
    folder, data = made
    run(
        "card",
        BATCH,
        "--strips",
        folder / "strips.json",
        "--bom",
        tmp_path / "bill.csv",
        "--out",
        tmp_path / "c.html",
    )
    bill = csv.DictReader((tmp_path / "bill.csv").read_text().splitlines())
    rows = [row for row in bill if row["kind"] == "leather"]
    assert rows
    assert all(f"{data['waste']:.3f} waste: true of the strips" in row["quantity from"] for row in rows)
    assert "cut from strips" in (tmp_path / "c.html").read_text()
    said = run("card", ONE, "--strips", folder / "strips.json", status=1).output
    assert "the job changed since this plan was made" in said


def test_what_has_no_room_is_named_with_status_1(tmp_path):
    path = tmp_path / "short.csv"
    path.write_text("id,width,length\nA,50 mm,900 mm\n")
    result = run("nest", ONE, "--strips", path, "--steps", "2", status=1)
    assert "not placed: halvard/strap: needs " in result.stderr
    assert "1 of 2 parts on 1 strip. These strips cannot hold every part; that is proven." in result.stdout


def test_the_shop_s_inches_are_kept_to(tmp_path):
    (tmp_path / "house.toml").write_text('units = "in"\n')
    for name in ("one-belt.toml", "catalogue.toml", "strips.csv"):
        (tmp_path / name).write_bytes((EXAMPLES / name).read_bytes())
    shown = run(
        "nest", tmp_path / "one-belt.toml", "--strips", tmp_path / "strips.csv", "--steps", "5"
    ).stdout
    assert "from in" in shown
    assert " mm" not in shown.split("findings")[0]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--strips", STRIPS, "--hide", SIDE), "--hide and --strips exclude each other"),
        (("--strips", STRIPS, "--aim", "price"), "--aim price is of hides"),
        (("--strips", STRIPS, "--avoid", "1,2,3"), "--avoid is of hides"),
        (("--strips", STRIPS, "--square", "-1mm"), "found -1 mm, expected 0 to 500 mm"),
        (("--hide", SIDE, "--aim", "stock"), "--aim stock is of strips"),
        (("--hide", SIDE, "--keep", "1m"), "--keep"),
        ((), "Missing option '--hide', or '--strips'"),
    ],
)
def test_what_does_not_go_together_is_a_wrong_call(arguments, said):
    assert said in run("nest", ONE, *arguments, status=2).output


def test_a_file_of_strips_with_mistakes_is_refused_line_by_line(tmp_path):
    path = tmp_path / "bad.csv"
    path.write_text("id,width,length\nA,3,900\nB,40,-1\n")
    lines = run("nest", ONE, "--strips", path, status=1).stderr.splitlines()
    errors = [line for line in lines if line.startswith("error: ")]
    assert len(errors) == 2
    assert all(line.startswith(f"error: {path}: line ") for line in errors)


def test_a_leftover_file_that_was_edited_is_not_overwritten(tmp_path):
    run(*CALL[:3], STRIPS, "--steps", "2", "--remnants", tmp_path)
    path = tmp_path / "strips-left.toml"
    path.write_text(path.read_text() + "# counted again\n")
    said = run(*CALL[:3], STRIPS, "--steps", "2", "--remnants", tmp_path, status=1).stderr
    assert f"error: {path}: was edited since strapwright wrote it" in said
