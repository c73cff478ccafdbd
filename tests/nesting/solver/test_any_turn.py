"""Parts that may lie on a hide at other angles than quarter turns."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.nesting.workshop import keeper, strap

from strapwright import api
from strapwright.core.errors import FileProblems, NestError
from strapwright.drawing.pattern_pieces import orders_of
from strapwright.nesting.hide.types import Hide
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest
from strapwright.write.card.blocks import Table
from strapwright.write.card.orders import order_sheet

pytestmark = pytest.mark.usefixtures("without_height_bound")

ROOT = math.sqrt(0.5)


def aslant() -> Hide:
    """A strip 30 mm wide that runs at 45° to the strap direction: keepers lie in it along that only."""
    along, across = np.array([ROOT, ROOT]), np.array([-ROOT, ROOT])
    return Hide(
        "strip", np.array([0 * along, 460 * along, 460 * along + 30 * across, 30 * across]), thickness=3.6
    )


def test_a_keeper_lies_in_any_of_the_turns_it_may_take() -> None:
    # Four of 104 mm and the gaps between take 422 of 460 mm; 18 mm fit 30 mm with margins.
    keepers = [keeper(f"b{n}") for n in range(5)]
    assert not nest(keepers, [aslant()], steps=2).placed
    free = [replace(part, turn_step=math.radians(45)) for part in keepers]
    layout = nest(free, [aslant()], steps=2)
    assert len(layout.placed) == 4
    assert {round(math.degrees(one.placement.turn)) % 90 for one in layout.placed} == {45}
    # The check knows what each part may take.
    (fault, *_) = (
        line
        for line in _faults(
            replace(layout, placed=tuple(replace(one, part=keepers[0]) for one in layout.placed[:1]))
        )
    )
    assert fault.endswith("must be in steps of 90 deg from strip's strap direction")


def _faults(layout) -> list[str]:
    with pytest.raises(NestError) as told:
        verify(layout)
    return str(told.value).splitlines()


def test_turns_of_a_part_go_round_in_whole_steps() -> None:
    degrees = [[round(math.degrees(turn), 6) for turn in part.turns] for part in (strap("a"), keeper("a"))]
    assert degrees == [[0, 180], [0, 90, 180, 270]]
    assert strap("a").lies_along
    assert not keeper("a").lies_along
    fine = replace(keeper("a"), turn_step=math.radians(15))
    assert np.allclose(np.degrees(fine.turns), np.arange(24) * 15)


JOB = """
[leather]
thickness = "3.6 mm"
tannage = "vegetable"

[[belt]]
id = "ines"
size = { girth = "90 cm" }
buckle = "double-46"
tip = "english_point"
keeper = { width = "20 mm", turn_step = "15 deg" }

[[strap]]
id = "tab"
width = "25 mm"
length = "110 mm"
ends = [{ bar_diameter = "4 mm", turn_back = "50 mm" }, { tip = "round" }]
turn_step = "45 deg"
"""


def job(tmp_path, text):
    (tmp_path / "job.toml").write_text(text)
    return api.read_job(tmp_path / "job.toml")


def test_a_job_says_how_a_part_may_be_turned(tmp_path) -> None:
    parts = {part.id: part for part in api.draft(job(tmp_path, JOB)).parts}
    assert {name: len(part.turns) for name, part in parts.items()} == {
        "ines/strap": 2,
        "ines/keeper": 24,
        "tab/strap": 8,
    }


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ('turn_step = "50 deg"', "found 50 deg, expected a step that divides 360 deg: 15, 18, 20,"),
        ('turn_step = "5 deg"', 'found "5 deg", expected 15 deg to 180 deg'),
        ('turn_step = "45 deg"\nuse = "load_carrying"', "such a strap is laid along the strap direction"),
    ],
)
def test_turns_that_are_none_are_told(tmp_path, wrong, told) -> None:
    with pytest.raises(FileProblems) as error:
        job(tmp_path, JOB.replace('turn_step = "45 deg"', wrong))
    (problem,) = error.value.problems
    assert told in str(problem)
    assert "turn_step" in str(problem)


def test_the_turn_backs_of_a_strap_are_hidden_and_its_tip_is_not(tmp_path) -> None:
    drafted = api.draft(job(tmp_path, JOB))
    tab, belt = (
        next(part for part in drafted.parts if part.id == name) for name in ("tab/strap", "ines/strap")
    )
    ((low, high),) = tab.hidden
    (turned, _) = drafted.straps[0].ends
    assert (low, high) == pytest.approx((-50.0, -turned.figures.half_turn / 2))
    ((pulled, end),) = tab.loaded
    assert -50.0 < pulled < high
    assert end == pytest.approx(tab.outline.bounding_box[2])
    # Of a belt the fold is never hidden, even where it is longer than the prong slot.
    got = drafted.belts[0].figures.end
    assert belt.hidden[0][1] == pytest.approx(-max(got.slot[0], got.half_turn) / 2)


def test_the_cutting_list_says_which_parts_go_with_the_backbone(tmp_path) -> None:
    drafted = api.draft(job(tmp_path, JOB))
    lies = {}
    for item, order in zip((*drafted.belts, *drafted.straps), orders_of(drafted, "mm"), strict=True):
        sheet = order_sheet(item, order, {}, "mm", machine=None)
        (table,) = (b for b in sheet.blocks if isinstance(b, Table) and b.title == "What to cut")
        lies |= {(order.id, row[0]): row[-1] for row in table.rows}
    assert lies == {
        ("ines", "strap"): "with the backbone",
        ("ines", "keeper"): "either way",
        ("tab", "strap"): "either way",
    }
