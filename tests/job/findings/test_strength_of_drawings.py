"""What drawn openings and tips take from a belt's strength, and the punches drawn holes want, by hand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from tests.job.test_drawn import svg

from strapwright.drawing.pattern_pieces import hole_places, orders_of
from strapwright.job.catalogue.file import shipped
from strapwright.job.draft import draft
from strapwright.job.findings.punches import hand_holes, punch_findings
from strapwright.job.findings.strength import REMEDIES
from strapwright.job.spec.job import read_job
from strapwright.rules.punches import Punch
from strapwright.write.card.work import punches_for, work_steps
from strapwright.write.handout.content import Design, Table, get
from strapwright.write.handout.words import shipped_words

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.job.draft import Draft

JOB = """
[leather]
thickness = "3.6 mm"
tannage = "vegetable"

[[belt]]
id = "ines"
"""
SIZE = 'size = { girth = "920 mm" }\n'
LAST = 'size = { girth = "920 mm", hole_in_use = 7 }\n'
SINGLE = (
    'buckle = "single-40"\n'  # a strap of 38 mm, a prong of 4 mm, holes of 5 mm, the last 95 mm from the tip
)
OPENING = '[[belt.hole]]\ndrawing = "it.svg"\nat = "{}"\n'
SIGMA = (15, 25)


def drafted(folder: Path, inside: str, text: str) -> Draft:
    svg(folder / "it.svg", inside)
    (folder / "job.toml").write_text(JOB + text)
    return draft(read_job(folder / "job.toml"))


def modes(folder: Path, inside: str, text: str):
    (belt,) = drafted(folder, inside, text).belts
    return belt, {mode.name: mode for mode in belt.strength.modes}


def holds(mode, area: float) -> None:
    assert (mode.low, mode.high) == pytest.approx([area * sigma for sigma in SIGMA], rel=1e-6)


def test_the_strap_gives_where_its_openings_together_are_widest(tmp_path: Path) -> None:
    circles = '<circle cx="50" cy="22" r="5"/><circle cx="54" cy="38" r="5"/>'
    belt, got = modes(tmp_path, circles, SIZE + SINGLE + OPENING.format("340 mm from tip"))
    mode = got["drawn-net-section"]
    holds(mode, (38 - 4 * math.sqrt(21)) * 3.6)  # each is 2 √(5² − 2²) wide half-way between them
    assert f"{belt.strap.span - 340:.1f} mm from the fold" in mode.where
    assert mode.numbers == "(38 − 18.33) × 3.60 × (15 to 25)"
    assert belt.as_json()["strength"]["modes"].count(
        {"name": "drawn-net-section", "low_n": round(mode.low, 1), "high_n": round(mode.high, 1)}
    ) == 1  # fmt: skip
    assert any(line.startswith("strap beside the drawn openings") for line in belt.strength.lines())
    holds(got["hole-net-section"], (38 - 5) * 3.6)


def test_an_opening_beside_an_adjusting_hole_is_taken_together_with_it(tmp_path: Path) -> None:
    text = SIZE + SINGLE + OPENING.format("170 mm from tip") + 'across = "11 mm"\n'
    _, got = modes(tmp_path, '<rect x="9" y="9" width="2" height="6"/>', text)
    holds(got["drawn-net-section"], (38 - 6 - 5) * 3.6)


def test_each_leg_at_the_bar_carries_half_of_the_pull(tmp_path: Path) -> None:
    # between the slot, which ends at 12 mm, and row A, whose holes begin at 20.5 − 2.63 mm
    text = SIZE + SINGLE + OPENING.format("16 mm from fold")
    _, got = modes(tmp_path, '<circle cx="9" cy="9" r="1.5"/>', text)
    holds(got["drawn-net-section"], (38 - 3) * 3.6 / 0.5)
    assert got["drawn-net-section"].where == "either leg beside the drawn openings, 16.0 mm from the fold"


def test_openings_past_the_last_hole_or_scored_only_take_nothing(tmp_path: Path) -> None:
    circle = '<circle id="{}" cx="9" cy="9" r="4"/>'
    _, plain = modes(tmp_path, "", SIZE + SINGLE)
    for name, at in (("cut", "50 mm from tip"), ("score", "340 mm from tip")):
        _, got = modes(tmp_path, circle.format(name), SIZE + SINGLE + OPENING.format(at))
        assert got == plain


def test_the_last_hole_tears_into_an_opening_before_it(tmp_path: Path) -> None:
    circle = '<circle cx="9" cy="9" r="4"/>'
    _, got = modes(tmp_path, circle, LAST + SINGLE + OPENING.format("50 mm from tip"))
    holds(got["hole-tear-out"], 2 * 3.6 * (95 - 2.5 - (50 + 4)) * 0.5)
    assert got["hole-tear-out"].where == "hole in use, torn out into a drawn opening"
    beside = LAST + SINGLE + OPENING.format("50 mm from tip") + 'across = "9 mm"\n'  # 5 mm off the line
    _, got = modes(tmp_path, circle, beside)
    holds(got["hole-tear-out"], 2 * 3.6 * (95 - 2.5) * 0.5)


def test_a_drawn_tip_is_asked_where_the_prong_tears_out_of_it(tmp_path: Path) -> None:
    own = 'tip = { drawing = "it.svg" }\n'
    swallow = '<path d="M 20 11 H 90 L 75 30 L 90 49 H 20"/>'  # notched 15 mm deep on the centre line
    _, got = modes(tmp_path, swallow, LAST + SINGLE + own)
    holds(got["hole-tear-out"], 2 * 3.6 * (95 - 2.5 - 15) * 0.5)
    arrow = '<path d="M 20 11 H 50 L 90 30 L 50 49 H 20"/>'  # 40 mm long, 19 mm to either side
    _, got = modes(tmp_path, arrow, LAST + SINGLE + own)
    holds(got["hole-tear-out"], 2 * 3.6 * (95 - 2.5 - 40 * 2.5 / 19) * 0.5)
    assert got["hole-tear-out"].where == "hole in use, torn out to the tip"
    _, got = modes(tmp_path, swallow, SIZE + SINGLE + own)
    holds(got["hole-tear-out"], 2 * 3.6 * (25 - 5) * 0.5)


def test_the_turn_back_tears_into_an_opening_behind_its_fasteners(tmp_path: Path) -> None:
    text = SIZE + SINGLE + 'turn_back = "70 mm"\n' + OPENING.format("1 mm from fold")
    pair = '<circle cx="{}" cy="20.5" r="1.5"/><circle cx="{}" cy="{}" r="1.5"/>'
    # the middle of both 1 mm from the fold: the one 57.5 mm into the turn-back, on the fasteners' line
    _, got = modes(tmp_path, pair.format(10, 127, 39.5), text)
    belt, plain = modes(tmp_path, "", SIZE + SINGLE + 'turn_back = "70 mm"\n')
    half = belt.posts[-1].holes[1] / 2
    less = (70 - 56) * 2 * 2 * 3.6 * 0.5 / 0.5  # it ends 56 mm from the fold, the turn-back 70 mm
    assert -belt.figures.end.mates[-1] + half < 56
    assert plain["fastener-tear-out"].low - got["fastener-tear-out"].low == pytest.approx(15 * less)


def test_a_belt_whose_openings_leave_the_least_is_told_so(tmp_path: Path) -> None:
    buckle = "buckle = { opening = 46, bar_diameter = 5, frame_depth = 38, prong_width = 4.5 }\n"
    slot = '<rect x="9" y="5" width="6" height="40"/>'  # of a strap of 44 mm: 4 mm are left
    made = drafted(tmp_path, slot, SIZE + buckle + OPENING.format("340 mm from tip"))
    (belt,) = made.belts
    (finding,) = [one for one in belt.findings if one.code == "weakest-place"]
    holds(belt.strength.governing, 4 * 3.6)
    assert "the drawn openings" in finding.what
    assert "216 to 360 N" in finding.what
    assert finding.do == REMEDIES["drawn-net-section"]


@pytest.mark.parametrize(("x", "said"), [(24, True), (35, False)])
def test_openings_aslant_of_each_other_are_not_in_the_estimate_and_that_is_said(
    tmp_path: Path, x: float, said: bool
) -> None:
    # 8 mm apart across; along 4 mm, or 15 mm
    slots = f'<rect x="10" y="10" width="10" height="6"/><rect x="{x}" y="24" width="10" height="6"/>'
    (belt,) = drafted(tmp_path, slots, SIZE + SINGLE + OPENING.format("340 mm from tip")).belts
    found = [one for one in belt.findings if one.code == "openings-staggered"]
    assert bool(found) is said
    assert not found or found[0].numbers == pytest.approx({"along_mm": 4.0, "across_mm": 8.0})


def test_a_part_drawn_whole_that_carries_a_load_is_said_to_have_no_estimate(tmp_path: Path) -> None:
    plate = '<rect x="5" y="5" width="80" height="40"/>'
    part = '[[strap]]\nid = "plate"\ndrawing = "it.svg"\n'
    for use, count in (("", 0), ('use = "load_carrying"\n', 1)):
        (strap,) = drafted(tmp_path, plate, SIZE + SINGLE + part + use).straps
        assert strap.strength is None
        assert [one.code for one in strap.findings].count("strength-unknown") == count


TWO = (
    '<circle cx="20" cy="20" r="3"/><circle cx="20" cy="33" r="2"/><rect x="30" y="20" width="8" height="8"/>'
)


def test_drawn_round_holes_ask_for_their_punches(tmp_path: Path) -> None:
    part = '[[strap]]\nid = "tag"\ndrawing = "it.svg"\n'
    (belt,) = drafted(tmp_path, TWO, SIZE + SINGLE + OPENING.format("340 mm from tip")).belts
    drawn = [one for one in hand_holes(belt) if one.what == "drawn holes"]
    assert [one.width for one in drawn] == [4.0, 6.0]  # the square is no punch's
    owned = {"no. 5": Punch("no. 5", "round", 4.0, 4.0)}
    assert [one.code for one in punch_findings("ines", drawn, owned)] == ["no-punch"]
    tag = '<rect x="5" y="5" width="80" height="40"/><circle cx="30" cy="25" r="2.1"/>'
    tag += '<circle cx="50" cy="25" r="0.6"/>'  # pricked, not punched
    (strap,) = drafted(tmp_path, tag, SIZE + SINGLE + part).straps
    assert [(one.what, one.size) for one in hand_holes(strap)] == [("drawn holes", "4.2 mm")]
    (near,) = punch_findings("tag", hand_holes(strap), owned)
    assert near.code == "punch-near"
    assert [text for text, _ in work_steps(strap, "mm", machine=None) if text == "Punch the holes."]


def test_the_tools_tell_drawn_holes_of_two_sizes_apart_and_cut_the_rest_with_the_knife(
    tmp_path: Path,
) -> None:
    made = drafted(tmp_path, TWO, SIZE + SINGLE + OPENING.format("340 mm from tip"))
    (order,) = orders_of(made, "mm")
    drawn = [one for one in hole_places(order.pieces[0]) if one.what in ("hole", "cut-out")]
    assert [(one.size("mm"), one.ys) for one in drawn] == [
        ("⌀ 4 mm", (pytest.approx(-7.0),)),
        ("⌀ 6 mm", (pytest.approx(6.0),)),
        ("8 × 8 mm", (pytest.approx(2.0),)),
    ]
    own = {"no. 6": Punch("no. 6", "round", 6.0, 6.0), "no. 8": Punch("no. 8", "round", 8.0, 8.0)}
    needs = {need.size: need.tool for need in punches_for(order, own, "mm")}
    assert needs["⌀ 4 mm"] == "none of yours fits"
    assert needs["⌀ 6 mm"] == "your no. 6, 6 mm"
    assert needs["8 × 8 mm"] == "a knife, along the pattern's line"
    tools = [one for one in get(Design(made, (), shipped_words(), "mm")) if isinstance(one, Table)][-1]
    told = " ".join(row[0] for row in tools.rows)
    assert "4 mm" in told
    assert "6 mm" in told
    assert "8 mm" not in told
    (belt,) = made.belts
    assert "Cut the drawn openings along the pattern." in [
        text for text, _ in work_steps(belt, "mm", machine=None)
    ]
    assert shipped().owned_punches == {}
