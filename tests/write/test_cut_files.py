"""All files of a plan: named, proven, sealed by the writer of whole files."""

from __future__ import annotations

import dataclasses

import pytest
from tests.machine.layouts import hide, keeper, laser, layout
from tests.write.plans import driven_laser, driven_plan, small_plan

from strapwright.core.errors import PlanError, ProofError
from strapwright.files.atomic_write import MARK, is_ours, write_whole
from strapwright.machine.planning import plan
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.format import FORMATS, Format
from strapwright.write.formats.gcode import Gcode
from strapwright.write.formats.svg import Svg


def two_hides(*names: str):
    hides = tuple(hide(name, 900, 500) for name in names)
    placed = tuple(
        layout((keeper(f"k{n}"), 50, 50, 0), hides=hides, on=one).placed[0] for n, one in enumerate(names)
    )
    return plan(dataclasses.replace(layout(hides=hides), placed=placed), laser())


def test_one_sheet_is_named_after_the_stem():
    files = write_plan(small_plan(), ["dxf", "svg"], "autumn")
    assert list(files.texts) == ["autumn.dxf", "autumn.svg", "autumn-sheet.txt"]
    assert list(files.proofs) == ["autumn.dxf", "autumn.svg"]
    assert files.greatest_deviation_mm == max(p.greatest_deviation_mm for p in files.proofs.values())
    assert 0 < files.greatest_deviation_mm < 1e-6


def test_only_the_formats_asked_for_are_written_and_each_once():
    assert list(write_plan(small_plan(), ["svg", "svg"], "a").texts) == ["a.svg", "a-sheet.txt"]


def test_several_sheets_are_named_after_their_hides_and_none_hides_another():
    made = two_hides("side / 1", "side 1", "Seite ä")
    assert list(write_plan(made, ["dxf"], "x").texts) == [
        "x-side-1.dxf",
        "x-side-1-2.dxf",
        "x-Seite-a.dxf",
        "x-sheet.txt",
    ]


def test_two_formats_of_one_suffix_have_names_of_their_own():
    files = write_plan(driven_plan(), list(FORMATS), "a")
    assert list(files.texts) == [
        *("a.dxf", "a-r12.dxf", "a.svg", "a.nc", "a-outline.nc", "a.plt", "a-outline.plt", "a-sheet.txt"),
    ]
    assert list(files.proofs) == ["a.dxf", "a-r12.dxf", "a.svg", "a.nc", "a.plt"]


def test_a_hide_called_like_a_formats_ending_loses_no_file():
    hides = tuple(hide(name, 900, 500) for name in ("x", "x-r12"))
    placed = tuple(layout((keeper(one.name), 50, 50, 0), hides=hides, on=one.name).placed[0] for one in hides)
    made = plan(dataclasses.replace(layout(hides=hides), placed=placed), driven_laser())
    files = write_plan(made, ["dxf", "dxf_r12"], "a")
    assert list(files.proofs) == ["a-x.dxf", "a-x-r12.dxf", "a-x-r12-2.dxf", "a-x-r12-r12.dxf"]


def test_a_format_whose_figures_the_profile_lacks_is_refused_with_the_keys():
    made = plan(layout((keeper(), 50, 50, 0)), laser(formats=["gcode"]))
    with pytest.raises(PlanError) as caught:
        write_plan(made, ["gcode"], "x")
    assert str(caught.value) == (
        "machine 'test laser' cannot have gcode: its profile lacks operation.cut.speed_mm_s, "
        "operation.punch.speed_mm_s, operation.score.speed_mm_s, operation.cut.power_percent, "
        "operation.punch.power_percent, operation.score.power_percent, machine.max_power; put in what you "
        "measured, or choose another format"
    )


def test_an_outline_check_that_cuts_is_not_handed_out(monkeypatch):
    monkeypatch.setattr(Gcode, "beside", lambda form, sheet, made: {"-outline": form.to_text(sheet, made)})
    with pytest.raises(ProofError, match="must cut nothing cuts"):
        write_plan(driven_plan(), ["gcode"], "x")


def test_a_stem_no_file_system_takes_is_made_one():
    assert list(write_plan(small_plan(), [], "../a: b?").texts) == ["a-b-sheet.txt"]
    assert list(write_plan(small_plan(), [], "///").texts) == ["cut-sheet.txt"]
    assert list(write_plan(small_plan(), [], "Nul").texts) == ["Nul-file-sheet.txt"]


def test_a_format_the_machine_does_not_read_is_refused():
    made = plan(layout((keeper(), 50, 50, 0)), laser(formats=["svg"]))
    with pytest.raises(PlanError) as caught:
        write_plan(made, ["dxf"], "x")
    assert str(caught.value) == (
        "machine 'test laser' reads svg, not dxf; choose another format, or add it to the profile's formats"
    )
    with pytest.raises(PlanError, match=r'format "pict" is not known; expected one of dxf, dxf_r12, svg'):
        write_plan(made, ["pict"], "x")


def test_a_file_that_fails_its_proof_is_not_handed_out(monkeypatch):
    monkeypatch.setattr(Svg, "to_text", lambda *_: "<svg")
    with pytest.raises(ProofError):
        write_plan(small_plan(), ["svg"], "x")


@pytest.mark.parametrize("name", FORMATS)
def test_each_text_carries_the_mark_once_so_that_it_is_known_again(name, tmp_path):
    files = write_plan(driven_plan(), [name], "x")
    assert [text.count(MARK) for text in files.texts.values()] == [1] * len(files.texts)
    write_whole({tmp_path / file: text for file, text in files.texts.items()})
    assert all(is_ours(tmp_path / file) for file in files.texts)


@pytest.mark.parametrize("name", FORMATS)
def test_each_format_is_registered_under_its_own_name(name):
    form: Format = FORMATS[name]
    assert form.name == name
    assert form.suffix.startswith(".")
