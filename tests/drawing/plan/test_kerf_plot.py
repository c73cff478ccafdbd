"""The drawing of measured kerfs over thickness."""

from __future__ import annotations

from datetime import date
from xml.etree import ElementTree

import pytest

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
    marks = [path for path in root.iter(f"{SVG}path") if "transform" in path.attrib]
    places = [
        tuple(map(float, mark.attrib["transform"].removeprefix("translate(").rstrip(")").split()))
        for mark in marks
    ]
    return root, words, list(zip(places, marks, strict=True))


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
    _, words, marks = drawn(
        ("vegetable", 3.0, 0.3, "2026-01-02", None), ("vegetable", 3.0, 0.2, "2026-02-02", None)
    )
    assert [mark.attrib["fill"] == "#FFFFFF" for _, mark in marks] == [
        True,
        False,
        False,
    ]  # the last is the key's
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
    shapes = {mark.attrib["d"] for _, mark in marks}
    assert len(shapes) == 2
    dashes = [
        p.attrib.get("stroke-dasharray") for p in root.iter(f"{SVG}path") if p.attrib["stroke"] == "#0072B2"
    ]
    assert "8 4" in dashes
    assert {"vegetable", "chrome"} <= set(words)


def test_the_spread_of_several_readings_is_a_bar():
    def green(spread: float | None) -> int:
        root, _, _ = drawn(("vegetable", 3.0, 0.2, "2026-01-02", spread))
        return sum(path.attrib["stroke"] == "#009E73" for path in root.iter(f"{SVG}path"))

    assert green(0.02) == green(None) + 3  # the bar and its two ends


def test_a_name_with_markup_in_it_is_only_text():
    root, words, _ = drawn(("unknown", 3.0, 0.2, "2026-01-02", None))
    assert "Kerf of bench <laser> & more" in words
    assert (float(root.attrib["width"]), float(root.attrib["height"])) == (WIDTH, HEIGHT)
