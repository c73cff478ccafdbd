"""Three belts folded by Open CASCADE through CadQuery: the fastener holes meet and the keeper clears.

The neutral line is drawn as wires (an arc round the bar, the tangent to the clamped place, the flat run) and
walked by the modeller's own length; nothing of strapwright's formulas is used there.
"""

from __future__ import annotations

import pytest

from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft_strap
from strapwright.job.spec.house import House
from strapwright.job.spec.strap import Belt
from strapwright.parts.sketch.modeller import load_modeller
from strapwright.rules.leather import Tannage

pytestmark = pytest.mark.slow

HOUSE = House()
BELTS = {
    "work belt": (3.6, {"buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38}}),
    "slim, skived": (
        3.0,
        {"buckle": {"for_strap": 32, "bar_diameter": 4, "frame_depth": 27}, "fold_thickness": 2.2},
    ),
    "wide, keeper under row B": (
        4.0,
        {
            "buckle": {
                "opening": 54,
                "bar_diameter": 5.5,
                "frame_depth": 44,
                "prongs": 2,
                "prong_spacing": 22,
            },
            "keeper": {"width": 25, "held": "row_b", "thickness": 2.4},
        },
    ),
}


def drafted(thickness, keys):
    belt = Belt.model_validate({"id": "one", "size": {"girth": 950}} | keys)
    leather = Leather(thickness=thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(belt, leather, HOUSE, shipped())


def asked_of(one):
    got = one.figures
    return {
        "t": got.layers.strap,
        "fold_t": got.layers.fold,
        "radius": got.end.fold_radius,
        "k": HOUSE.neutral_axis,
        "width": got.width,
        "rows": got.end.rows,
        "mates": got.end.mates,
        "gaps": got.end.gaps,
        "keeper": {
            "thickness": got.layers.keeper,
            "inside_width": got.width + HOUSE.keeper_ease_width,
            "inside_height": got.layers.strap + got.layers.tip + HOUSE.keeper_ease_height,
        },
    }


@pytest.fixture(scope="module")
def folded():
    """Each belt with what the modeller says of it."""
    load_modeller("a test")
    from tests.against.fold_oracle import answer

    belts = {name: drafted(*made) for name, made in BELTS.items()}
    return {name: (one, answer(asked_of(one))) for name, one in belts.items()}


@pytest.mark.parametrize("name", BELTS)
def test_the_fastener_holes_meet_within_a_fifth_of_a_millimetre(folded, name):
    one, said = folded[name]
    assert len(said["misses"]) == len(one.figures.end.rows) == 2
    assert max(said["misses"]) < 0.2


@pytest.mark.parametrize("name", BELTS)
def test_the_mirror_image_of_the_rows_would_not_meet(folded, name):
    one, _ = folded[name]
    assert abs(one.figures.end.rows[0] + one.figures.end.mates[0]) > 0.4


@pytest.mark.parametrize("name", BELTS)
def test_the_keeper_is_as_long_as_the_modellers_ring_and_clears_both_layers(folded, name):
    one, said = folded[name]
    assert one.figures.keeper_length == pytest.approx(said["ring_length"], rel=1e-9)
    assert said["overlap"] == 0.0


@pytest.mark.parametrize("width", [25.0, 32.0, 38.0, 44.0, 52.0])
def test_keepers_of_every_width_follow_the_rounded_rectangle(width):
    # exact perimeter of a rectangle rolled about its corners, written out: 2 w + 2 h + 2 π (K t)
    one = drafted(3.6, {"buckle": {"for_strap": width, "bar_diameter": 5, "frame_depth": 38}})
    assert one.figures.keeper_length == pytest.approx(
        2 * (width + 1.0) + 2 * (7.2 + 1.5) + 2 * 3.141592653589793 * 1.8
    )
