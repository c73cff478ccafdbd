"""Straps drawn together to share a cut: exactly one kerf apart, or the whole gap, and nothing between."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, example, given, settings, strategies as st
from tests.nesting.workshop import keeper, order, side, strap

from strapwright.core.errors import NestError
from strapwright.geometry.polygon import to_polygon
from strapwright.geometry.transform import Placement
from strapwright.nesting.bound.area import bound_area
from strapwright.nesting.hide.types import Hide
from strapwright.nesting.layout.types import Clearance, Layout, PlacedPart
from strapwright.nesting.layout.verify import verify
from strapwright.nesting.solver.nest import nest

KERF, GAP = 0.25, 2.0

pytestmark = pytest.mark.usefixtures("without_height_bound")

SHARED = Clearance(gap=GAP, margin=3.0, kerf=KERF, shared=True)


def board(width: float) -> Hide:
    return Hide("board", np.array([(0, 0), (1300, 0), (1300, width), (0, width)]), thickness=3.6)


def distances(layout: Layout) -> list[float]:
    """Return the distances of all pairs nearer than the gap, having checked that none leaves a sliver."""
    near = []
    for hide in layout.hides:
        shapes = [
            shapely.Polygon(to_polygon(one.placement.apply(one.part.outline), 1e-4, "outward"))
            for one in layout.placed_on(hide.name)
        ]
        for first, second in combinations(shapes, 2):
            apart = shapely.distance(first, second)
            if apart < GAP - 1e-3:
                assert apart == pytest.approx(KERF, abs=1e-3)
                # The leather between the two, where it is as narrow as one cut, is a straight strip.
                between = first.buffer(KERF + 2e-3).intersection(second.buffer(KERF + 2e-3))
                assert between.area > 10 * KERF
                near.append(apart)
    return near


def test_straps_one_above_the_other_lie_one_kerf_apart() -> None:
    layout = nest([strap(f"b{n}") for n in range(4)], [board(300)], SHARED, steps=3)
    assert len(distances(layout)) == 3
    assert layout.used_height_of("board") == pytest.approx(4 * 38 + 3 * KERF, abs=1e-3)


def test_the_leather_won_takes_one_strap_more() -> None:
    # At the full gap three rows of 38 mm need 118 mm and the margins; one kerf apart 114.5 mm.
    # The millimetre more is for the rows, half a millimetre apart.
    width = 3 * 38 + 2 * KERF + 2 * SHARED.edge + 1.2
    straps = [strap(f"b{n}") for n in range(3)]
    apart = Clearance(gap=GAP, margin=3.0, kerf=KERF)
    assert len(nest(straps, [board(width)], apart, steps=5).placed) == 2
    together = nest(straps, [board(width)], SHARED, steps=5)
    assert len(together.placed) == 3
    assert len(distances(together)) == 2


def test_keepers_keep_the_whole_gap() -> None:
    layout = nest([keeper(f"b{n}") for n in range(6)], [board(80)], SHARED, steps=3)
    assert len(layout.placed) == 6
    assert distances(layout) == []


def test_a_batch_on_a_flawed_side_leaves_no_slivers_and_shares_edges() -> None:
    layout = nest(order(10), [side()], SHARED, steps=6)
    assert len(distances(layout)) >= 3
    assert bound_area(layout) >= layout.placed_area


@pytest.mark.slow
@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@example(8, 44, 0.1)  # an edge in common that is only just long enough where tips are flattened
@given(st.integers(2, 9), st.integers(0, 99), st.sampled_from([0.1, KERF, 1.5]))
def test_no_pair_is_ever_between_one_kerf_and_the_gap(count: int, seed: int, kerf: float) -> None:
    clearance = Clearance(gap=GAP, margin=3.0, kerf=kerf, shared=True)
    layout = nest(order(count), [side()], clearance, steps=2, seed=seed)
    shapes = [
        shapely.Polygon(to_polygon(one.placement.apply(one.part.outline), 1e-4, "outward"))
        for one in layout.placed
    ]
    for first, second in combinations(shapes, 2):
        apart = shapely.distance(first, second)
        assert apart > GAP - 1e-3 or apart == pytest.approx(kerf, abs=1e-3)


@pytest.mark.parametrize(("apart", "sound"), [(KERF, True), (1.0, False), (0.1, False), (GAP, True)])
def test_a_layout_with_a_sliver_is_refused(apart: float, sound: bool) -> None:
    placed = tuple(
        PlacedPart(strap(f"b{n}"), "board", Placement(0.0, 90.0, 30.0 + n * (38 + apart))) for n in range(2)
    )
    layout = Layout((board(300),), placed, (), SHARED, (), 0, 0)
    if sound:
        verify(layout)
    else:
        with pytest.raises(NestError, match="mm apart, must be 2 mm"):
            verify(layout)


def test_two_round_tips_one_kerf_apart_share_no_edge_and_are_refused() -> None:
    first = PlacedPart(strap("a", 500.0), "board", Placement(0.0, 90.0, 30.0))
    # Tip to tip: the second lies the other way round.
    second = PlacedPart(strap("b", 500.0), "board", Placement(np.pi, 90.0 + 2 * 420 + KERF, 30.0))
    with pytest.raises(NestError, match="apart, must be 2 mm"):
        verify(Layout((board(300),), (first, second), (), SHARED, (), 0, 0))
