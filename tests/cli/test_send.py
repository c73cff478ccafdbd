"""``strapwright send``: who may be sent what, the typed confirmation, and copies whole or not at all."""

from __future__ import annotations

import json
import os
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from tests.cli.runner import run
from tests.write.controller import controller
from tests.write.plans import driven_plan

from strapwright.cli import send as module
from strapwright.cli.main import command
from strapwright.files.whole import write_whole
from strapwright.machine.profile import read_machine
from strapwright.write.cut_files import write_plan

if TYPE_CHECKING:
    from pathlib import Path

PROFILE = """version = 2
[machine]
name = "shed laser"
kind = "laser"
bed = [1000, 600]
max_power = 1000
formats = ["gcode", "svg"]
[serial]
baud = 115200
hold = "!"
resume = "~"
reset = "\\u0018"
[[kerf]]
material = "vegetable"
thickness = 3.6
width = 0.2
measured = 2026-03-01
"""
for _name, _pen in (("cut", 1), ("score", 2), ("punch", 3)):
    PROFILE += f'[operation.{_name}]\nlayer = "{_name}"\ncolor = "#00000{_pen}"\n'
    PROFILE += "speed_mm_s = 20\npower_percent = 50\n"


@pytest.fixture
def shed(tmp_path):
    """A folder with a profile and the files cut for it."""
    (tmp_path / "my.toml").write_text(PROFILE)
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode", "svg"], "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    return tmp_path


def asked(shed: Path, *more: object, status: int = 1, **how: object):
    words = ["send", shed / "belts.nc", "--machine", shed / "my.toml", *more]
    result = CliRunner().invoke(command, [str(word) for word in words], **how)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.exit_code == status, result.output
    return result


def test_the_help_says_that_the_machines_own_stop_comes_first():
    text = " ".join(run("send", "--help").output.split())
    assert "THE MACHINE'S OWN STOP COMES FIRST." in text
    assert "Example: strapwright send" in text


def test_without_armed_nothing_is_sent_and_the_hazards_are_told(shed):
    with controller() as made:
        result = asked(shed, "--port", made.port)
        assert made.lines == []
    assert "nothing was sent: add --armed" in result.stderr
    assert "eye protection" in result.stderr


def test_without_a_terminal_nothing_is_sent(shed):
    with controller() as made:
        assert "typed by hand, at a terminal" in asked(shed, "--port", made.port, "--armed").stderr
        assert made.lines == []


def test_the_confirmation_names_the_hazards_and_must_be_typed(shed, monkeypatch):
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    with controller() as made:
        result = asked(shed, "--port", made.port, "--armed", input="yes\n")
        assert made.lines == []
    assert 'Type "fire, fumes and laser light" to start' in result.stderr
    assert 'nothing was sent: found "yes", expected "fire, fumes and laser light"' in result.stderr


def test_once_confirmed_every_line_is_sent(shed, monkeypatch):
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    with controller() as made:
        result = asked(
            *(shed, "--port", made.port, "--armed", "--json"), status=0, input="fire, fumes and laser light\n"
        )
        lines = made.lines
    assert lines[:4] == ["G21", "G17", "G90", "M5"]
    assert lines[-1] == "M2"
    assert not any("(" in line for line in lines)
    assert json.loads(result.stdout) == {"sent": str(shed / "belts.nc"), "lines": len(lines), "version": 1}
    assert f"{len(lines)} of {len(lines)} lines" in result.stderr


def test_a_fault_ends_with_status_one_and_says_where(shed, monkeypatch):
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    with controller(error_at=9) as made:
        result = asked(shed, "--port", made.port, "--armed", input="fire, fumes and laser light\n")
    assert "error: the machine refused at line 9 of" in result.stderr
    assert "Traceback" not in result.output


def test_a_port_that_is_not_there_is_told_with_those_there_are(shed, monkeypatch):
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    result = asked(shed, "--port", "/dev/ttyNone9", "--armed", input="fire, fumes and laser light\n")
    assert "error: port /dev/ttyNone9 cannot be opened: no such file or directory; " in result.stderr


def spoil(shed: Path, old: str, new: str) -> None:
    text = (shed / "belts.nc").read_text()
    assert old in text
    (shed / "belts.nc").write_text(text.replace(old, new, 1))


def test_a_file_changed_since_it_was_written_is_neither_sent_nor_copied(shed):
    spoil(shed, "M3 S500.00", "M3 S900.00")
    assert "or was changed since; its proof no longer holds" in asked(shed, "--port", "x", "--armed").stderr
    (shed / "watched").mkdir()
    assert "or was changed since" in asked(shed, "--to", shed / "watched").stderr
    assert list((shed / "watched").iterdir()) == []


def test_a_file_for_another_machine_is_not_sent(shed):
    (shed / "my.toml").write_text(PROFILE.replace("shed laser", "other laser"))
    assert "was written for another machine than 'other laser'" in asked(shed, "--port", "x").stderr


def test_a_file_that_would_be_unsafe_is_not_sent(shed):
    (shed / "my.toml").write_text(
        PROFILE.replace('kind = "laser"', 'kind = "drag_knife"')
        .replace("max_power = 1000\n", "")
        .split("[[kerf]]")[0]
        + "[blade]\noffset = 0.6\nmax_thickness = 4\n"
    )
    assert "is not safe for 'shed laser': line" in asked(shed, "--port", "x").stderr


def test_a_machine_without_a_serial_line_is_told_so(shed):
    (shed / "my.toml").write_text(
        PROFILE.replace('[serial]\nbaud = 115200\nhold = "!"\nresume = "~"\nreset = "\\u0018"\n', "")
    )
    assert "its profile has no [serial]" in asked(shed, "--port", "x").stderr


def test_only_gcode_goes_over_a_line(shed):
    (shed / "belts.nc").unlink()
    result = asked(shed, "--port", "x")
    assert "belts.nc: cannot be read: no such file or directory" in result.stderr
    words = ["send", str(shed / "belts.svg"), "--machine", str(shed / "my.toml"), "--port", "x"]
    assert "only G-code (.nc) is sent" in CliRunner().invoke(command, words).stderr


def test_one_way_must_be_chosen(shed):
    assert "give either --port to send, or --to FOLDER" in asked(shed, status=2).stderr


def test_a_copy_is_whole_and_needs_no_arming(shed):
    folder = shed / "watched"
    folder.mkdir()
    result = asked(shed, "--to", folder, status=0)
    assert result.stdout == f"copied: {folder / 'belts.nc'}\n"
    assert (folder / "belts.nc").read_bytes() == (shed / "belts.nc").read_bytes()
    assert [path.name for path in folder.iterdir()] == ["belts.nc"]
    asked(shed, "--to", folder, status=0)  # the same again is no harm
    assert "is the file itself" in asked(shed, "--to", shed).stderr


def test_a_drive_that_is_not_mounted_is_no_folder(shed):
    assert "see that the drive is mounted" in asked(shed, "--to", shed / "stick").stderr
    assert not (shed / "stick").exists()


def test_something_in_the_way_is_kept(shed):
    folder = shed / "watched"
    folder.mkdir()
    (folder / "belts.nc").write_text("G0 X0\n")
    assert "is there already and strapwright did not write it" in asked(shed, "--to", folder).stderr
    assert (folder / "belts.nc").read_text() == "G0 X0\n"


def test_a_full_disk_leaves_nothing_half_written(shed, monkeypatch):
    folder = shed / "watched"
    folder.mkdir()

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "belts.nc: cannot be written: no space left on device" in asked(shed, "--to", folder).stderr
    assert list(folder.iterdir()) == []


def test_a_folder_that_may_not_be_written_to_is_told(shed, monkeypatch):
    folder = shed / "watched"
    folder.mkdir()

    def refused(*_args, **_how):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refused)
    assert "belts.nc: cannot be written: permission denied" in asked(shed, "--to", folder).stderr
