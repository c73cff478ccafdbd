"""Screw-post lengths against stacks of two layers: common practice, after a magazine how-to.

The how-to asks for posts "twice as tall as your leather is thick" for a folded belt end; an encyclopaedia
("Sex bolt") adds that a barrel is normally shorter than what it clamps. So: the longest usual post that is
no longer than twice the leather, and never longer than the stack.
"""

from __future__ import annotations

import pytest

from strapwright.job.catalogue.file import shipped
from strapwright.job.catalogue.leather import Leather
from strapwright.job.draft import draft_strap
from strapwright.job.spec.house import House
from strapwright.job.spec.strap import Belt
from strapwright.rules.leather import Tannage


def posts(leather_thickness, **keeper):
    belt = Belt.model_validate(
        {
            "id": "one",
            "size": {"girth": 950},
            "buckle": {"opening": 46, "bar_diameter": 5, "frame_depth": 38},
            "keeper": {"width": 20} | keeper,
        }
    )
    leather = Leather(thickness=leather_thickness, tannage=Tannage.VEGETABLE)
    return draft_strap(belt, leather, House(), shipped()).posts


@pytest.mark.parametrize("thickness", [2.8, 3.0, 3.2, 3.4, 3.6, 3.8, 4.0])
def test_two_layers_take_the_longest_usual_post_within_twice_the_leather(thickness):
    usual = [post.length for post in shipped().screw_posts.values()]
    for post in posts(thickness):
        assert post.stack == pytest.approx(2 * thickness)
        assert post.length == max(length for length in usual if length <= 2 * thickness)


@pytest.mark.parametrize("thickness", [2.8, 3.2, 3.6, 4.0])
@pytest.mark.parametrize(("join", "times"), [("butt", 1), ("lap", 2)])
def test_a_keeper_under_a_row_adds_its_own_layers_there_and_nowhere_else(thickness, join, times):
    row_a, row_b = posts(thickness, held="row_b", thickness=2.0, join=join)
    assert row_a.stack == pytest.approx(2 * thickness)
    assert row_b.stack == pytest.approx(2 * thickness + times * 2.0)
    assert row_b.length > row_a.length


def test_the_usual_lengths_of_the_trade_are_in_the_shipped_catalogue():
    # 1/4, 5/16, 3/8 and 1/2 in, as listed by suppliers (lengths from memory)
    usual = {round(post.length / 25.4 * 16) for post in shipped().screw_posts.values()}
    assert {4, 5, 6, 8} <= usual
