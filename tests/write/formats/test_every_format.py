"""One table: every format × windows × origins × units × touches × passes × kinds is written and proven."""

from __future__ import annotations

import math

import pytest
from tests.machine.layouts import keeper, layout, strap
from tests.write.plans import EVERY, driven_knife, driven_laser

from strapwright.core.tolerances import BLADE
from strapwright.machine.hide_pose import Touch
from strapwright.machine.planning import plan
from strapwright.parts.part import Operation
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.format import FORMATS

KINDS = ["laser", "knife", "knife that allows for its blade"]
ORIGINS = ["front_left", "front_right", "back_left", "back_right"]
LAYOUT = layout((strap(), 150.0, 80.0, 0.0), (keeper(), 160.0, 140.0, 0.0))
TURN = math.radians(0.8)


def machine_of(kind: str, passes: int, *, windows: bool, **table: object):
    table |= {"bed": [300 if windows else 1000, 600], "pass_through": windows}
    if kind != "laser":
        mode = "exact" if kind == "knife" else "plain"
        return driven_knife(passes=passes, machine=table, mode=mode)
    made = driven_laser(**table)
    cut = made.operation.cut.model_copy(update={"passes": passes})
    return made.model_copy(update={"operation": made.operation.model_copy(update={"cut": cut})})


def touched() -> tuple[Touch, Touch]:
    """Two points of the hide, touched where it lies a little turned and shifted."""
    cos, sin = math.cos(TURN), math.sin(TURN)
    return tuple(
        Touch((x, y), (cos * x - sin * y + 4.0, sin * x + cos * y + 6.0))
        for x, y in ((0.0, 0.0), (1500.0, 0.0))
    )


def test_the_table_has_every_format():
    assert set(EVERY) == set(FORMATS)


@pytest.mark.slow
@pytest.mark.parametrize("touch", [False, True], ids=["as drawn", "touched"])
@pytest.mark.parametrize("passes", [1, 3])
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("origin", ORIGINS)
@pytest.mark.parametrize("windows", [False, True], ids=["whole bed", "windows"])
@pytest.mark.parametrize("kind", KINDS)
def test_every_format_is_written_and_proven(kind, windows, origin, units, passes, touch):
    machine = machine_of(kind, passes, windows=windows, origin=origin, units=units)
    made = plan(LAYOUT, machine, touches=touched() if touch else ())
    assert (len(made.sheets) > 1) == windows
    for name in EVERY:
        form = FORMATS[name]
        files = write_plan(made, [name], "cut")
        assert len(files.proofs) == len(made.sheets)
        for sheet, proof in zip(made.sheets, files.proofs.values(), strict=True):
            cuts = sum(path.operation is Operation.CUT for path in sheet.paths)
            least = len(sheet.paths) + ((passes - 1) * cuts if form.drives else 0)
            assert proof.paths_read >= least > 0
            assert proof.greatest_deviation_mm <= form.tolerance
            if touch:
                assert proof.touch_miss_mm < 1e-6
            if form.drives and kind == "knife":
                assert 0 < proof.blade_deviation_mm <= BLADE
        assert [proof.format for proof in files.windows] == (
            [] if not windows else ["plan" if form.drives else name]
        )
