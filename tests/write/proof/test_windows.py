"""The proof of windows: passes what makes the whole, and fails on anything less, more or elsewhere."""

from __future__ import annotations

import pytest
from tests.machine.layouts import hide, knife, laser, layout, strap

from strapwright.core.errors import ProofError
from strapwright.geometry.intervals import between
from strapwright.geometry.transform import moved
from strapwright.machine.hide_pose import Touch
from strapwright.machine.planning import plan
from strapwright.write.cut_files import write_plan
from strapwright.write.proof.read_back import prove
from strapwright.write.proof.windows import prove_windows


def made(**changes):
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    return plan(lay, laser(bed=[300, 200], pass_through=True, formats=["dxf", "svg"]), kerf=0.2, **changes)


def read(planned):
    return [(s, [(p.operation, p.contour) for p in s.paths]) for s in planned.sheets]


def index_of(planned, window, name):
    return next(k for k, p in enumerate(planned.sheets[window].paths) if p.name == name)


def test_the_windows_make_the_whole():
    planned = made()
    proof = prove_windows(planned.whole[0], read(planned))
    assert (proof.hide, proof.windows, proof.paths) == ("strip", 6, len(planned.whole[0].paths))
    assert proof.greatest_gap_mm < 1e-9
    assert proof.greatest_deviation_mm < 1e-9


@pytest.mark.parametrize("name", ["outline", "crease line", "adjusting hole", "fastener hole", "fold line"])
def test_a_run_left_out_leaves_a_gap(name):
    planned = made()
    windows = read(planned)
    window = next(k for k, s in enumerate(planned.sheets) if any(p.name == name for p in s.paths))
    del windows[window][1][index_of(planned, window, name)]
    with pytest.raises(ProofError, match=rf"leave [\d.]+ mm of {name} of ada/strap uncut"):
        prove_windows(planned.whole[0], windows)


@pytest.mark.parametrize(("short", "passes"), [(0.9, True), (1.0009, True), (1.004, False), (3.0, False)])
def test_a_run_may_be_short_only_by_what_the_next_runs_past_it(short, passes):
    planned = made()
    windows = read(planned)
    k = index_of(planned, 2, "outline")
    layer, contour = windows[2][1][k]
    windows[2][1][k] = (layer, between(contour, 0.0, contour.length - short))
    if passes:
        assert prove_windows(planned.whole[0], windows).greatest_gap_mm < 0.001
    else:
        with pytest.raises(ProofError, match=f"leave {short - 1.0:.3f} mm of outline of ada/strap uncut"):
            prove_windows(planned.whole[0], windows)


@pytest.mark.parametrize("by", [(0.0, 0.002), (0.3, 0.3)])
def test_a_run_off_its_line_is_no_part_of_the_whole(by):
    planned = made()
    windows = read(planned)
    k = index_of(planned, 1, "outline")
    layer, contour = windows[1][1][k]
    windows[1][1][k] = (layer, moved(contour, *by))
    with pytest.raises(
        ProofError, match=r"strip, window 2 of 6 has a run from x .* that is no part of the whole"
    ):
        prove_windows(planned.whole[0], windows)


def test_a_run_on_another_layer_is_no_part_of_the_whole():
    planned = made()
    windows = read(planned)
    k = index_of(planned, 1, "outline")
    windows[1][1][k] = ("score", windows[1][1][k][1])
    with pytest.raises(ProofError, match="no part of the whole"):
        prove_windows(planned.whole[0], windows)


def test_a_sheet_moved_along_too_far_is_found_out():
    planned = made()
    windows = read(planned)
    windows[3] = (windows[3][0], [(layer, moved(c, 2.0, 0.0)) for layer, c in windows[3][1]])
    with pytest.raises(ProofError):
        prove_windows(planned.whole[0], windows)


def test_registration_holes_are_known_and_a_hole_elsewhere_is_not():
    planned = made()
    windows = read(planned)
    k = index_of(planned, 0, "registration hole")
    layer, contour = windows[0][1][k]
    windows[0][1][k] = (layer, moved(contour, 0.0, 1.0))
    with pytest.raises(ProofError, match="no part of the whole"):
        prove_windows(planned.whole[0], windows)


def test_files_of_windows_are_numbered_and_proven_together():
    files = write_plan(made(), ["dxf", "svg"], "belt")
    assert sorted(name for name in files.texts if name.endswith(".svg")) == [
        f"belt-strip-window-{n}-of-6.svg" for n in range(1, 7)
    ]
    assert [(p.format, p.windows) for p in files.windows] == [("dxf", 6), ("svg", 6)]
    assert max(p.greatest_gap_mm for p in files.windows) < 0.001
    for n in range(1, 7):
        text = files.texts[f"belt-strip-window-{n}-of-6.svg"]
        assert f"window: {n} of 6" in text
        assert ("registration hole A at x" in text) is (n > 1)
        assert ("hide moved on: 250.00 mm to the left" in text) is (n > 1)
    assert "window 3 of 6" in files.texts["belt-sheet.txt"]


def test_where_only_driving_files_are_written_the_plans_windows_are_put_together():
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    machine = laser(bed=[300, 200], pass_through=True, formats=["hpgl"])
    files = write_plan(plan(lay, machine, kerf=0.2), ["hpgl"], "belt")
    assert [p.format for p in files.windows] == ["plan"]


def test_a_touched_hides_files_and_proof_say_so():
    touches = [Touch((0, 0), (15, 12)), Touch((1400, 0), (1416, 20))]
    planned = made(touches=touches)
    files = write_plan(planned, ["dxf", "svg"], "belt")
    said = (
        "hide sits: touched: point 0, 0 mm of the hide file at x 15, y 12 and point 1400, 0 mm of the hide "
        "file at x 1416, y 20 mm from the front left corner, turned 0.3272 deg counter-clockwise"
    )
    for name in files.proofs:
        assert (said in files.texts[name]) == ("window-1-of" in name)
        assert files.proofs[name].touch_miss_mm == pytest.approx(planned.sheets[0].pose.greatest_miss)
    assert "Sits: touched: point 0, 0 mm of the hide file at x 15, y 12" in files.texts["belt-sheet.txt"]


def test_a_sheet_that_does_not_lie_as_touched_fails_its_proof():
    from dataclasses import replace

    from strapwright.geometry.transform import Placement
    from strapwright.write.formats.format import FORMATS

    planned = made(touches=[Touch((0, 0), (15, 12)), Touch((1400, 0), (1415, 12))])
    sheet = planned.sheets[0]
    text = FORMATS["svg"].to_text(sheet, planned)
    assert prove(text, "svg", sheet, planned).touch_miss_mm == pytest.approx(0.0, abs=1e-9)
    for wrong in (Placement(0.0, 15.01, 12.0), Placement(1e-4, 15.0, 12.0)):
        moved_on = replace(sheet, pose=replace(sheet.pose, placement=wrong))
        with pytest.raises(ProofError, match="from where they were touched"):
            prove(text, "svg", moved_on, planned)


def test_a_knifes_windows_keep_their_lead_ins_clear_of_the_strap():
    lay = layout((strap(length=1300), 100, 60, 0), hides=(hide("strip", 1500, 160),))
    machine = knife(bed=[300, 200], pass_through=True, formats=["svg"])
    files = write_plan(plan(lay, machine), ["svg"], "belt")
    assert files.windows[0].greatest_gap_mm < 0.001
