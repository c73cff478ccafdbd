"""Write down finished belts, and see what to change."""

from __future__ import annotations

import json
import shutil

import pytest
from tests.cli.runner import ONE, run

BUCKLE = '[buckle.crew]\nopening = "40 mm"\nbar_diameter = "5 mm"\nframe_depth = "40 mm"\n'
JOB = '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n' + "".join(
    f'[[belt]]\nid = "{name}"\nsize = {{ girth = "960 mm" }}\nbuckle = "crew"\n'
    for name in ("ann", "bo", "cy")
)


@pytest.fixture
def shop(tmp_path, monkeypatch):
    (tmp_path / "house.toml").write_text("")
    (tmp_path / "catalogue.toml").write_text(BUCKLE)
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "job.toml").write_text(JOB)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_three_belts_are_written_down_and_the_seat_is_advised(shop):
    for belt, girth in (("ann", "95.5 cm"), ("bo", "954 mm"), ("cy", "95,3cm")):
        result = run("fit", "record", "jobs/job.toml", "--belt", belt, "--girth", f"4 = {girth}")
        assert result.output.endswith(f"added to {shop / 'records' / 'fit.toml'}\n")
    said = run("fit", "show").output
    assert "3 belts, mean miss −6.0 mm, ± 2.5 mm with 95 %" in said
    assert 'hole_seat = "30.5 mm" in the table of buckle crew, in catalogue.toml or in the job' in said
    assert "cannot tell them apart" in said
    assert run("fit", "show", "jobs/job.toml").output == said
    found = json.loads(run("fit", "show", "--json").output)
    [crew] = found["buckles"]
    assert (crew["mean_mm"], crew["uncertainty_95_mm"]) == (-6.0, 2.484)
    assert (crew["setting"], crew["value_mm"], crew["verdict"]) == ("hole_seat", 30.5, "off")
    assert [row["miss_mm"] for row in found["rows"]] == [-5.0, -6.0, -7.0]
    assert (shop / "catalogue.toml").read_text() == BUCKLE


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_the_misses_are_drawn(shop, kind):
    run("fit", "record", "jobs/job.toml", "--belt", "ann", "--girth", "4 = 955mm")
    assert f"drawn: misses.{kind}" in run("fit", "show", "--picture", f"misses.{kind}").output
    head = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[kind]
    assert (shop / f"misses.{kind}").read_bytes().startswith(head)


def test_a_picture_of_nothing_or_of_another_kind_is_refused(shop):
    assert "nothing to draw" in run("fit", "show", "--picture", "x.svg", status=1).output
    assert "ends in .svg, .png or .pdf" in run("fit", "show", "--picture", "x.gif", status=1).output
    assert "no belt yet" in run("fit", "show").output
    assert not list(shop.glob("x.*"))


@pytest.mark.parametrize(
    ("girth", "said"),
    [
        ("4: 955 mm", 'found "4: 955 mm", expected such as "4 = 98.2 cm"'),
        ("4 =", 'found "4 =", expected such as "4 = 98.2 cm"'),
        ("x = 955 mm", "expected a hole, counted from the buckle"),
        ("4 = loose", 'found "loose", expected a length'),
    ],
)
def test_a_girth_that_cannot_be_read_is_a_wrong_call(shop, girth, said):
    result = run("fit", "record", "jobs/job.toml", "--belt", "ann", "--girth", girth, status=2)
    assert said in result.output
    assert not (shop / "records").exists()


def test_what_cannot_be_is_refused_a_line_each(shop):
    result = run(
        "fit", "record", "jobs/job.toml", "--belt", "ann", "--girth", "9=955mm", "--slot", "2 mm",
        "--post-gap", "e = 1", status=1,
    )  # fmt: skip
    assert [line.split(":")[1] for line in result.output.splitlines()] == [
        " --girth",
        " --slot",
        " --post-gap",
    ]
    unknown = run("fit", "record", "jobs/job.toml", "--belt", "dee", "--slot", "2 mm", status=1).output
    assert unknown == 'error: --belt: found no belt "dee" in job, expected one of: ann, bo, cy\n'
    assert not (shop / "records").exists()


def test_half_a_hole_off_is_a_caution(shop):
    result = run("fit", "record", "jobs/job.toml", "--belt", "ann", "--girth", "4 = 975 mm")
    assert "count the holes again" in result.output


def test_without_a_shop_it_lies_beside_the_job(tmp_path):
    job = shutil.copy(ONE, tmp_path)
    catalogue = ONE.replace("one-belt", "catalogue")
    belt = json.loads(run("draft", job, "--catalogue", catalogue, "--json").output)["belts"][0]
    girth = f"1 = {belt['girth_mm'][0]} mm"
    recorded = run(
        "fit", "record", job, "--catalogue", catalogue, "--belt", belt["id"], "--girth", girth, "--json"
    )
    assert abs(json.loads(recorded.output)["rows"][0]["miss_mm"]) <= 0.005
    assert (tmp_path / "records" / "fit.toml").exists()
