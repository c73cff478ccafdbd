"""The drawing of measured kerfs over thickness."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree

import pytest
from svgpathtools import parse_path

from strapwright.drawing.looks import LOOKS
from strapwright.drawing.plan.kerf_plot import HEIGHT, WIDTH, kerf_plot
from strapwright.files.atomic_write import MARK
from strapwright.machine.profile.machine import machine_from

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
    assert (float(root.attrib["width"]), float(root.attrib["height"])) == (WIDTH, HEIGHT)
