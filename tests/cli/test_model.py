"""`model`: a belt in the round, templates, what it says and what it refuses."""

from __future__ import annotations

import json

import pytest
from tests.cli.runner import BATCH, ONE, run

pytestmark = pytest.mark.slow


def test_a_model_and_a_template_are_written_and_told(tmp_path):
    out, plate = tmp_path / "belt.glb", tmp_path / "plate.stl"
    result = run("model", ONE, "--out", out, "--template", plate, "--template-of", "tip")
    assert out.read_bytes().startswith(b"glTF")
    assert plate.stat().st_size > 1000
    assert "halvard in the round, laid flat: leather 189.9 cm³, keeper 8.5 cm³, posts" in result.stdout
    assert "meet within 0.01 mm" in result.stdout
    assert f"template of the tip: {plate}, 274.7 mm long, 7 openings" in result.stdout
    stages = result.stderr.splitlines()
    assert stages[0] == "loading the solid modeller …"
    assert stages[-1] == "making the template …"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["belt.glb", "plate.stl"]


def test_json_is_all_there_is_on_stdout(tmp_path):
    result = run("model", ONE, "--template", tmp_path / "plate.step", "--json")
    data = json.loads(result.stdout)
    assert data["template"]["end"] == "buckle_end"
    assert [hole for hole in data["template"]["openings_mm"] if hole[0] == 0.0] == [[0.0, 0.0, 29.0, 6.0]]


def test_findings_are_told_and_the_status_is_0(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "one"\nsize = { girth = 900 }\nbuckle = "single-40"\n'
        'fastener_holes = { stacks = ["9 mm", "7.2 mm"] }\n'
    )
    result = run("model", job, "--out", tmp_path / "belt.step", "--worn")
    assert "one in the round, closed as worn" in result.stdout
    assert "caution   one  The 8.00 mm post at row A stands 0.78 mm proud" in result.stdout
    data = json.loads(run("model", job, "--out", tmp_path / "belt.step", "--json").stdout)
    assert data["findings"][0]["code"] == "post-proud"


def test_a_file_of_ones_own_is_not_overwritten_and_nothing_is_modelled_first(tmp_path):
    out = tmp_path / "belt.stl"
    out.write_text("mine")
    result = run("model", ONE, "--out", out, status=1)
    assert "strapwright did not write it; --force overwrites it" in result.stderr
    assert "loading" not in result.stderr
    assert out.read_text() == "mine"
    run("model", ONE, "--out", out, "--force")
    run("model", ONE, "--out", out)


@pytest.mark.parametrize(
    ("arguments", "status", "message"),
    [
        ((ONE,), 2, "say what to write: --out FILE for the belt, --template FILE for a template"),
        (
            (ONE, "--out", "belt.obj"),
            2,
            "found belt.obj, expected a name that ends in .step, .glb, .stl, .png",
        ),
        ((ONE, "--template", "plate.glb"), 2, "found plate.glb, expected a name that ends in .step, .stl"),
        ((BATCH, "--out", "x.glb"), 1, "the job has 7 belts; choose one with --belt: ines, oddny"),
        ((BATCH, "--out", "x.glb", "--belt", "odny"), 1, 'no belt "odny", only ines'),
        ((BATCH, "--out", "x.glb", "--belt", "odny"), 1, 'did you mean "oddny"?'),
        ((ONE, "--template", "x.stl", "--template-thickness", "40 mm"), 1, "allowed are 1 to 20 mm"),
    ],
)
def test_what_is_asked_wrongly_is_refused_in_one_line(arguments, status, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("model", *arguments, status=status)
    assert message in result.stderr
    assert not list(tmp_path.iterdir())


def test_a_job_of_straps_alone_has_no_belt_to_model(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
        '[[strap]]\nid = "bag"\nwidth = 30\nlength = 900\nends = [{ tip = "square" }, { tip = "round" }]\n'
    )
    assert (
        "only belts are modelled in the round"
        in run("model", job, "--out", tmp_path / "x.glb", status=1).stderr
    )
