"""Lettering: every character well drawn and inside its box, put where it is asked, or refused by name."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from strapwright.core.errors import PartError
from strapwright.geometry.characters import (
    ACCENTS,
    CAP,
    GLYPHS,
    KERNS,
    LEAST_HEIGHT,
    cannot_be_lettered,
    unwritable,
)
from strapwright.geometry.intersect import self_crossing
from strapwright.geometry.lettering import lettering, lettering_box, lettering_width

EUROPEAN = (
    "ÀÁÂÃÄÅĀĂĄÇĆČĎÈÉÊËĒĖĘĚĞÌÍÎÏĪİĮĶĻĽŁÑŃŇŅÒÓÔÕÖŐØŔŘŚŠŞȘŤȚÙÚÛÜŮŰŪÝŸŽŹŻÆŒÐÞĐĦ"
    "àáâãäåāăąçćčďèéêëēėęěğìíîïīıįķļľłñńňņòóôõöőøŕřśšşșťțùúûüůűūýÿžźżæœðþđħß"
)
WRITABLE = st.text(st.sampled_from([*GLYPHS, *EUROPEAN, " "]), min_size=1, max_size=12)


def box_of(contours) -> tuple[float, float, float, float]:
    boxes = np.array([contour.bounding_box for contour in contours])
    return (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))


@pytest.mark.parametrize("letter", [*GLYPHS, *EUROPEAN])
def test_every_character_lies_inside_its_box(letter):
    x0, y0, x1, y1 = box_of(lettering(letter, CAP))
    assert x0 >= -1e-2  # the grid's coordinates have two decimals
    assert x1 <= lettering_width(letter, CAP) + 1e-2
    assert -6.0 <= y0 <= y1 <= 28.0  # grid units: a comma below, a capital with its accent above
    assert (x0, y0, x1, y1) == pytest.approx(lettering_box(letter, CAP))


@pytest.mark.parametrize("letter", [*GLYPHS, *EUROPEAN])
def test_every_stroke_is_open_and_never_crosses_itself(letter):
    for contour in lettering(letter, 10.0):
        assert not contour.closed
        crossing = self_crossing(contour)
        # A bowl ends where it began, or on the stem it sprang from.
        last = contour.vertices[-1, :2]
        assert crossing is None or math.dist(crossing, last) < 1e-4


@pytest.mark.parametrize("letter", [*"ABCDEFGHIJKLMNOPQRSTUVWXYZÆŒÐÞŁĦ0123456789"])
def test_capitals_and_figures_stand_on_the_base_line_and_reach_the_full_height(letter):
    _, y0, _, y1 = lettering_box(letter, 10.0)
    assert y1 == pytest.approx(10.0, abs=5e-3)
    assert y0 == pytest.approx(-0.4 if letter == "Q" else 0.0, abs=5e-3)


@pytest.mark.parametrize("letter", [*"BCDGJOPQRSU023568"])
def test_arcs_run_smoothly_into_their_neighbours(letter):
    """Where an arc meets a line that continues it, or another arc, the direction is kept within 1°."""
    corners = {"G": 2, "B": 3, "D": 3, "P": 2, "R": 2, "2": 1, "5": 2, "6": 1}
    found = 0
    for contour in lettering(letter, CAP):
        for index in range(len(contour) - 1):
            tangents = []
            for k, half in ((index, 0.5), (index + 1, -0.5)):
                chord = contour.ends[k] - contour.starts[k]
                tangents.append(math.atan2(chord[1], chord[0]) + half * contour.sweeps[k])
            turn = math.remainder(tangents[1] - tangents[0], 2 * math.pi)
            found += abs(turn) > math.radians(1.0)
    assert found <= corners.get(letter, 0)


def test_no_two_characters_are_drawn_alike():
    drawn = {}
    for letter in (*GLYPHS, *EUROPEAN[: len(EUROPEAN) // 2]):
        shape = tuple(c.vertices.tobytes() for c in lettering(letter, 10.0))
        if letter in ("Đ", "I", "İ"):
            continue
        assert drawn.setdefault(shape, letter) == letter


def test_the_letter_f_reads_the_right_way_round():
    """Its stem is at the left, both arms point right, the longer one on top."""
    contours = lettering("F", 10.0, 100.0, -5.0)
    points = np.vstack([c.vertices[:, :2] for c in contours])
    stem = points[:, 0] < 100.0 + 1e-9
    assert points[stem][:, 1].min() == -5.0
    arms = points[~stem]
    assert (arms[:, 0] > 104.0).all()
    assert (arms[:, 1] >= -0.1).all()
    top, middle = arms[np.argmax(arms[:, 1])], arms[np.argmin(arms[:, 1])]
    assert top[0] > middle[0]


def test_turned_a_quarter_it_reads_upwards():
    flat = lettering("F7", 5.0)
    turned = lettering("F7", 5.0, 30.0, 10.0, math.pi / 2)
    for one, other in zip(flat, turned, strict=True):
        x, y, bulge = one.vertices.T
        assert other.vertices == pytest.approx(np.column_stack([30.0 - y, 10.0 + x, bulge]))


@given(WRITABLE, st.sampled_from([*GLYPHS, *EUROPEAN]))
def test_a_letter_more_makes_a_line_wider(text, letter):
    assert lettering_width(text + letter, 5.0) > lettering_width(text, 5.0) - 1e-9
    if text.strip():
        assert lettering_width(text + letter, 5.0) > lettering_width(text, 5.0)


@given(WRITABLE, st.floats(3.0, 12.0))
def test_width_and_strokes_grow_with_the_height(text, height):
    assert lettering_width(text, height) == pytest.approx(height * lettering_width(text, 1.0))
    small, large = lettering(text, height), lettering(text, 2 * height)
    for one, other in zip(small, large, strict=True):
        assert other.vertices[:, :2] == pytest.approx(2 * one.vertices[:, :2])
        assert other.vertices[:, 2] == pytest.approx(one.vertices[:, 2])


@pytest.mark.parametrize("pair", [a + b for a in "ABFHILOTVY017." for b in "ABFHILOTVY017."] + [*KERNS])
def test_neighbours_stand_clear_of_each_other(pair):
    first, second = (lettering(pair[0], 10.0), lettering(pair, 10.0))
    others = second[len(first) :]
    gap = min(c.distance_to(other.sample(8)).min() for c in first for other in others)
    assert gap > 0.9


@pytest.mark.parametrize(("accent", "drawing"), [*ACCENTS.items()])
def test_accents_are_set_on_their_letters_and_clear_of_them(accent, drawing):
    place = drawing[0]
    bare, accented = lettering("O", 10.0), lettering("O" + accent, 10.0)
    assert [c.vertices.tolist() for c in accented[: len(bare)]] == [c.vertices.tolist() for c in bare]
    x0, y0, x1, y1 = box_of(accented[len(bare) :])
    if place == "above":
        assert y0 > 10.5
        assert (x0 + x1) / 2 == pytest.approx(7.5 / 2, abs=0.6)
    else:
        assert y1 < 1e-9 < -y0


def test_composed_and_decomposed_text_are_set_alike():
    assert lettering("Zo\u00eb \u00c5se", 5.0) == lettering("Zoe\u0308 A\u030ase", 5.0)


def test_an_accent_wider_than_its_letter_gives_it_room():
    assert lettering_width("I", 10.0) == 0.0
    assert lettering_width("Î", 10.0) == pytest.approx(4.0)
    assert box_of(lettering("Î", 10.0))[0] == pytest.approx(0.0)


def test_lower_case_is_set_as_capitals_and_sharp_s_as_two():
    assert lettering("row & œuvre ø", 4.0) == lettering("ROW & ŒUVRE Ø", 4.0)
    assert lettering("weiß", 4.0) == lettering("WEISS", 4.0) == lettering("WEIẞ", 4.0)


def test_blanks_are_room_without_strokes():
    assert lettering(" ", 5.0) == ()
    assert lettering_box(" ", 5.0) == (0.0, 0.0, 0.0, 0.0)
    assert lettering_width("A B", 5.0) > lettering_width("AB", 5.0) + 1.0
    assert lettering_width("A\u00a0B", 5.0) == lettering_width("A B", 5.0)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Жук", '"Ж" (cyrillic capital letter zhe)'),
        ("a\nb", '"\\n" (u+000a)'),
        ("50 €", '"€" (euro sign)'),
        ("ế", '"ế" (latin small letter e with circumflex and acute)'),
        ("1\u0301", "(digit one)"),
        ("\u0301", "(combining acute accent)"),
    ],
)
def test_an_unknown_character_is_refused_by_name_with_what_can_be_written(text, named):
    for made in (lettering, lettering_width, lettering_box):
        with pytest.raises(PartError) as caught:
            made(text, 5.0)
        message = str(caught.value)
        assert named in message
        assert "cannot be lettered; allowed are A to Z and 0 to 9" in message
        assert "\n" not in message


def test_every_unknown_character_is_named_once():
    assert unwritable("Ж€Ж a") == ("Ж", "€")
    assert cannot_be_lettered(("Ж", "€")).startswith(
        '"Ж" (cyrillic capital letter zhe), "€" (euro sign) cannot be lettered'
    )
    assert cannot_be_lettered(tuple("ЖЗИКЛ")).split(" cannot")[0].endswith(" and 2 more")


@pytest.mark.parametrize("height", [2.9, 0.0, -5.0, math.nan, math.inf])
def test_lettering_too_low_to_read_is_refused(height):
    with pytest.raises(PartError, match=r"allowed is 3 mm or more, to be legible"):
        lettering("A", height)
    assert lettering("A", LEAST_HEIGHT)
