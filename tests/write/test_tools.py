"""What a machine does not do, and what one tool does before the next: in every file, on sheet and card."""

from __future__ import annotations

import io
import re
from itertools import groupby

import ezdxf
import pytest
from tests.machine.layouts import keeper, layout, strap
from tests.write.plans import EVERY, driven_knife, driven_laser, driven_plan

from strapwright.core.errors import FileProblems, PlanError, ProofError
from strapwright.machine.planning import plan
from strapwright.machine.profile.machine import machine_from
from strapwright.machine.test_pieces.trial import trial
from strapwright.machine.toolpath.runs import tool_runs
from strapwright.machine.types import OUTLINE
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage
from strapwright.write.cut_files import write_plan
from strapwright.write.cut_sheet_text import cut_sheet
from strapwright.write.formats.format import FORMATS
from strapwright.write.proof.read_back import prove
from strapwright.write.readers.gcode import read_gcode
from strapwright.write.readers.hpgl import read_hpgl
from strapwright.write.test_pieces import trial_sheet

MANY = layout(*((strap(f"s{n}"), 150.0, 60.0 + 50 * n, 0.0) for n in range(6)), (keeper(), 560.0, 80.0, 0.0))


def without(machine, *operations: str):
    """A machine that leaves some operations to the hand."""
    tables = {
        name: getattr(machine.operation, name).model_copy(update={"enabled": False}) for name in operations
    }
    return machine.__class__(**{**vars(machine), "operation": machine.operation.model_copy(update=tables)})


def plotter(**table):
    """A knife plotter that allows for its blade itself."""
    return driven_knife(mode="plain", machine=table)


@pytest.mark.parametrize("left", [("score",), ("punch",), ("score", "punch")], ids="-".join)
def test_nothing_of_what_a_machine_does_not_do_is_in_its_files(left):
    made = driven_plan(without(driven_laser(), *left))
    done = {"cut", "score", "punch"} - set(left)
    [sheet] = made.sheets
    assert {path.operation.value for path in sheet.paths} == done
    files = write_plan(made, EVERY, "cut")
    for name in ("dxf", "dxf_r12"):
        document = ezdxf.read(io.StringIO(FORMATS[name].to_text(sheet, made)))
        assert {layer.dxf.name.casefold() for layer in document.layers} - {"0", "defpoints"} == done
        assert {entity.dxf.layer.casefold() for entity in document.modelspace()} == done
    assert set(re.findall(r'<g id="(\w+)"', files.texts["cut.svg"])) == done
    pens = {made.machine.settings(Operation(name)).pen for name in done}
    assert {int(pen) for pen in re.findall(r"SP([1-8]);", files.texts["cut.plt"])} == pens
    for name in left:
        assert f"operation.{name}." not in files.texts["cut.nc"]
        assert (
            f"  {name:<6} left to the hand: nothing of it is in the files\n" in files.texts["cut-sheet.txt"]
        )


def test_the_sheet_says_what_is_left_to_the_hand_and_what_to_do():
    said = " ".join(cut_sheet(driven_plan(without(driven_laser(), "score", "punch"))).split())
    assert (
        "2 × fold line (ada/strap 1, bo/strap 1): 'driven laser' does not score, so nothing of it is" in said
    )
    assert "8 × fastener hole (ada/strap 4, bo/strap 4) of 4.5 mm: 'driven laser' does not mark holes" in said
    assert "Mark them from the paper pattern (`strapwright pattern`) and punch them by hand, 4.5 mm." in said
    assert "Order: each part has its holes cut, its outline cut last." in said


def test_a_hole_too_small_is_not_marked_by_a_machine_that_marks_none():
    made = plan(layout((strap(holes=0.4), 100, 100, 0)), without(driven_laser(), "punch"), kerf=0.5)
    said = [found for found in made.findings if found.numbers.get("diameter_mm") == pytest.approx(0.4)]
    assert [found.code for found in said] == ["hole-to-punch"]
    assert "and marks none for the punch." in said[0].what
    assert not [path for path in made.sheets[0].paths if path.diameter]


@pytest.mark.parametrize(
    ("machine", "blade", "operation", "message"),
    [
        ({}, {}, {"cut": {"enabled": False}}, "operation.cut.enabled: found false, expected true: a machine"),
        (
            {},
            {},
            {"score": {"enabled": False}},
            'blade.mode = "exact" the blade turns as shallow as it scores',
        ),
        (
            {"ends_only": True},
            {"mode": "plain"},
            {"score": {"enabled": False}},
            "with machine.ends_only straps are laid by scored lines",
        ),
        ({"tool_change": "by_hand"}, {}, {}, 'set group_by = "tool"'),
    ],
)
def test_a_profile_that_cannot_work_is_refused_in_one_line(machine, blade, operation, message):
    content = {
        "machine": {"name": "m", "kind": "drag_knife", "bed": [600, 400], **machine},
        "blade": {"offset": 0.5, "max_thickness": 4, **blade},
        "operation": operation,
    }
    with pytest.raises(FileProblems) as caught:
        machine_from(content, "m.toml")
    [line] = caught.value.problems
    assert message in line


def test_a_laser_has_no_tool_to_change():
    table = {"name": "m", "kind": "laser", "bed": [600, 400], "group_by": "tool", "tool_change": "by_hand"}
    with pytest.raises(FileProblems, match="a laser has no tool to change"):
        machine_from({"machine": table}, "m.toml")


def test_edges_left_to_the_hand_need_a_machine_that_scores():
    machine = without(driven_laser(), "score")
    ends_only = machine.__class__(**{**vars(machine), "ends_only": True})
    with pytest.raises(PlanError, match="laid by scored lines; let it cut them whole"):
        driven_plan(ends_only)


def changes(text: str) -> int:
    """How often a plotter takes another pen after the first."""
    return len(re.findall(r"SP[1-8];", text)) - 1


def test_grouped_by_tool_a_pen_is_taken_once_and_holes_are_cut_before_their_outline():
    by_part, by_tool = (plan(MANY, plotter(group_by=group)) for group in ("part", "tool"))
    assert changes(FORMATS["hpgl"].to_text(by_part.sheets[0], by_part)) >= 12
    assert changes(FORMATS["hpgl"].to_text(by_tool.sheets[0], by_tool)) == 2
    paths = by_tool.sheets[0].paths
    assert [operation for operation, _ in groupby(path.operation for path in paths)] == [
        Operation.SCORE,
        Operation.PUNCH,
        Operation.CUT,
    ]
    key = [(path.part_id, path.name, path.contour.bounding_box) for path in paths]
    assert len(set(key)) == len(key) == len(by_part.sheets[0].paths)
    for part in {path.part_id for path in paths}:
        cuts = [path for path in paths if path.part_id == part and path.operation is Operation.CUT]
        assert [path.name == OUTLINE for path in cuts] == [False] * (len(cuts) - 1) + [True]
    sheet = cut_sheet(by_tool)
    assert (
        "Order: everything is scored, then marked for the punch, then the parts are cut one by one" in sheet
    )
    for name in EVERY:
        prove(FORMATS[name].to_text(by_tool.sheets[0], by_tool), name, by_tool.sheets[0], by_tool)


def by_hand(mode: str):
    """A knife whose tools are changed by hand."""
    machine = driven_knife(mode=mode, machine={"group_by": "tool", "tool_change": "by_hand"})
    wheel = machine.operation.score.model_copy(update={"tool": "creasing wheel"})
    operation = machine.operation.model_copy(update={"score": wheel})
    return machine.__class__(**{**vars(machine), "operation": operation})


@pytest.mark.parametrize("mode", ["plain", "exact"])
def test_a_file_stops_with_words_before_each_tool_that_is_put_in_by_hand(mode):
    made = plan(MANY, by_hand(mode))
    [sheet] = made.sheets
    runs = tool_runs(sheet, made.machine)
    tools = ["creasing wheel", "the tool that marks holes", "the tool that cuts"]
    assert [tool for tool, _ in groupby(run.tool for run in runs)] == tools
    gcode = FORMATS["gcode"].to_text(sheet, made)
    assert "(Tool at the start: creasing wheel)\n" in gcode
    assert re.findall(r"G0 Z\S+\n\(Stop. Put in: (.*)\)\n(?:\(.*\)\n)+M0\n", gcode) == tools[1:]
    hpgl = FORMATS["hpgl"].to_text(sheet, made)
    assert re.findall(r'PU;\nCO "Stop. Put in: (.*)";\nCO ".*";\nNR;\n', hpgl) == tools[1:]
    proof = prove(gcode, "gcode", sheet, made)
    assert (proof.blade_deviation_mm is not None) == (mode == "exact")
    prove(hpgl, "hpgl", sheet, made)
    text = " ".join(cut_sheet(made).split())
    assert "layer 'score', #000001, 90 mm/s, 1 pass, creasing wheel " in text
    assert "Before each other tool the machine stops" in text


def test_a_stop_left_out_or_in_another_place_is_refused():
    made = plan(MANY, by_hand("exact"))
    [sheet] = made.sheets
    for name, stop in (("gcode", "M0\n"), ("hpgl", "NR;\n")):
        text = FORMATS[name].to_text(sheet, made)
        with pytest.raises(ProofError, match="it does not stop for another tool before"):
            prove(text.replace(stop, "", 1), name, sheet, made)
    gcode = FORMATS["gcode"].to_text(sheet, made)
    lowered = re.sub(r"G0 Z\S+\n(?=\(Stop)", "", gcode, count=1)
    with pytest.raises(ProofError, match="stops with the tool on, or in the leather"):
        prove(lowered, "gcode", sheet, made)
    laser = driven_plan()
    burning = "G21 G17 G90\nM5\nG0 X0 Y0\nM3 S9\nM0\nM5\nM2\n"
    with pytest.raises(ProofError, match="line 5 of the G-code stops with the tool on"):
        read_gcode(burning, "laser", laser.machine.axes)
    down = "IN;\nPA;\nSP1;\nPU0,0;\nPD;\nNR;\nPA9,9;\nPU;\nSP0;\n"
    with pytest.raises(ProofError, match="stops for another tool with the pen down"):
        read_hpgl(down, laser.machine.axes)


def test_a_trial_needs_no_lettering_and_changes_its_tool_once():
    made = trial(without(driven_laser(), "score"), Tannage.VEGETABLE, 3.6, speeds=(10, 20), powers=(40, 80))
    assert {path.operation for path in made.plan.sheets[0].paths} == {Operation.CUT}
    assert {path.operation for cell in made.cells for path in cell.paths} == {Operation.CUT}
    sheet = trial_sheet(made)
    assert "Numbers   not scored: write them beside the squares" in sheet
    write_plan(made.plan, EVERY, "trial")
    knife = trial(by_hand("exact"), Tannage.VEGETABLE, 2.0, speeds=(20, 40), depths=(1.0, 1.5))
    gcode = FORMATS["gcode"].to_text(knife.plan.sheets[0], knife.plan)
    assert gcode.splitlines().count("M0") == 1
    prove(gcode, "gcode", knife.plan.sheets[0], knife.plan)
