"""What nest and cut are told to aim at."""

from __future__ import annotations

import json

from tests.cli.runner import ONE, SIDE, run

from strapwright.api.layouts import AIMS
from strapwright.cli.terminal import options

JOB = """
[leather]
thickness = "3.6 mm"
tannage = "vegetable"
{belts}
"""
BELT = """
[[belt]]
id = "{id}"
size = {{ girth = "96 cm" }}
buckle = "single-40"
{more}
"""
NARROW = """
[hide]
name = "narrow"
thickness = "3.6 mm"
points = [[0, 0], [1500, 0], [1500, 60], [0, 60]]
"""


def files(folder, **belts):
    job, hide = folder / "job.toml", folder / "hide.toml"
    job.write_text(
        JOB.format(belts="".join(BELT.format(id=id_, more=more) for id_, more in belts.items())), "utf-8"
    )
    hide.write_text(NARROW, "utf-8")
    return job, hide


def placed(*arguments):
    return json.loads(run("nest", *arguments, "--steps", "5", "--json", status=1).stdout)["placed"]


def test_the_aims_of_the_option_are_those_of_the_nest():
    assert options.AIMS == AIMS


def test_the_dearest_belt_is_laid_where_one_finds_room(tmp_path):
    job, hide = files(tmp_path, cheap="price = 60", dear="price = 90")
    found = placed(job, "--hide", hide, "--aim", "price")
    assert [id_ for id_ in found if id_.endswith("strap")] == ["dear/strap"]


def test_the_belt_that_is_due_first_is_laid_where_one_finds_room(tmp_path):
    job, hide = files(tmp_path, late="due = 2026-05-01", soon="due = 2026-03-14", open="")
    found = placed(job, "--hide", hide, "--aim", "due")
    assert [id_ for id_ in found if id_.endswith("strap")] == ["soon/strap"]
    text = run("nest", job, "--hide", hide, "--aim", "due", "--steps", "5", status=1).output
    assert "of the worth asked for is placed" in text


def test_a_belt_without_a_price_is_told_before_anything_is_laid(tmp_path):
    job, hide = files(tmp_path, cheap="price = 60", free="")
    said = run("nest", job, "--hide", hide, "--aim", "price", status=1).output
    assert '"free": no price' in said


def test_cut_takes_an_aim_and_an_unknown_one_is_a_wrong_call(tmp_path):
    out = tmp_path / "out"
    machine = ("--machine", "wide-laser", "--kerf", "0.2", "--steps", "2", "--out", out)
    run("cut", ONE, "--hide", SIDE, *machine, "--aim", "least")
    assert (
        "'cheap' is not one of"
        in run("cut", ONE, "--hide", SIDE, *machine, "--aim", "cheap", status=2).output
    )
