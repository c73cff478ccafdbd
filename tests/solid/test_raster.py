"""Triangles to pixels."""

from __future__ import annotations

import numpy as np
import pytest

from strapwright.solid.raster import Screen

FACING = np.broadcast_to((0.0, 0.0, 1.0), (3, 3))


def square(x0, y0, x1, y1, depth):
    a, b, c, d = ((x, y, depth) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
    return np.array([[a, b, c], [a, c, d]], dtype=float), np.array([FACING, FACING])


def test_two_triangles_fill_their_square_without_gap_or_overlap():
    screen = Screen.empty(40, 30)
    screen.draw(*square(5.0, 4.0, 25.0, 20.0, 1.0), owner=0)
    assert (screen.owner >= 0).sum() == 20 * 16
    assert (screen.owner[4:20, 5:25] == 0).all()


def test_what_is_nearer_hides_what_is_behind_whichever_is_drawn_first():
    for order in ((0, 1), (1, 0)):
        screen = Screen.empty(40, 30)
        for owner in order:
            screen.draw(*square(5.0, 4.0, 25.0, 20.0, (1.0, 2.0)[owner]), owner=owner)
        assert set(screen.owner[4:20, 5:25].flat) == {0}


def test_depth_follows_a_slanted_face():
    corners = np.array([[(0, 0, 0), (40, 0, 40), (0, 30, 0)]], dtype=float)
    screen = Screen.empty(40, 30)
    screen.draw(corners, np.array([FACING]), owner=0)
    assert screen.depth[0, 10] == pytest.approx(10.5)


def test_what_lies_outside_is_left_out():
    screen = Screen.empty(10, 10)
    screen.draw(*square(-50.0, -50.0, 60.0, 5.0, 1.0), owner=3)
    screen.draw(*square(20.0, 20.0, 30.0, 30.0, 1.0), owner=4)
    assert (screen.owner[:5] == 3).all()
    assert (screen.owner[5:] == -1).all()


def test_lines_stand_where_pieces_part_and_nowhere_else():
    screen = Screen.empty(40, 30)
    screen.draw(*square(5.0, 4.0, 25.0, 20.0, 1.0), owner=0)
    edges = screen.edges(jump=0.5, bend=0.4)
    assert edges[4, 5:25].all()
    assert edges[4:20, 24].all()
    assert not edges[6:18, 7:23].any()
    assert not edges[:4].any()
