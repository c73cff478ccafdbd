"""``strapwright kerf``: coupon, record, show, and planning that stops where nothing was measured."""

from __future__ import annotations

import json
import re
import shlex
import tomllib
from datetime import date, timedelta
from pathlib import Path

import pytest
from tests.cli.runner import ONE, SIDE, run

from strapwright.cli.terminal.options import MATERIALS
from strapwright.rules.leather import Tannage

LEATHER = ("--material", "vegetable", "--thickness", "3.6mm")


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    """A machine file of the maker's own."""
    path = tmp_path / "my laser.toml"
    run("machines", "copy", "wide-laser", path)
    return path


def record(machine: Path, *more: str, status: int = 0):
    return run("kerf", "record", "--machine", machine, *more, status=status)


def test_the_materials_are_the_tannages_there_are():
    assert tuple(str(tannage) for tannage in Tannage) == MATERIALS


def test_a_coupon_is_written_proven_and_explained(tmp_path):
    said = run(
        "kerf", "coupon", "--machine", "wide-laser", "--thickness", "9 oz", "--out", tmp_path / "c"
    ).output
    assert {path.name for path in (tmp_path / "c").iterdir()} == {
        "kerf-coupon.dxf",
        "kerf-coupon.svg",
        "kerf-coupon-sheet.txt",
    }
    assert "under 0.000001 mm" in said
    assert "push all 10 strips together, grain side up" in said
    assert "Never leave a running laser unattended" in said
    assert "--thickness 3.572mm" in said


def test_a_coupon_as_json_is_json_alone(tmp_path):
    told = json.loads(
        run(
            "kerf", "coupon", "--machine", "closed-laser", "--out", tmp_path, "--format", "svg", "--json"
        ).stdout
    )
    assert told["strips"] == 10
    assert told["pitch_mm"] == 10.0
    assert told["cross_mm"] == [200.0, 200.0]
    assert told["kerf_mm"] == 0.0
    assert [Path(name).name for name in told["files"]] == ["kerf-coupon.svg", "kerf-coupon-sheet.txt"]


def test_chrome_leather_on_a_laser_is_refused_for_a_coupon_too(tmp_path):
    asked = ("kerf", "coupon", "--machine", "wide-laser", "--material", "chrome", "--out", tmp_path / "c")
    assert "refused on a laser as a precaution" in run(*asked, status=1).output
    assert not (tmp_path / "c").exists()
    assert "Leather of chrome tannage is cut by laser" in run(*asked, "--accept-fume-risk").output


def test_a_record_shows_its_working_and_is_used_from_then_on(mine, tmp_path):
    before = mine.read_text("utf-8")
    more = ("--strips", "98.1mm,98.0", "--strips", "98.05 mm", "--cross-x", "200.8mm", "--cross-y", "199.9")
    said = record(mine, *LEATHER, *more).output
    assert "k = (n·w·s − M) / n" in said
    assert "(10 × 10 × 1.004 − 98.1) / 10" in said
    assert "+4.0 mm in a metre along x" in said
    after = mine.read_text("utf-8")
    row = tomllib.loads(after)["kerf"][-1]
    assert row == {
        "material": "vegetable",
        "thickness": "3.6 mm",
        "width": "0.235 mm",
        "measured": date.today(),
        "spread": "0.01 mm",
        "speed_mm_s": 12,
        "power_percent": 80,
        "passes": 2,
    }
    assert tomllib.loads(after)["scale"] == [{"x": 1.004, "y": 0.9995, "measured": date.today()}]
    assert all(line in after.splitlines() for line in before.splitlines())
    cut = ("cut", ONE, "--hide", SIDE, "--machine", mine, "--out", tmp_path / "o", "--steps", "1", "--json")
    made = json.loads(run(*cut).stdout)
    rows = [(2.8, 0.20), (3.6, 0.235), (4.4, 0.27)]
    assert rows[0][1] < made["kerf_mm"] <= rows[2][1]
    assert "axis-scale" in {found["code"] for found in made["findings"]}


@pytest.mark.parametrize(
    "strips",
    [
        ("98,1mm",),
        ("98,1",),
        ("98,1mm,98.1mm",),
        ("98,1mm; 98,1mm",),
        ("98.1,98.1,98.1",),
        ("98.1mm,98.1",),
        ("98,1 mm, 98,1 mm",),
    ],
)
def test_readings_take_a_decimal_comma(mine, strips):
    made = json.loads(record(mine, *LEATHER, "--strips", *strips, "--json").stdout)
    assert made["kerf_mm"] == pytest.approx(0.19)


def test_a_later_record_takes_the_scale_on_file_and_round_holes_are_cut_by_their_own_kerf(mine, tmp_path):
    record(mine, "--cross-x", "200.8mm", "--cross-y", "199.0mm", "--date", "2026-03-01")
    said = record(
        mine, *LEATHER, "--strips", "98.1", "--strips-y", "97.2", "--hole", "5.5;5.52", "--cross-y", "199.0"
    ).output
    assert "[[scale]] of 2026-03-01" in said
    assert "scale was taken as 1" not in said
    row = tomllib.loads(mine.read_text("utf-8"))["kerf"][-1]
    assert row["width"] == "0.23 mm"  # across x (100.4 − 98.1) / 10, across y (99.5 − 97.2) / 10
    assert row["hole_width"] == "0.5125 mm"  # 5.51 − (1.004 + 0.995) / 2 × 5
    assert "0.5125" in run("kerf", "show", "--machine", mine).output


def test_a_record_as_json_has_the_working(mine):
    told = json.loads(record(mine, *LEATHER, "--strips", "98.1", "--slot", "9.6", "--json").stdout)
    assert told["kerf_mm"] == pytest.approx(0.19)
    assert told["ladder_kerf_mm"] == pytest.approx(0.2)
    assert told["scale_x"] is None
    assert [step["label"] for step in told["working"]] == ["kerf by the comb", "kerf by the ladder"]
    assert told["rows"][0]["measured"] == str(date.today())


def test_what_was_not_measured_or_does_not_agree_is_told(mine):
    said = record(mine, *LEATHER, "--strips", "98.1", "--slot", "9.3").output
    assert "the cross was never measured along x, so the scale was taken as 1" in said
    assert "comb and ladder differ by 0.16 mm" in said


def test_the_drive_may_be_told_and_stands_in_the_row(mine):
    drive = ("--speed", "9.5", "--power", "70", "--passes", "1", "--date", "2026-02-03")
    record(mine, *LEATHER, "--slot", "9.6", *drive)
    row = tomllib.loads(mine.read_text("utf-8"))["kerf"][-1]
    assert (row["speed_mm_s"], row["power_percent"], row["passes"]) == (9.5, 70, 1)
    assert row["measured"] == date(2026, 2, 3)
    assert row["width"] == "0.2 mm"


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ((*LEATHER, "--strips", "9.81mm"), "error: --strips 9.81 mm: expected 80 mm to less than 100 mm"),
        (("--strips", "98.1"), "error: a kerf is of one leather: give --material and --thickness"),
        ((), "error: nothing was read: give --strips, --strips-y, --slot, --hole, --cross-x or --cross-y"),
        ((*LEATHER, "--cross-x", "20"), "error: --cross-x 20 mm: the arm is drawn 200 mm"),
        (
            ("--material", "synthetic", "--thickness", "2", "--strips", "98.1"),
            "error: Synthetic stock is never cut on a laser",
        ),
        (
            ("--material", "vegetable", "--thickness", "36", "--strips", "98.1"),
            "error: --thickness 36 mm: expected",
        ),
        (
            (*LEATHER, "--strips", "98.1", "--date", "2999-01-01"),
            "error: --date 2999-01-01: expected today, ",
        ),
    ],
)
def test_absurd_readings_are_refused_and_the_file_stays(mine, more, message):
    before = mine.read_text("utf-8")
    assert message in record(mine, *more, status=1).output
    assert mine.read_text("utf-8") == before


@pytest.mark.parametrize("value", ["98,1mm;", "98,1,98,0", "98,98.1", "wide", "98.1 furlong", ""])
def test_a_reading_that_is_no_length_is_a_wrong_call(mine, value):
    assert "--strips" in record(mine, *LEATHER, "--strips", value, status=2).output


def test_a_shipped_profile_is_never_written():
    refused = run("kerf", "record", "--machine", "wide-laser", *LEATHER, "--strips", "98.1", status=1).output
    assert "strapwright machines copy wide-laser my-wide-laser.toml" in refused


def test_a_knife_records_its_scale_alone(tmp_path):
    knife = tmp_path / "knife.toml"
    run("machines", "copy", "drag-knife", knife)
    assert "takes no leather away" in record(knife, *LEATHER, "--strips", "98.1", status=1).output
    record(knife, "--cross-y", "200.1")
    assert tomllib.loads(knife.read_text("utf-8"))["scale"] == [{"y": 1.0005, "measured": date.today()}]
    shown = run("kerf", "show", "--machine", knife).output
    assert "its blade takes no leather away" in shown
    assert "y 1.00050" in shown
    assert (
        "nothing to draw"
        in run("kerf", "show", "--machine", knife, "--out", tmp_path / "k.svg", status=1).output
    )


def test_show_tells_what_counts_what_is_history_and_what_is_too_old(mine, tmp_path):
    text = mine.read_text("utf-8").replace("# kerf_max_age_days = 180", "kerf_max_age_days = 100")
    mine.write_text(text, "utf-8")
    record(mine, *LEATHER, "--strips", "98.1")
    old = str(date.today() - timedelta(days=101))
    record(mine, "--material", "chrome", "--thickness", "2", "--strips", "98.2", "--date", old)
    told = json.loads(run("kerf", "show", "--machine", mine, "--out", tmp_path / "k.svg", "--json").stdout)
    states = [(row["material"], row["thickness_mm"], row["state"]) for row in told["kerf"]]
    assert ("vegetable", 3.6, "history") in states
    assert ("vegetable", 3.6, "in use") in states
    assert ("chrome", 2.0, "too old") in states
    assert (tmp_path / "k.svg").read_text("utf-8").startswith("<?xml")
    shown = run("kerf", "show", "--machine", mine).output
    assert "vegetable: good for leather from 2 to 4.4 mm thick; beyond it planning stops." in shown
    assert "chrome: good for leather of 2 mm alone" in shown


def test_a_machine_that_was_never_measured_says_how_to_begin(tmp_path):
    bare = tmp_path / "bare.toml"
    bare.write_text('[machine]\nname = "bare"\nkind = "laser"\nbed = [2600, 1300]\n', "utf-8")
    said = run("kerf", "show", "--machine", bare).output
    assert f"no kerf measured yet; begin with: strapwright kerf coupon --machine {bare}" in said
    cut = ("cut", ONE, "--hide", SIDE, "--machine", bare, "--out", tmp_path / "o", "--steps", "1")
    assert f"cut a test piece: strapwright kerf coupon --machine {bare} " in run(*cut, status=1).output
    assert not (tmp_path / "o").exists()
    run(*cut, "--kerf", "0.2mm")


def test_a_drawing_goes_to_an_svg_and_over_nothing_of_the_makers(mine, tmp_path):
    assert (
        "expected a name that ends in .svg"
        in run("kerf", "show", "--machine", mine, "--out", tmp_path / "k.png", status=1).output
    )
    there = tmp_path / "k.svg"
    there.write_text("mine", "utf-8")
    assert "--force overwrites it" in run("kerf", "show", "--machine", mine, "--out", there, status=1).output
    run("kerf", "show", "--machine", mine, "--out", there, "--force")
    assert there.read_text("utf-8").startswith("<?xml")


def test_printed_commands_quote_names_and_can_be_pasted(tmp_path):
    own = tmp_path / "my laser.toml"
    said = run("machines", "copy", "wide-laser", own).output
    (command,) = [line.partition("then: ")[2] for line in said.splitlines() if "then: strapwright" in line]
    assert shlex.split(command) == ["strapwright", "machines", "check", str(own)]
    text = re.sub(r"\[\[kerf\]\].*?(?=\n\[)", "", own.read_text("utf-8"), flags=re.DOTALL)
    own.write_text(text, "utf-8")
    said = run("kerf", "show", "--machine", own).output
    command = said.partition("begin with: ")[2].strip()
    assert shlex.split(command)[-2:] == ["--machine", str(own)]
