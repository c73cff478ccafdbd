"""The drawings of measured kerfs, over thickness and over the days they were measured."""

from __future__ import annotations

import itertools
from datetime import date
from xml.etree import ElementTree

import pytest
from svgpathtools import parse_path

from strapwright.drawing.kerf_plot import DAYS, THICKNESSES, kerf_history, kerf_plot
from strapwright.drawing.looks import LOOKS
from strapwright.drawing.svg import element
from strapwright.files.atomic_write import MARK
from strapwright.machine.profile.machine import machine_from
from strapwright.rules.leather import Tannage

ROWS = (
    ("vegetable", 3.6, 0.24, "2026-03-02", None),
    ("vegetable", 2.8, 0.20, "2026-03-02", None),
    ("vegetable", 3.6, 0.27, "2026-09-02", 0.04),
    ("chrome", 2.0, 0.18, "2024-07-14", None),
)

SVG = "{http://www.w3.org/2000/svg}"


def machine(*rows: tuple[str, float, float, str, float | None]):
    table = {"name": "bench <laser> & more", "kind": "laser", "bed": [600, 400]}
    kerf = [
        {"material": m, "thickness": t, "width": w, "measured": date.fromisoformat(d)}
        | ({"spread": s} if s is not None else {})
        for m, t, w, d, s in rows
    ]
    return machine_from({"machine": table, "kerf": kerf}, "m.toml")


def drawn(*rows: tuple[str, float, float, str, float | None]):
    text = kerf_plot(machine(*rows))
    assert text.count(MARK) == 1
    root = ElementTree.fromstring(text)
    words = [element.text for element in root.iter(f"{SVG}text")]
    marks = [one for one in root.iter() if one.get("class", "").startswith(("reading-", "replaced"))]
    return root, words, [(place(mark), mark) for mark in marks]


def place(mark):
    """The middle of a mark."""
    if mark.tag == f"{SVG}circle":
        return float(mark.attrib["cx"]), float(mark.attrib["cy"])
    left, right, top, bottom = parse_path(mark.attrib["d"]).bbox()
    return (left + right) / 2, (top + bottom) / 2


def test_a_reading_stands_where_its_thickness_and_kerf_are_on_the_axes():
    root, words, marks = drawn(
        ("vegetable", 2.0, 0.11, "2026-01-02", None), ("vegetable", 4.0, 0.31, "2026-01-03", None)
    )
    ticks = {
        element.text: (float(element.attrib["x"]), float(element.attrib["y"]))
        for element in root.iter(f"{SVG}text")
    }
    (x2, y2), (x4, y4) = marks[0][0], marks[1][0]
    assert (x2, x4) == pytest.approx((ticks["2"][0], ticks["4"][0]), abs=0.01)
    assert y2 - y4 == pytest.approx(2 * (ticks["0.1"][1] - ticks["0.2"][1]), abs=0.05)
    assert {"2026-01-02", "2026-01-03", "thickness, mm", "kerf, mm", "vegetable"} <= set(words)


def test_what_a_newer_row_replaced_is_hollow_and_not_joined():
    root, words, marks = drawn(
        ("vegetable", 3.0, 0.3, "2026-01-02", None), ("vegetable", 3.0, 0.2, "2026-02-02", None)
    )
    looks = [mark.attrib["class"] for _, mark in marks]
    assert looks == ["replaced", "reading-vegetable", "reading-vegetable"]  # the last is the key's
    assert LOOKS["replaced"].fill == "#ffffff" != LOOKS["reading-vegetable"].fill
    assert not [line for line in root.iter(f"{SVG}line") if line.get("class") == "kerf-vegetable"][1:]
    assert "2026-02-02" in words
    assert "2026-01-02" not in words


def test_materials_are_told_apart_by_mark_and_dash():
    root, words, marks = drawn(
        *(
            (material, t, 0.1 * t, "2026-01-02", None)
            for material in ("vegetable", "chrome")
            for t in (1.0, 2.0)
        )
    )
    (one, other) = (
        {mark.tag for _, mark in marks if mark.attrib["class"] == f"reading-{name}"}
        for name in ("vegetable", "chrome")
    )
    assert (one, other) == ({f"{SVG}circle"}, {f"{SVG}path"})
    looks = [line.attrib["class"] for line in root.iter(f"{SVG}line")]
    assert looks.count("kerf-vegetable") == looks.count("kerf-chrome") == 2  # drawn, and in the key
    assert LOOKS["kerf-vegetable"].dashes != LOOKS["kerf-chrome"].dashes
    assert {"vegetable", "chrome"} <= set(words)


def test_the_spread_of_several_readings_is_a_bar():
    def green(spread: float | None) -> int:
        root, _, _ = drawn(("vegetable", 3.0, 0.2, "2026-01-02", spread))
        return sum(line.attrib["class"] == "spread-vegetable" for line in root.iter(f"{SVG}line"))

    assert green(0.02) == green(None) + 3  # the bar and its two ends


def test_a_name_with_markup_in_it_is_only_text():
    root, words, _ = drawn(("unknown", 3.0, 0.2, "2026-01-02", None))
    assert "Kerf of bench <laser> & more" in words
    assert (float(root.attrib["width"]), float(root.attrib["height"])) == (
        THICKNESSES.width,
        THICKNESSES.height,
    )


def over_days(*rows, tannage=Tannage.VEGETABLE, limits=None):
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
    _, marks, words = over_days(*ROWS)
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
    root, marks, words = over_days(*ROWS)
    texts = {text.text: text for text in root.iter(f"{SVG}text")}
    grid = {float(text): float(texts[text].get("y")) - 4.5 for text in words if text.startswith("0.")}
    (low, low_y), *_, (high, high_y) = sorted(grid.items())
    for x, y, _ in marks:
        width = low + (y - low_y) / (high_y - low_y) * (high - low)
        assert min(abs(width - one) for one in (0.20, 0.24, 0.27)) < 5e-4
        assert 0 < x < DAYS.width
        assert 0 < y < DAYS.height
    first = min(x for x, _, _ in marks)
    assert float(texts["2026-03-02"].get("x")) == pytest.approx(first, abs=0.01)


def test_the_spread_of_several_readings_is_a_bar_as_long():
    root, marks, _ = over_days(*ROWS)
    x, y, _ = max(marks)
    bars = [
        one
        for one in root.iter(f"{SVG}line")
        if one.get("class") == "mark" and one.get("x1") == one.get("x2")
    ]
    (bar,) = [
        one
        for one in bars
        if abs(float(one.get("x1")) - x) < 0.01 and float(one.get("y1")) < DAYS.height - 60
    ]
    low, high = float(bar.get("y1")), float(bar.get("y2"))
    assert (low + high) / 2 == pytest.approx(y, abs=0.02)
    per_mm = abs(y - next(v for _, v, look in marks if look == "gap")) / 0.03
    assert low - high == pytest.approx(0.04 * per_mm, rel=0.01)


def test_one_too_old_is_crossed_out_and_one_alone_is_drawn():
    root, marks, _ = over_days(*ROWS, tannage=Tannage.CHROME, limits={"kerf_max_age_days": 90})
    assert [look for *_, look in marks] == ["gap"]
    assert len([one for one in root.iter(f"{SVG}path") if one.get("class") == "mark"]) == 2  # and the key's
    _, marks, _ = over_days(*ROWS, tannage=Tannage.CHROME)
    assert [look for *_, look in marks] == ["counts"]


def test_labels_of_like_kerfs_do_not_stand_on_one_another():
    rows = [("vegetable", t, 0.2 + t / 1e4, "2026-03-02", None) for t in (2.0, 2.4, 2.8, 3.2)]
    root, _, _ = over_days(*rows)
    ys = sorted(float(one.get("y")) for one in root.iter(f"{SVG}text") if (one.text or "").endswith(" mm"))
    assert all(after - before >= 14.9 for before, after in itertools.pairwise(ys))
