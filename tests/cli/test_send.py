"""``strapwright send``: who may be sent what, the typed confirmation, and copies whole or not at all."""

from __future__ import annotations

import json
import os
import re
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from tests.cli.runner import run
from tests.write.controller import controller
from tests.write.plans import driven_plan

from strapwright.cli import send as module
from strapwright.cli.main import command
from strapwright.files.atomic_write import MARK, sealed, write_whole
from strapwright.machine.profile.machine import read_machine
from strapwright.write.cut_files import write_plan

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.slow

SERIAL = """[serial]
baud = 115200
acknowledgement = "ok"
error = "error"
alarm = "LIMIT"
greeting = "BENCH"
buffer = 128
hold = "!"
resume = "~"
reset = "\\u0018"
"""
PROFILE = f"""[machine]
name = "shed laser"
kind = "laser"
bed = [1000, 600]
max_power = 1000
formats = ["gcode", "svg"]
{SERIAL}[[kerf]]
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
        assert (
            "type the confirmation by hand, at a terminal"
            in asked(shed, "--port", made.port, "--armed").stderr
        )
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
    assert re.search(r"^3 of 3 parts, about (\d+) of \1 min$", result.stderr, re.MULTILINE)


def test_a_fault_ends_with_status_one_and_says_where(shed, monkeypatch):
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    with controller(error_at=9) as made:
        result = asked(shed, "--port", made.port, "--armed", input="fire, fumes and laser light\n")
    where = re.search(r'the machine refused at line (\d+) of the file, "(.*)" with "error: 9"', result.stderr)
    assert where, result.stderr
    assert (shed / "belts.nc").read_text().splitlines()[int(where[1]) - 1] == where[2]
    assert "Traceback" not in result.output


def test_without_a_reset_word_it_is_confirmed_that_only_the_machines_switch_stops_it(shed, monkeypatch):
    (shed / "my.toml").write_text(PROFILE.replace('reset = "\\u0018"\n', ""))
    monkeypatch.setattr(module, "at_terminal", lambda: True)
    hazards = "fire, fumes and laser light\n"
    with controller() as made:
        for typed in (hazards, f"yes\n{hazards}", "only its own switch stops it\nyes\n"):
            assert "nothing was sent" in asked(shed, "--port", made.port, "--armed", input=typed).stderr
        assert made.taken == b""
        typed = f"only its own switch stops it\n{hazards}"
        result = asked(shed, "--port", made.port, "--armed", input=typed, status=0)
        assert made.lines[-1] == "M2"
    assert "names no word (serial.reset) that ends a run with the tool off" in result.stderr


def test_armed_it_says_what_no_program_can_catch(shed):
    told = asked(shed, "--port", "x").stderr
    assert (
        "A program that is killed, a computer that sleeps or fails and a cable that is pulled send no stop"
        in told
    )
    assert "will not be noticed" not in told
    (shed / "my.toml").write_text(PROFILE.replace('error = "error"\nalarm = "LIMIT"\n', ""))
    told = asked(shed, "--port", "x").stderr
    assert "what a refused line or an alarm looks like (serial.error, serial.alarm): it will not" in told


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
    assert "or was changed since; its check no longer holds" in asked(shed, "--port", "x", "--armed").stderr
    (shed / "watched").mkdir()
    assert "or was changed since" in asked(shed, "--to", shed / "watched").stderr
    assert list((shed / "watched").iterdir()) == []


CHANGED = {
    "machine.name": ("shed laser", "other laser"),
    "machine.bed": ("bed = [1000, 600]", "bed = [1100, 600]"),
    "machine.origin": ("max_power", 'origin = "back_left"\ny_axis = "back"\nmax_power'),
    "machine.x_axis": ("max_power", 'x_axis = "left"\nmax_power'),
    "machine.y_axis": ("max_power", 'y_axis = "front"\nmax_power'),
    "machine.units": ("max_power", 'units = "in"\nmax_power'),
    "machine.max_power": ("max_power = 1000", "max_power = 255"),
    "operation.cut.pen": ('"#000001"\n', '"#000001"\npen = 5\n'),
}


@pytest.mark.parametrize("way", ["--port", "--to"])
@pytest.mark.parametrize(("key", "change"), CHANGED.items())
def test_a_file_made_by_another_profile_goes_nowhere_and_the_key_is_named(shed, key, change, way):
    assert change[0] in PROFILE
    (shed / "my.toml").write_text(PROFILE.replace(*change, 1))
    (shed / "watched").mkdir()
    result = asked(shed, way, shed / "watched")
    assert (
        f"belts.nc: was made for another machine or another profile: {key}: the file says " in result.stderr
    )
    assert list((shed / "watched").iterdir()) == []


KNIFE = (
    PROFILE.replace('kind = "laser"', 'kind = "drag_knife"')
    .replace("max_power = 1000\n", "")
    .replace("power_percent = 50\n", "")
    .replace('[[kerf]]\nmaterial = "vegetable"\nthickness = 3.6\nwidth = 0.2\nmeasured = 2026-03-01\n', "")
    + "[blade]\noffset = 0.6\nmax_thickness = 4\ncut_depth = 3.7\n"
)


@pytest.mark.parametrize("way", ["--port", "--to"])
def test_a_file_for_another_kind_of_machine_goes_nowhere(shed, way):
    (shed / "my.toml").write_text(KNIFE)
    assert "machine.kind: the file says laser, the profile of" in asked(shed, way, shed).stderr


@pytest.mark.parametrize(
    ("key", "old", "new"),
    [
        ("blade.offset", "offset = 0.6", "offset = 0.7"),
        ("blade.cut_depth", "cut_depth = 3.7", "cut_depth = 3.8"),
        ("blade.swivel_angle", "offset = 0.6", 'offset = 0.6\nswivel_angle = "2 deg"'),
        ("blade.mode", "offset = 0.6", 'offset = 0.6\nmode = "plain"'),
    ],
)
def test_a_file_for_another_blade_goes_nowhere(tmp_path, key, old, new):
    (tmp_path / "my.toml").write_text(KNIFE)
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode"], "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    assert "nothing was sent: add --armed" in asked(tmp_path, "--port", "x").stderr
    (tmp_path / "my.toml").write_text(KNIFE.replace(old, new))
    assert f"another profile: {key}: the file says " in asked(tmp_path, "--port", "x").stderr


@pytest.mark.parametrize(
    ("key", "was", "now", "old", "new"),
    [
        ("operation.cut.speed_mm_s", "20", "25", "speed_mm_s = 20", "speed_mm_s = 25"),
        ("operation.cut.power_percent", "50", "45", "power_percent = 50", "power_percent = 45"),
        ("operation.cut.passes", "1", "2", "power_percent = 50", "power_percent = 50\npasses = 2"),
        ("kerf.vegetable.3.6mm", "0.2", "0.25", "width = 0.2", "width = 0.25"),
        ("kerf.vegetable.3.6mm", "0.2", "nothing", "thickness = 3.6", "thickness = 2.6"),
        ("operation.cut.speed_mm_s", "20", "9", "width = 0.2", "width = 0.2\nspeed_mm_s = 9"),
    ],
)
def test_another_speed_power_or_kerf_is_a_caution_that_names_the_key(shed, key, was, now, old, new):
    assert "caution" not in asked(shed, "--port", "x").stderr
    assert old in PROFILE
    (shed / "my.toml").write_text(PROFILE.replace(old, new, 1))
    (shed / "watched").mkdir()
    for result in (asked(shed, "--port", "x"), asked(shed, "--to", shed / "watched", status=0)):
        said = f"{key}: the file says {was}, the profile now {now}; what runs is the file's."
        assert f"caution: {shed / 'belts.nc'}: {said}" in result.stderr


def test_every_format_carries_the_seal_and_is_copied_only_to_its_machine(tmp_path):
    every = PROFILE.replace('["gcode", "svg"]', '["gcode", "svg", "dxf", "dxf_r12", "hpgl"]')
    (tmp_path / "my.toml").write_text(every)
    plan = driven_plan(read_machine(str(tmp_path / "my.toml")))
    files = write_plan(plan, plan.machine.formats, "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    (tmp_path / "watched").mkdir()
    names = set(files.texts) - {"belts-sheet.txt"}
    assert len(names) == 7
    for name in names:
        words = ["send", tmp_path / name, "--machine", tmp_path / "my.toml", "--to", tmp_path / "watched"]
        (tmp_path / "my.toml").write_text(every.replace("bed = [1000, 600]", "bed = [1000, 610]"))
        assert "of 'shed laser' 1000, 610;" in run(*words, status=1).stderr
        (tmp_path / "my.toml").write_text(every.replace('"svg", "dxf", "dxf_r12", "hpgl"', '"svg"'))
        if not name.endswith((".nc", ".svg")):
            assert "and machine 'shed laser' reads gcode, svg" in run(*words, status=1).stderr
        (tmp_path / "my.toml").write_text(every)
        assert run(*words).stderr == ""
    assert {path.name for path in (tmp_path / "watched").iterdir()} == names


@pytest.mark.parametrize("way", ["--port", "--to"])
@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("decimals = 4", "decimals = 3", "decimals: the file says 3, the profile of 'shed laser' 4;"),
        (
            "(profile: machine.bed = 1000, 600)\n",
            "",
            "machine.bed: the file says nothing, the profile",
        ),
        ("(profile: ", "(was: ", "does not say which profile it was made with"),
        ("(job: two belts)", "(profile: machine.bed = 9, 9)", "does not say which profile it was made with"),
    ],
)
def test_a_seal_that_lacks_something_or_says_two_things_is_none(shed, old, new, says, way):
    resealed(shed, old, new, every=True)
    (shed / "watched").mkdir()
    assert says in asked(shed, way, shed / "watched").stderr
    assert list((shed / "watched").iterdir()) == []


@pytest.mark.parametrize("z", ["Z-3.7010", "Z5.0010", "Z-37"])
def test_a_blade_goes_no_deeper_and_no_higher_than_its_profile_says(tmp_path, z):
    (tmp_path / "my.toml").write_text(KNIFE)
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode"], "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    old = "Z5.0000" if z.startswith("Z5") else "Z-3.7000"
    resealed(tmp_path, old, z)
    assert re.search(
        r"not safe for 'shed laser': line \d+ .* goes to Z ", asked(tmp_path, "--port", "x").stderr
    )


def test_a_blade_whose_zero_is_the_bed_may_not_travel_in_the_leather(tmp_path):
    (tmp_path / "my.toml").write_text(KNIFE + 'z_zero = "bed"\n')
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode"], "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    assert "nothing was sent: add --armed" in asked(tmp_path, "--port", "x").stderr
    resealed(tmp_path, "Z8.6000", "Z3.0000", every=True)  # the leather's face is 3.6 mm above the bed
    told = asked(tmp_path, "--port", "x").stderr
    assert re.search(
        r"not safe for 'shed laser': line \d+ of the G-code (drops|travels with) the blade", told
    )


def test_the_cut_sheet_is_no_file_for_a_machine(shed):
    words = ["send", shed / "belts-sheet.txt", "--machine", shed / "my.toml", "--to", shed]
    assert "belts-sheet.txt: " in run(*words, status=1).stderr


def resealed(shed: Path, old: str, new: str, *, every: bool = False) -> None:
    """Change the file and seal it again, as a fault of the writer would leave it."""
    text = (shed / "belts.nc").read_text()
    assert old in text
    head, rest = text.split("\n", 1)
    assert head.startswith("(strapwright-")
    (shed / "belts.nc").write_bytes(sealed(f"({MARK})\n{rest.replace(old, new, -1 if every else 1)}"))


@pytest.mark.parametrize("way", ["--port", "--to"])
@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("G0 X120.0000 Y43.0000", "G0 X1120.0000 Y43.0000", "goes to 1120.000 mm along the bed's x, which"),
        (
            "G0 X120.0000 Y43.0000",
            "G0 X120.0000 Y-0.1000",
            "goes to -0.100 mm along the bed's y, which reach",
        ),
        (
            "M2",
            "G0 X1000.0100 Y0.0000\nM2",
            "goes to 1000.010 mm along the bed's x, which reaches from 0 to 10",
        ),
        (
            "M2",
            "G0 X40.0000 Y10.0000\nM3 S1\nG2 X10.0000 Y10.0000 I-15.0000 J-1.0000 F60\nM5\nM2",
            "goes to -6.033 mm along the bed's y",
        ),
        ("M3 S500.00", "M3 S1000.02", "sets power S1000.02; the machine takes 0 to 1000"),
        ("M5\n", "S-1\nM5\n", "sets power S-1; the machine takes 0 to 1000"),
    ],
)
def test_every_place_and_power_is_looked_at_before_the_first_byte(shed, old, new, says, way):
    resealed(shed, old, new)
    (shed / "watched").mkdir()
    with controller() as made:
        how = made.port if way == "--port" else shed / "watched"
        result = asked(shed, way, how)
        assert made.taken == b""
    assert re.search(
        r"is not safe for 'shed laser': line \d+ of the G-code " + re.escape(says), result.stderr
    )
    assert list((shed / "watched").iterdir()) == []


def test_a_machine_without_a_serial_line_is_told_so(shed):
    (shed / "my.toml").write_text(PROFILE.replace(SERIAL, ""))
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
    assert "mount the drive" in asked(shed, "--to", shed / "stick").stderr
    assert not (shed / "stick").exists()


def test_something_in_the_way_is_kept(shed):
    folder = shed / "watched"
    folder.mkdir()
    (folder / "belts.nc").write_text("G0 X0\n")
    assert "already exists and strapwright did not write it" in asked(shed, "--to", folder).stderr
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


def test_a_file_that_stops_for_another_tool_is_copied_and_not_sent(tmp_path):
    group = 'group_by = "tool"\ntool_change = "by_hand"\n'
    (tmp_path / "my.toml").write_text(KNIFE.replace("[machine]\n", f"[machine]\n{group}", 1))
    files = write_plan(driven_plan(read_machine(str(tmp_path / "my.toml"))), ["gcode"], "belts")
    write_whole({tmp_path / name: text for name, text in files.texts.items()})
    line = 1 + files.texts["belts.nc"].splitlines().index("M0")
    said = asked(tmp_path, "--port", "x").stderr
    assert f"belts.nc: stops for another tool in line {line}, and nothing can be sent while" in said
    (tmp_path / "watched").mkdir()
    asked(tmp_path, "--to", tmp_path / "watched", status=0)
    assert (tmp_path / "watched" / "belts.nc").is_file()
