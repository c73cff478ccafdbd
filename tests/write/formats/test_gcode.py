"""G-code as it is written: standard words, safe order, the machine's frame and units, the outline check."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest
from tests.machine.layouts import layout, strap
from tests.write.plans import driven_knife, driven_laser, driven_plan

from strapwright.core.errors import FileProblems, ProofError
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import Axes, machine_from
from strapwright.machine.profile.tool_keys import GcodeLines, Laser
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.drive import trace_drive
from strapwright.write.formats.gcode import Gcode
from strapwright.write.proof.read_back import check_cuts_nothing, prove
from strapwright.write.readers.gcode import read_gcode
from strapwright.write.readers.path import feed_words

HEAD = "G21\nG17\nG90\nM5\n"
BED = Axes(0.0, 0.0, 1, 1)


def text_of(made) -> str:
    return Gcode().to_text(made.sheets[0], made)


def bare(text: str) -> list[str]:
    """The lines without comments, empty ones left out."""
    return [line for line in (re.sub(r"\([^)]*\)", "", line).strip() for line in text.splitlines()) if line]


def test_a_laser_is_off_on_every_rapid_and_burns_only_with_power():
    lines = bare(text_of(driven_plan()))
    assert lines[:4] == ["G21", "G17", "G90", "M5"]
    assert lines[-2:] == ["M5", "M2"]
    on = False
    for line in lines:
        on = line.startswith("M3") or (on and line != "M5")
        assert not (on and line.startswith("G0"))
        assert on or not line.startswith(("G1 ", "G2 ", "G3 "))
    powers = {line for line in lines if line.startswith("M3")}
    assert powers == {"M3 S800.00", "M3 S600.00", "M3 S400.00"}


def test_feeds_are_millimetres_a_minute_from_the_profile():
    feeds = {re.search(r"F([\d.]+)", line)[1] for line in bare(text_of(driven_plan())) if "F" in line}
    assert feeds == {"720.0000", "5400.0000", "3600.0000"}


def test_a_knife_holds_no_spindle_word_and_begins_with_it_off():
    lines = bare(text_of(driven_plan(driven_knife())))
    words = [line for line in lines if line.startswith("M")]
    assert words == ["M5", "M5", "M2"]
    assert not any("S" in line for line in lines)
    assert lines.index("M5") < min(k for k, line in enumerate(lines) if "X" in line)


def test_the_header_says_that_the_spindle_is_off_and_locked():
    text = " ".join(line.strip("()") for line in text_of(driven_plan(driven_knife())).splitlines()[:40])
    assert "Keep the spindle off and locked" in text
    assert "job: two belts" in text
    assert "hide: Marrow side" in text


def test_comments_are_ascii_short_and_hold_nothing_a_controller_obeys():
    made = plan(layout((strap("Žofie (2); go!"), 120, 60, 0)), driven_laser(), job_name="α~?!; (M3)")
    text = text_of(made)
    assert text.isascii()
    comments = re.findall(r"^\((.*)\)$", text, flags=re.M)
    assert len(comments) > 20
    assert not [c for c in comments if set(c) & set("()!~?;%$")]
    assert max(len(line) for line in text.splitlines()) < 81
    assert prove(text, "gcode", made.sheets[0], made).paths_read == len(made.sheets[0].paths)


def test_passes_go_deeper_and_none_deeper_than_the_blade_may():
    made = driven_plan(driven_knife(depth_per_pass=1.5, swivel_depth=None))
    depths = {float(z) for z in re.findall(r"^G1 Z(-[\d.]+)", text_of(made), flags=re.M)}
    assert depths == {-0.5, -1.4, -2.8, -4.2}


def test_the_blade_turns_shallow_and_goes_in_at_its_plunge_speed():
    text = text_of(driven_plan(driven_knife(swivel_depth=0.3, plunge_mm_s=7.5)))
    plunges = set(re.findall(r"^G1 Z(-[\d.]+) F([\d.]+)$", text, flags=re.M))
    assert plunges == {("-0.3000", "450.0000"), ("-0.5000", "450.0000"), ("-4.2000", "450.0000")}


def test_without_a_cut_depth_it_is_the_leathers_thickness_and_a_little_into_the_bed():
    for keys, expected in (({}, {-3.9}), ({"into_bed": 0.4, "depth_per_pass": 2}, {-2.0, -4.0})):
        made = driven_plan(driven_knife(cut_depth=None, **keys))
        depths = {float(z) for z in re.findall(r"^G1 Z(-[\d.]+)", text_of(made), flags=re.M)}
        assert depths == {-0.4, -0.5} | expected


@pytest.mark.parametrize("units", ["mm", "in"])
def test_z_may_be_counted_from_the_bed(units):
    made = driven_plan(driven_knife(z_zero="bed", passes=2, machine={"units": units}))
    text = text_of(made)
    scale = 25.4 if units == "in" else 1.0
    heights = {round(float(z) * scale, 3) for z in re.findall(r"^G1 Z(-?[\d.]+)", text, flags=re.M)}
    # The leather is 3.6 mm: scores at 3.1, turns at 3.2, the passes at 3.6 − 2.1 and 3.6 − 4.2.
    assert heights == {3.1, 3.2, 1.5, -0.6}
    assert {round(float(z) * scale, 3) for z in re.findall(r"^G0 Z([\d.]+)", text, flags=re.M)} == {8.6}
    assert "(Z zero: on the bed, beside the leather, whose face is 3.6 mm" in text
    proof = prove(text, "gcode", made.sheets[0], made)
    assert 0 < proof.blade_deviation_mm < 0.005


@pytest.mark.parametrize("passes", [1, 3])
def test_every_pass_is_a_run_of_its_own(passes):
    made = driven_plan(driven_knife(passes=passes))
    proof = prove(text_of(made), "gcode", made.sheets[0], made)
    cuts = sum(path.operation == "cut" for path in made.sheets[0].paths)
    runs = tool_runs(made.sheets[0], made.machine)
    assert proof.paths_read == len(runs)
    assert len({(run.path, run.passes_done) for run in runs if run.operation == "cut"}) == passes * cuts


@pytest.mark.parametrize("machine", [driven_laser, driven_knife], ids=["laser", "knife"])
def test_the_same_plan_gives_the_same_text(machine):
    assert text_of(driven_plan(machine())) == text_of(driven_plan(machine()))


FRAMES = {
    "the corner opposite": ({"origin": "back_right"}, lambda x, y: (1000 - x, 600 - y)),
    "mirrored, x to the left": ({"origin": "front_right"}, lambda x, y: (1000 - x, y)),
    "y below nothing": ({"origin": "back_left", "y_axis": "back"}, lambda x, y: (x, y - 600)),
    "in inches": ({"units": "in"}, lambda x, y: (x / 25.4, y / 25.4)),
}


@pytest.mark.parametrize("case", FRAMES)
def test_the_machines_own_origin_axes_and_units_are_honoured(case):
    keys, own = FRAMES[case]
    made = driven_plan(driven_laser(**keys))
    text = text_of(made)
    assert bare(text)[0] == ("G20" if "units" in keys else "G21")
    x, y = (float(v) for v in re.search(r"^G0 X([-\d.]+) Y([-\d.]+)", text, flags=re.M).groups())
    assert (x, y) == pytest.approx(own(*made.sheets[0].paths[0].contour.starts[0]), abs=1e-4)
    assert prove(text, "gcode", made.sheets[0], made).greatest_deviation_mm < 1e-4


def test_the_outline_check_goes_round_the_job_with_the_tool_off():
    for machine in (driven_laser(), driven_knife()):
        made = driven_plan(machine)
        text = write_plan(made, ["gcode"], "a").texts["a-outline.nc"]
        lines = bare(text)
        assert not any(
            re.search(r"S|M3|M4|G1|G2|G3", line) for line in lines if line != "G17" and line != "G21"
        )
        corners = np.array(
            [[float(v) for v in re.findall(r"[XY]([-\d.]+)", line)] for line in lines if "X" in line]
        )
        assert len(corners) == 5
        boxes = np.array([path.contour.bounding_box for path in made.sheets[0].paths])
        slack = 0.0 if machine.blade is None else 2.1 * machine.blade.offset + 20
        assert (corners.min(axis=0) <= boxes[:, :2].min(axis=0) + 1e-4).all()
        assert (corners.min(axis=0) >= boxes[:, :2].min(axis=0) - slack - 1e-4).all()
        assert (corners.max(axis=0) >= boxes[:, 2:].max(axis=0) - 1e-4).all()


def traced(**laser):
    machine = driven_laser().model_copy(update={"laser": Laser(**laser)})
    made = driven_plan(machine)
    return made, write_plan(made, ["gcode"], "a").texts["a-outline.nc"]


def test_the_outline_check_has_its_beam_on_only_at_the_power_the_profile_gives_for_it():
    made, text = traced(trace_power=2)
    machine = made.machine
    runs = read_gcode(text, machine.kind, machine.axes, machine)
    assert [run.layer for run in runs] == [feed_words(*trace_drive(machine), 0.0)]
    assert f"M3 S{0.02 * machine.max_power:.2f}" in text
    assert "The beam is on at 2 percent of its power" in text.replace(")\n(", " ")
    stronger = text.replace(f"S{0.02 * machine.max_power:.2f}", f"S{0.2 * machine.max_power:.2f}")
    with pytest.raises(ProofError, match="must cut nothing cuts"):
        check_cuts_nothing(stronger, "gcode", made.sheets[0], made)
    silent = dataclasses.replace(made, machine=driven_laser())
    with pytest.raises(ProofError, match="must cut nothing cuts"):
        check_cuts_nothing(text, "gcode", made.sheets[0], silent)


def test_a_pointer_goes_round_instead_of_the_beam():
    _, text = traced(pointer_on="M65 P2", pointer_off="M66 P2")
    lines = bare(text)
    assert lines.index("M65 P2") < min(k for k, line in enumerate(lines) if "X" in line)
    assert lines.index("M66 P2") > max(k for k, line in enumerate(lines) if "X" in line)
    assert not any(line.startswith("M3") for line in lines)


def test_the_machines_own_lines_air_and_beam_word_stand_where_the_tool_is_off():
    own = GcodeLines(start=("G54", "G4 P1"), end=("M50",))
    beam = Laser(air_on="M8", air_off="M9", dynamic_power="M4")
    machine = driven_laser().model_copy(update={"laser": beam, "gcode": own})
    made = driven_plan(machine)
    text = text_of(made)
    lines = bare(text)
    assert lines[lines.index("M5") : lines.index("M5") + 4] == ["M5", "G54", "G4 P1", "M8"]
    assert lines[-4:] == ["M5", "M9", "M50", "M2"]
    assert not any(line.startswith("M3") for line in lines)
    assert any(line.startswith("M4 S") for line in lines)
    assert prove(text, "gcode", made.sheets[0], made).greatest_deviation_mm < 1e-4
    # Another machine does not take these words, nor this one where the beam is on.
    with pytest.raises(ProofError, match="G54, which strapwright never writes"):
        read_gcode(text, "laser", machine.axes, driven_laser())
    burning = text.replace("M5\nM5\nM9", "M9")
    with pytest.raises(ProofError, match="stands where the tool is not off"):
        read_gcode(burning, "laser", machine.axes, machine)


@pytest.mark.parametrize(
    ("table", "keys", "message"),
    [
        ("gcode", {"start": ["G0 X5"]}, "gcode.start"),
        ("gcode", {"start": ["G4 P1", "g91"]}, "G91 moves"),
        ("gcode", {"end": ["M03"]}, "M03 moves, turns the tool on"),
        ("gcode", {"end": ["M9 (air)"]}, "expected words of G-code"),
        ("laser", {"air_on": "M8"}, "laser.air_off: missing; what turns it on"),
        ("laser", {"air_off": "M9"}, "laser.air_on: missing"),
        ("laser", {"pointer_on": "M3 S10", "pointer_off": "M66"}, "M3 moves, turns the tool on"),
        ("laser", {"dynamic_power": "M5"}, "means something else"),
        ("laser", {"trace_power": 40}, "laser.trace_power"),
        (
            "laser",
            {"trace_power": 1, "pointer_on": "M65", "pointer_off": "M66"},
            "there is a pointer to trace with",
        ),
    ],
)
def test_words_that_would_move_or_burn_are_refused(table, keys, message):
    profile = {"name": "l", "kind": "laser", "bed": [600, 400]}
    with pytest.raises(FileProblems) as caught:
        machine_from({"machine": profile, table: keys}, "l.toml")
    assert message in str(caught.value)
    assert len(caught.value.problems) == 1


def test_a_knife_has_no_beam():
    profile = {"name": "k", "kind": "drag_knife", "bed": [600, 400]}
    blade = {"offset": 0.6, "max_thickness": 4.0}
    with pytest.raises(FileProblems, match="a drag knife has no beam"):
        machine_from({"machine": profile, "blade": blade, "laser": {"lead_in": 2}}, "k.toml")


UNSAFE = {
    "a rapid with the beam on": ("G0 X0 Y0\nM3 S9\nG1 X5 F9\nG0 X9\nM5\nM2\n", "travels with the beam on"),
    "a beam before it was off": ("M3 S9\n", "before M5 has turned it off"),
    "no feed": ("G0 X0 Y0\nM3 S9\nG1 X5\n", "moves without a feed"),
    "cut short": ("G0 X0 Y0\nM3 S9\nG1 X5 F9\nM5\n", "ends too soon"),
    "left on": ("G0 X0 Y0\nM3 S9\nG1 X5 F9\nM2\n", "ends with the beam on"),
    "no number": ("G0 Xa\n", "expected words of a letter and a number"),
    "a word nobody writes": ("G92 X0\n", "holds G92"),
    "a letter nobody writes": ("G0 X0 P3\n", "beyond what strapwright writes"),
    "after the end": ("M2\nG0 X0\n", "after the end"),
    "a place without a motion": ("X5\n", "names a place and no motion"),
    "an unround arc": ("G0 X0 Y0\nM3 S9\nG2 X10 Y0 I5.003 J0 F9\n", "may differ by 0.002 mm"),
    "an arc to itself": ("G0 X0 Y0\nM3 S9\nG2 X0 Y0 I5 J0 F9\n", "an arc from a place to itself"),
    "an arc without a centre": ("G0 X0 Y0\nM3 S9\nG2 X10 Y0 F9\n", "without its end or its centre"),
    "units changed on the way": ("G0 X0 Y0\nG20\n", "changes the units on the way"),
    "cutting from nowhere": ("M3 S9\nG1 X5 F9\n", "from a place that is not known"),
}


@pytest.mark.parametrize("case", UNSAFE)
def test_what_a_laser_must_not_be_told_is_refused(case):
    body, why = UNSAFE[case]
    head = HEAD.replace("M5\n", "") if "before it was off" in case else HEAD
    with pytest.raises(ProofError, match=why):
        read_gcode(head + body, "laser", BED)


UNSAFE_KNIFE = {
    "a spindle started": ("M3\n", "starts the spindle"),
    "a spindle's speed": ("S5000\n", "a speed of the spindle"),
    "a rapid in the leather": ("G0 Z5\nG0 X0 Y0\nG1 Z-1 F9\nG0 X9\n", "travels with the blade down"),
    "a rapid before it was lifted": ("G0 X0 Y0\n", "before it was lifted"),
    "a drop at full speed": ("G0 Z5\nG0 X0 Y0\nG0 Z-1\n", "drops the blade at full speed"),
    "a cut before it was lifted": ("G1 X0 Y0 F9\n", "moves before the blade was lifted"),
    "left down": ("G0 Z5\nG0 X0 Y0\nG1 Z-1 F9\nG1 X9\nM5\nM2\n", "ends with the blade down"),
}


@pytest.mark.parametrize("case", UNSAFE_KNIFE)
def test_what_a_knife_must_not_be_told_is_refused(case):
    body, why = UNSAFE_KNIFE[case]
    with pytest.raises(ProofError, match=why):
        read_gcode(HEAD + body, "drag_knife", BED)


def test_nothing_moves_before_units_and_distances_are_set():
    with pytest.raises(ProofError, match="moves before units"):
        read_gcode("M5\nG0 X0 Y0\n", "laser", BED)


def test_the_standards_own_arc_is_read_as_it_says():
    # NISTIR 6556, 3.5.3.2: from (7, 7), G17 G2 x 10 y 16 i 3 j 4 has its centre at (10, 11), radius 5.
    [run] = read_gcode(f"{HEAD}G0 X7 Y7\nM3 S1\nG2 X10 Y16 I3 J4 F60\nM5\nM2\n", "laser", BED)
    assert run.contour.centres[0] == pytest.approx([10, 11])
    assert run.contour.radii[0] == pytest.approx(5)
    assert np.degrees(run.contour.sweeps[0]) == pytest.approx(-143.1301, abs=1e-4)


CORNERS = ["front_left", "front_right", "back_left", "back_right"]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("origin", CORNERS)
def test_nothing_goes_past_the_bed_wherever_its_zero_lies(origin, units):
    machine = driven_laser(origin=origin, units=units)
    scale = 1.0 if units == "mm" else 25.4
    head = HEAD.replace("G21", "G21" if units == "mm" else "G20")
    width, depth = machine.bed
    for x, y in ((0, 0), (width, 0), (0, depth), (width, depth)):
        for out_x, out_y in ((0, 0), (0.01, 0), (0, 0.01)):
            there = (x + (out_x if x else -out_x), y + (out_y if y else -out_y))
            mx, my = (value / scale for value in machine.axes.of(*there))
            text = f"{head}G0 X{mx:.6f} Y{my:.6f}\nM2\n"
            if out_x or out_y:
                with pytest.raises(ProofError, match=r"line 5 of the G-code goes to .* along the bed's"):
                    read_gcode(text, "laser", machine.axes, machine)
            else:
                assert read_gcode(text, "laser", machine.axes, machine) == []


@pytest.mark.parametrize("word", ["G2", "G3"])
@pytest.mark.parametrize("turn", range(0, 360, 15))
def test_an_arc_may_not_leave_the_bed_on_its_way(word, turn):
    """Checked against the arc's own points, taken densely: it goes as far as the furthest of them."""
    machine = driven_laser()
    sign = 1 if word == "G3" else -1
    for sweep in (20, 100, 200, 300):
        angles = np.radians(turn + sign * np.linspace(0, sweep, 4001))
        for axis, edge in ((0, 0.0), (0, machine.bed[0]), (1, 0.0), (1, machine.bed[1])):
            ring = 20.0 * np.column_stack([np.cos(angles), np.sin(angles)])
            far = ring[:, axis].max() if edge else ring[:, axis].min()
            centre = np.array([500.0, 300.0])
            for out in (-0.01, 0.01):
                centre[axis] = edge - far + (out if edge else -out)
                (x, y), (x1, y1) = centre + ring[0], centre + ring[-1]
                i, j = -ring[0]
                text = f"{HEAD}G0 X{x:.4f} Y{y:.4f}\nM3 S1\n"
                if out > 0 and not 0 <= (x, y)[axis] <= machine.bed[axis]:
                    continue  # its start is past the edge already, which another test is about
                text += f"{word} X{x1:.4f} Y{y1:.4f} I{i:.4f} J{j:.4f} F60\nM5\nM2\n"
                if out < 0:
                    assert len(read_gcode(text, "laser", machine.axes, machine)) == 1
                else:
                    with pytest.raises(ProofError, match="line 7 of the G-code goes to"):
                        read_gcode(text, "laser", machine.axes, machine)


def test_runs_in_another_order_fail():
    made = driven_plan()
    text = text_of(made)
    runs = re.findall(r"^G0 X.*?^M5\n", text, flags=re.M | re.S)
    swapped = text.replace(runs[0], "@").replace(runs[-1], runs[0]).replace("@", runs[-1])
    with pytest.raises(ProofError, match=r"is [\d.]+ mm off|cutting order"):
        prove(swapped, "gcode", made.sheets[0], made)
