"""One table: every format is written and proven, whatever the machine and however the hide was found."""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import pytest
from tests.machine.layouts import keeper, layout, strap
from tests.write.plans import EVERY, driven_knife, driven_laser

from strapwright.core.tolerances import BLADE
from strapwright.machine.hide_pose import Touch
from strapwright.machine.planning import plan
from strapwright.parts.part import Operation
from strapwright.write.cut_files import write_plan
from strapwright.write.formats.format import FORMATS

if TYPE_CHECKING:
    from collections.abc import Iterator

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


def cases() -> Iterator[tuple[str, bool, str, str, int, bool]]:
    """Kind, windows, origin, units, passes and touch: a quarter of all there are, in which

    kind × windows × units × passes × touch, origin × units × passes × touch and kind × windows × origin are
    whole: the origin turns the others' eight mixtures two by two, so that two of a pair share nothing.
    """
    for (k, kind), windows, (o, origin) in product(enumerate(KINDS), (False, True), enumerate(ORIGINS)):
        mixture = (k + 2 * windows + o) % 4
        for other in (mixture, 7 - mixture):
            yield kind, windows, origin, ("mm", "in")[other >> 2], (1, 3)[other >> 1 & 1], bool(other & 1)


def test_the_cases_are_what_they_are_said_to_be():
    chosen = set(cases())
    assert len(chosen) == 48
    for left_out, whole in (((2,), 48), ((0, 1), 32), ((3, 4, 5), 24)):
        assert len({tuple(v for n, v in enumerate(case) if n not in left_out) for case in chosen}) == whole


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "windows", "origin", "units", "passes", "touch"), [*cases()])
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
