"""Fasteners: a post's length against its stack, at the very edges."""

from __future__ import annotations

import pytest

from strapwright.rules.fasteners import draw, post_length


@pytest.mark.parametrize(
    ("stack", "length", "drawn"),
    [
        (8.0, 8.0, 0.0),
        (7.999, 7.94, 0.059 / 7.999),
        (6.0, 6.0, 0.0),
        (9.5, 8.0, 1.5 / 9.5),
        (20.0, 12.7, 0.365),
    ],
)
def test_a_post_may_be_as_long_as_its_stack_but_no_longer(stack, length, drawn):
    assert post_length(stack) == length
    assert draw(stack, length) == pytest.approx(drawn)
    assert post_length(5.999) is None
