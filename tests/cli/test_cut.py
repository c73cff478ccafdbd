"""`nest` and `cut`: files whole or not at all, nothing dropped in silence, no fumes."""

from __future__ import annotations

import json
from xml.sax.saxutils import escape

import pytest
from tests.cli import made_once
from tests.cli.runner import BATCH, ONE, SIDE, run

from strapwright.drawing import png
from strapwright.drawing.svg import svg
from strapwright.rules.safety import cautions

QUICK = ("--steps", "2", "--seed", "1")


def cut(job, out, *more, machine="wide-laser", status=0):
    return run("cut", job, "--hide", SIDE, "--machine", machine, "--out", out, *QUICK, *more, status=status)


@pytest.fixture
def chrome(tmp_path):
    """A job of chrome leather."""
    return job_of(tmp_path, "chrome")


def job_of(folder, tannage):
    job = folder / f"{tannage}.toml"
    job.write_text(
        f'[leather]\nthickness = "3.6 mm"\ntannage = "{tannage}"\n'
        '[[belt]]\nid = "one"\nsize = { girth = 900 }\nbuckle = "single-40"\n'
    )
    return job


def test_the_batch_becomes_proven_files(tmp_path):
    text = cut(BATCH, tmp_path).output
    assert "16 / 16" in text
    assert "files checked to" in text
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {
        "stage-crew-autumn-order.dxf",
        "stage-crew-autumn-order.svg",
        "stage-crew-autumn-order-sheet.txt",
        "layout.json",
        "layout.png",
    }


@pytest.mark.slow
def test_the_same_seed_and_steps_give_the_same_bytes(tmp_path, monkeypatch):
    cut(BATCH, tmp_path / "one")
    monkeypatch.setattr(made_once, "MADE", {})
    cut(BATCH, tmp_path / "two")
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_json_alone_is_on_stdout_and_names_the_files(tmp_path):
    data = json.loads(cut(ONE, tmp_path, "--json", "--format", "dxf").stdout)
    assert [proof["format"] for proof in data["proofs"]] == ["dxf"]
    assert data["proofs"][0]["greatest_deviation_mm"] <= 0.001
    assert data["unplaced"] == []
    assert not list(tmp_path.glob("*.svg"))


def test_a_layout_is_cut_as_it_was_nested_and_refused_for_another_job(tmp_path):
    run("nest", ONE, "--hide", SIDE, *QUICK, "--out", tmp_path)
    layout = tmp_path / "layout.json"
    cut(ONE, tmp_path / "cut", "--layout", layout, machine="drag-knife")
    assert (
        json.loads((tmp_path / "cut" / "layout.json").read_text("utf-8"))["placed"]
        == json.loads(layout.read_text("utf-8"))["placed"]
    )
    refused = cut(BATCH, tmp_path / "other", "--layout", layout, machine="drag-knife", status=1)
    assert "job" in refused.output
    assert not (tmp_path / "other").exists()


def test_what_finds_no_place_is_listed_and_nothing_is_written_without_partial(tmp_path):
    hide = tmp_path / "offcut.toml"
    hide.write_text(
        '[hide]\nname = "offcut"\npoints = [[0, 0], [1240, 0], [1240, 130], [0, 130]]\n', encoding="utf-8"
    )
    arguments = ("cut", BATCH, "--hide", hide, "--machine", "wide-laser", "--out", tmp_path / "out", *QUICK)
    refused = run(*arguments, status=1)
    assert "not placed: tomasz/strap: " in refused.output
    assert "none written; --partial" in refused.output
    assert not (tmp_path / "out").exists()
    partial = run(*arguments, "--partial", status=1)
    assert "not placed: tomasz/strap: " in partial.output
    assert partial.output.splitlines()[-1].startswith("not placed: ")  # where it is seen
    assert list((tmp_path / "out").glob("*.dxf"))


def test_a_part_longer_than_the_bed_is_refused_by_id(tmp_path):
    result = cut(ONE, tmp_path / "out", "--kerf", "0.2", machine="closed-laser", status=1)
    assert "error: halvard/strap" in result.output
    assert "480" in result.output
    assert not (tmp_path / "out").exists()


def test_a_file_of_ones_own_in_the_way_stops_everything(tmp_path):
    mine = tmp_path / "layout.png"
    mine.write_bytes(b"mine")
    result = cut(ONE, tmp_path, status=1)
    assert "layout.png: already exists and strapwright did not write it" in result.output
    assert [path.name for path in tmp_path.iterdir()] == ["layout.png"]
    assert mine.read_bytes() == b"mine"
    cut(ONE, tmp_path, "--force")
    assert mine.read_bytes().startswith(b"\x89PNG")


def test_chrome_on_a_laser_needs_the_makers_word(chrome, tmp_path):
    refused = cut(chrome, tmp_path / "out", status=1).output
    assert "chromium(VI)" in refused
    assert "--accept-fume-risk" in refused
    assert not (tmp_path / "out").exists()
    unmeasured = cut(chrome, tmp_path / "out", "--accept-fume-risk", status=1).output
    assert "kerf" in unmeasured
    cut(chrome, tmp_path / "out", "--accept-fume-risk", "--kerf", "0.3 mm")
    assert "caution" in (tmp_path / "out" / "chrome-sheet.txt").read_text("utf-8").lower()


def test_synthetic_stock_on_a_laser_is_refused_whatever_is_passed(tmp_path):
    job = job_of(tmp_path, "synthetic")
    for more in ((), ("--accept-fume-risk",), ("--accept-fume-risk", "--force", "--kerf", "0.2")):
        result = cut(job, tmp_path / "out", *more, status=1)
        assert "hydrogen chloride" in result.output
    assert not (tmp_path / "out").exists()
    cut(job, tmp_path / "knife", machine="drag-knife")


def test_a_knife_may_cut_chrome(chrome, tmp_path):
    assert "spindle off" in cut(chrome, tmp_path / "out", machine="drag-knife").output


def test_holes_too_small_for_the_knife_are_left_to_the_punch_and_said_so(tmp_path):
    text = cut(ONE, tmp_path, machine="drag-knife").output
    assert "7 × adjusting hole of 5.5 mm: 'drag knife' makes round holes from 6 mm" in text
    assert "Punch them by hand, 5.5 mm." in text
    rows = (tmp_path / "Halvards-work-belt-sheet.txt").read_text("utf-8").partition("Punch by hand")[2]
    assert "     5.5 mm  halvard/strap   7 x adjusting hole\n" in rows


def test_a_wide_kerf_raises_the_gap_and_says_so(tmp_path):
    job = tmp_path / "tight.toml"
    job.write_text(job_of(tmp_path, "vegetable").read_text() + "[layout]\ngap = 0.1\n")
    assert (
        "The gap between parts was increased from 0.1 to 0.3 mm"
        in cut(job, tmp_path / "o", "--kerf", "0.3").output
    )


@pytest.fixture
def pictures(monkeypatch):
    """What PNGs are made of while a test runs."""
    drawn: list[str] = []
    made = png.png_of

    def seen(canvas, density=png.DENSITY):
        drawn.append(svg(canvas))
        return made(canvas, density)

    monkeypatch.setattr(png, "png_of", seen)
    return drawn


def test_cautions_stand_in_every_file_for_the_machine_and_on_its_sheet_but_not_under_pictures(
    tmp_path, pictures
):
    said = cut(ONE, tmp_path).output
    assert "Never leave a running laser unattended" in said
    for name in ("Halvards-work-belt.dxf", "Halvards-work-belt.svg", "Halvards-work-belt-sheet.txt"):
        assert "Never leave a running laser unattended" in (tmp_path / name).read_text("utf-8")
    [picture] = pictures
    assert (tmp_path / "layout.png").read_bytes().startswith(b"\x89PNG")
    for caution in cautions("bench"):  # they stand on the sheet, once
        assert escape(caution) not in picture


def test_an_unknown_format_is_refused_with_the_list(tmp_path):
    assert (
        'format "dwg" is not known; expected one of' in cut(ONE, tmp_path, "--format", "dwg", status=1).output
    )


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (("--format", "dwg"), 'format "dwg" is not known'),
        (("--machine", "closed-laser", "--kerf", "0.2"), "mm long; the bed of 'closed laser'"),
        (("--out", ONE), "one-belt.toml: found a file, expected a folder or a new name"),
        (("--out", f"{ONE}/deeper"), "found a file, expected a folder or a new name"),
    ],
)
def test_what_will_be_refused_is_refused_before_the_nest_begins(tmp_path, more, message):
    result = cut(ONE, tmp_path / "out", *more, status=1)
    assert message in result.output
    assert "laying the parts" not in result.output


def test_a_layout_edited_by_hand_is_refused_before_a_new_one_is_sought(tmp_path):
    cut(ONE, tmp_path)
    with (tmp_path / "layout.png").open("ab") as picture:
        picture.write(b"a note")
    for again in (
        cut(ONE, tmp_path, status=1),
        run("nest", ONE, "--hide", SIDE, *QUICK, "--out", tmp_path, status=1),
    ):
        assert "layout.png: was edited since strapwright wrote it; --force overwrites it" in again.output
        assert "laying the parts" not in again.output


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "line 1, column 2: not JSON, so not a layout file; nest the job again"),
        ("[" * 100_000, "not a layout file: "),
        ("[1, 2]", "found a list, expected a table"),
    ],
)
def test_what_is_no_layout_file_is_refused_in_one_line(tmp_path, text, message):
    layout = tmp_path / "layout.json"
    layout.write_text(text)
    result = cut(ONE, tmp_path / "out", "--layout", layout, status=1)
    assert result.output.startswith(f"error: {layout}: {message}")
    assert len(result.output.splitlines()) == 1


@pytest.mark.parametrize("name", ["layout", "Layout"])
def test_a_job_named_as_the_layouts_files_loses_none_of_its_own(tmp_path, name):
    job = tmp_path / "job.toml"
    job.write_text(f'[job]\nname = "{name}"\n' + job_of(tmp_path, "vegetable").read_text())
    cut(job, tmp_path / "out")
    assert {path.name.casefold() for path in (tmp_path / "out").iterdir()} == {
        *("layout.json", "layout.png"),
        *("layout-cut.dxf", "layout-cut.svg", "layout-cut-sheet.txt"),
    }
    assert "<g id=" in (tmp_path / "out" / f"{name}-cut.svg").read_text("utf-8")


def test_cut_files_an_earlier_cut_left_beside_the_new_ones_are_pointed_out(tmp_path):
    cut(ONE, tmp_path)
    (tmp_path / "Halvards-work-belt-drawn-by-hand.svg").write_text("<svg/>")
    assert "earlier cut" not in cut(ONE, tmp_path).output
    again = cut(ONE, tmp_path, "--format", "svg", "--json")
    old = tmp_path / "Halvards-work-belt.dxf"
    assert f"caution: {old} is from an earlier cut" in again.stderr
    assert again.stderr.count("earlier cut") == 1
    assert json.loads(again.stdout)["version"] == 1


def test_the_drafts_findings_stand_on_every_sheet(tmp_path, pictures):
    """The batch has a fold that may crack: sheet, picture, table and JSON all say so."""
    said = "The grain stretches 44% where 3.6 mm leather folds round this bar"
    result = cut(BATCH, tmp_path, "--steps", "1")
    assert said in result.stdout
    (sheet,) = tmp_path.glob("*-sheet.txt")
    text = " ".join(sheet.read_text("utf-8").split())
    assert f"caution: wren, marit: {said}" in text
    assert text.count(said) == 1
    [picture] = pictures
    assert f"caution: wren, marit: {said}" in picture
    codes = [
        found["code"]
        for found in json.loads(run("nest", BATCH, "--hide", SIDE, "--steps", "1", "--json").stdout)[
            "findings"
        ]
    ]
    assert codes.count("fold-strain") == 2


@pytest.fixture
def stopped(tmp_path):
    """A job of two belts, one of which no screw post holds."""
    job = tmp_path / "crew.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "sound"\nsize = { girth = 900 }\nbuckle = "single-40"\n'
        '[[belt]]\nid = "thin"\nsize = { girth = 900 }\nbuckle = "single-40"\n'
        'fastener_holes = { stacks = ["3 mm", "3 mm"] }\n'
    )
    return job


STOP = "The stack at rows A and B is 3.0 mm, less than the shortest in the catalogue"


def test_a_belt_that_a_finding_stops_refuses_the_job(stopped, tmp_path):
    result = cut(stopped, tmp_path / "out", status=1)
    assert f"error: thin: {STOP}" in result.stderr
    assert "fix it, or use --partial to cut the rest" in result.stderr
    assert not (tmp_path / "out").exists()


def test_partial_leaves_out_a_belt_that_a_finding_stops_and_names_it(stopped, tmp_path):
    out = tmp_path / "out"
    result = cut(stopped, out, "--partial", status=1)
    assert f"not placed: thin/strap, thin/keeper: left out: {STOP}" in result.stderr
    (dxf,) = out.glob("*.dxf")
    assert f"stop: thin: {STOP}" in " ".join((out / "crew-sheet.txt").read_text("utf-8").split())
    assert "sound/keeper" in (out / "crew-sheet.txt").read_text("utf-8")
    assert "thin/keeper" not in (out / "crew-sheet.txt").read_text("utf-8")
    first = dxf.read_bytes()
    again = cut(stopped, tmp_path / "again", "--partial", "--layout", out / "layout.json", "--json", status=1)
    assert (tmp_path / "again" / dxf.name).read_bytes() == first
    data = json.loads(again.stdout)
    assert {left["id"] for left in data["unplaced"]} == {"thin/strap", "thin/keeper"}
    assert set(data["placed"]) == {"sound/strap", "sound/keeper"}


def test_partial_leaves_a_stopped_belt_out_of_a_layout_that_has_it(stopped, tmp_path):
    run("nest", stopped, "--hide", SIDE, "--out", tmp_path, *QUICK)
    result = cut(
        *(stopped, tmp_path / "out", "--partial", "--layout", tmp_path / "layout.json", "--json"), status=1
    )
    assert set(json.loads(result.stdout)["placed"]) == {"sound/strap", "sound/keeper"}


def test_partial_of_stopped_belts_alone_is_refused(stopped, tmp_path):
    text = stopped.read_text().replace(
        '"single-40"\n[[', '"single-40"\nfastener_holes = { stacks = [3, 3] }\n[['
    )
    stopped.write_text(text)
    result = cut(stopped, tmp_path / "out", "--partial", status=1)
    assert f"error: sound: {STOP}" in result.stderr
    assert "--partial" not in result.stderr


def test_sheet_and_card_say_what_a_machine_leaves_to_the_hand(tmp_path):
    profile = tmp_path / "plain-laser.toml"
    run("machines", "copy", "wide-laser", profile)
    text = profile.read_text("utf-8")
    for name in ("score", "punch"):
        text = text.replace(f"[operation.{name}]", f"[operation.{name}]\nenabled = false")
    profile.write_text(text, "utf-8")
    said = cut(ONE, tmp_path / "out", machine=profile).output
    assert "'wide laser' does not score, so nothing of it is in its files." in said
    sheet = (tmp_path / "out" / "Halvards-work-belt-sheet.txt").read_text("utf-8")
    assert "  score  left to the hand: nothing of it is in the files\n" in sheet
    laid = ("--hide", SIDE, "--layout", tmp_path / "out" / "layout.json")
    run("card", ONE, *laid, "--machine", profile, "--out", tmp_path / "card.html")
    card = (tmp_path / "card.html").read_text("utf-8")
    assert "does not score, so nothing of it is in its files." in card
    assert "the machine scores nothing" in card
    assert "Mark by the table and punch the holes that the machine leaves out" in card
    assert "Crease 3 mm from the edge." in card
    run("card", ONE, *laid, "--machine", "wide-laser", "--out", tmp_path / "whole.html")
    assert "the machine scores nothing" not in (tmp_path / "whole.html").read_text("utf-8")
