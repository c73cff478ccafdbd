"""The drawing of measured kerfs over the days they were measured."""

from __future__ import annotations

import itertools
from datetime import date
from xml.etree import ElementTree

import pytest
from tests.drawing.plan.test_kerf_plot import SVG, machine

from strapwright.drawing.plan.kerf_history import HEIGHT, WIDTH, kerf_history
from strapwright.drawing.svg import element
from strapwright.rules.leather import Tannage

ROWS = (
    ("vegetable", 3.6, 0.24, "2026-03-02", None),
    ("vegetable", 2.8, 0.20, "2026-03-02", None),
    ("vegetable", 3.6, 0.27, "2026-09-02", 0.04),
    ("chrome", 2.0, 0.18, "2024-07-14", None),
)


def drawn(*rows, tannage=Tannage.VEGETABLE, limits=None):
    one = machine(*rows)
    if limits:
        one = one.model_copy(update={"limits": one.limits.model_copy(update=limits)})
    root = ElementTree.fromstring(element(kerf_history(one, tannage, date(2026, 11, 1))))
    circles = [
        (float(mark.get("cx")), float(mark.get("cy")), mark.get("class"))
        for mark in root.iter(f"{SVG}circle")
    ]
    legend = 3
    return root, circles[legend:], [text.text for text in root.iter(f"{SVG}text")]


def test_what_counts_is_filled_and_what_was_replaced_is_hollow():
    _, marks, words = drawn(*ROWS)
    by_place = {(round(x), round(y)): look for x, y, look in marks}
    assert len(by_place) == 3
    assert sorted(look for _, _, look in marks) == ["counts", "counts", "gap"]
    (hollow,) = [(x, y) for x, y, look in marks if look == "gap"]
    newest = max(marks)
    assert hollow[0] < newest[0]  # later is further to the right
    assert hollow[1] > newest[1]  # and wider is higher
    assert {"2.8 mm", "3.6 mm", "kerf, mm", "2026-03-02"} <= set(words)
    assert "2 mm" not in words  # of chrome leather


def test_kerfs_and_days_stand_where_the_axes_say():
    root, marks, words = drawn(*ROWS)
    texts = {text.text: text for text in root.iter(f"{SVG}text")}
    grid = {float(text): float(texts[text].get("y")) - 4.5 for text in words if text.startswith("0.")}
    (low, low_y), *_, (high, high_y) = sorted(grid.items())
    for x, y, _ in marks:
        width = low + (y - low_y) / (high_y - low_y) * (high - low)
        assert min(abs(width - one) for one in (0.20, 0.24, 0.27)) < 5e-4
        assert 0 < x < WIDTH
        assert 0 < y < HEIGHT
    first = min(x for x, _, _ in marks)
    assert float(texts["2026-03-02"].get("x")) == pytest.approx(first, abs=0.01)


def test_the_spread_of_several_readings_is_a_bar_as_long():
    root, marks, _ = drawn(*ROWS)
    x, y, _ = max(marks)
    bars = [
        one
        for one in root.iter(f"{SVG}line")
        if one.get("class") == "mark" and one.get("x1") == one.get("x2")
    ]
    (bar,) = [
        one for one in bars if abs(float(one.get("x1")) - x) < 0.01 and float(one.get("y1")) < HEIGHT - 60
    ]
    low, high = float(bar.get("y1")), float(bar.get("y2"))
    assert (low + high) / 2 == pytest.approx(y, abs=0.02)
    per_mm = abs(y - next(v for _, v, look in marks if look == "gap")) / 0.03
    assert low - high == pytest.approx(0.04 * per_mm, rel=0.01)


def test_one_too_old_is_crossed_out_and_one_alone_is_drawn():
    root, marks, _ = drawn(*ROWS, tannage=Tannage.CHROME, limits={"kerf_max_age_days": 90})
    assert [look for *_, look in marks] == ["gap"]
    assert len([one for one in root.iter(f"{SVG}path") if one.get("class") == "mark"]) == 2  # and the key's
    _, marks, _ = drawn(*ROWS, tannage=Tannage.CHROME)
    assert [look for *_, look in marks] == ["counts"]


def test_labels_of_like_kerfs_do_not_stand_on_one_another():
    rows = [("vegetable", t, 0.2 + t / 1e4, "2026-03-02", None) for t in (2.0, 2.4, 2.8, 3.2)]
    root, _, _ = drawn(*rows)
    ys = sorted(float(one.get("y")) for one in root.iter(f"{SVG}text") if (one.text or "").endswith(" mm"))
    assert all(after - before >= 14.9 for before, after in itertools.pairwise(ys))
