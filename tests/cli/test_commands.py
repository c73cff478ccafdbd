"""Every command: help with an example, usage mistakes, exit statuses."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from tests.cli.runner import BATCH, ONE, SIDE, run

from strapwright import __version__
from strapwright.cli.main import COMMANDS


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    text = run(name, "--help").output
    assert f"Example: strapwright {name}" in text


def test_the_help_lists_every_command_in_the_order_of_work():
    text = run("--help").output
    listed = text[text.index("Commands:") :]
    places = [listed.index(f"\n  {name} ") for name in COMMANDS]
    assert places == sorted(places)


def test_the_version_is_told():
    assert run("--version").output == f"strapwright {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("drafft", ONE), 'no such command "drafft"; did you mean "draft"?'),
        (("draft",), "Missing argument 'JOB'"),
        (("nest", ONE), "Missing option '--hide'"),
        (("cut", ONE, "--hide", SIDE, "--out", "x"), "Missing option '--machine'"),
        (("nest", ONE, "--hide", SIDE, "--time", "soon"), 'found "soon", expected a time such as 5s'),
        (("nest", ONE, "--hide", SIDE, "--time", "-3s"), 'found "-3s", expected a time such as 5s'),
        (("nest", ONE, "--hide", SIDE, "--steps", "0"), "0 is not in the range x>=1"),
        (
            ("cut", ONE, "--hide", SIDE, "--machine", "wide-laser", "--out", "x", "--kerf", "thin"),
            'found "thin", expected a length such as "44 mm"',
        ),
        (("schema", "belt"), "'belt' is not one of 'job', 'house', 'catalogue', 'hide', 'strips', 'machine'"),
    ],
)
def test_a_wrong_call_exits_with_2_and_says_how(arguments, message):
    assert message in run(*arguments, status=2).output


@pytest.mark.parametrize("what", ["job", "house", "catalogue", "hide", "strips", "machine"])
def test_the_schemas_are_json_schema(what):
    schema = json.loads(run("schema", what).stdout)
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert schema["type"] == "object"
    assert schema["additionalProperties"] is False


def test_the_installed_command_answers():
    command = Path(sys.executable).with_name("strapwright")
    done = subprocess.run([command, "draft", BATCH, "--json"], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout)["version"] == 1
    said = [
        line for line in done.stderr.splitlines() if not line.startswith("drafting ")
    ]  # on a busy machine
    assert said == []


def test_a_missing_job_is_one_line_and_exit_1(tmp_path):
    result = run("draft", tmp_path / "nothing.toml", status=1)
    assert result.output == f"error: {tmp_path / 'nothing.toml'}: no such file\n"


def test_machines_lists_shows_checks_and_copies(tmp_path):
    listed = run("machines").output
    names = {"closed-laser", "drag-knife", "knife-plotter", "small-laser", "wide-laser"}
    for name in names:
        assert name in listed
    assert "A drag knife in the collet of a router" in listed
    assert {m["name"] for m in json.loads(run("machines", "--json").stdout)["machines"]} == names
    mine = tmp_path / "mine.toml"
    run("machines", "copy", "wide-laser", mine)
    assert mine.read_text("utf-8") == run("machines", "show", "wide-laser").output
    assert ": good: wide laser, laser, bed 2600 × 1300 mm, " in run("machines", "check", mine).output
    mine.write_text(mine.read_text("utf-8").replace('kind = "laser"', 'kind = "lazer"'), "utf-8")
    assert f"{mine}: machine.kind: found " in run("machines", "check", mine, status=1).output


def test_a_profile_being_edited_is_not_copied_over(tmp_path):
    mine = tmp_path / "mine.toml"
    run("machines", "copy", "wide-laser", mine)
    mine.write_text(mine.read_text("utf-8") + "# my own note\n", "utf-8")
    refused = run("machines", "copy", "wide-laser", mine, status=1).output
    assert "--force overwrites it" in refused
    assert mine.read_text("utf-8").endswith("# my own note\n")


def test_an_unknown_machine_suggests_the_nearest():
    result = run("machines", "show", "wide-lazer", status=1).output
    assert 'did you mean "wide-laser"?' in result
