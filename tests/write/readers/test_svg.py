"""Reading SVG back: what is taken, and what is refused in one line."""

from __future__ import annotations

import pytest
from tests.write.plans import small_plan

from strapwright.core.errors import ProofError
from strapwright.write.formats.svg import Svg
from strapwright.write.readers.svg import read_svg


def svg(body: str, size: str = 'width="90mm" height="60mm" viewBox="0 0 90 60"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'


def group(data: str) -> str:
    return svg(f'<g id="cut"><title>cut</title><path d="{data}"/></g>')


def test_y_is_turned_back_and_the_nearest_group_is_the_layer():
    outer, inner = read_svg(
        svg(
            '<g><title>punch</title><path d="M1,58L5,58"/>'
            '<g><title>holes</title><path d="M0,60L3,60L3,56Z"/></g></g>'
        )
    )
    assert (outer.layer, inner.layer) == ("punch", "holes")
    assert outer.contour.vertices.tolist() == [[1, 2, 0], [5, 2, 0]]
    assert inner.contour.area == pytest.approx(6)
    assert (outer.contour.closed, inner.contour.closed) == (False, True)


def test_relative_words_are_read_too():
    [read] = read_svg(group("m1,58 h4 v-3 h-4 z"))
    assert read.contour.area == pytest.approx(12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the SVG text cannot be read: no element found: line 1, column 0"),
        ("<html/>", "the SVG text starts with <html>; expected <svg>"),
        (
            svg("", size='viewBox="0 0 90 60"'),
            "the SVG text says no size: expected width and height in mm, and a viewBox",
        ),
        (
            svg("", size='width="90" height="60" viewBox="0 0 90 60"'),
            "the SVG text says no size: expected width and height in mm, and a viewBox",
        ),
        (
            svg("", size='width="90mm" height="60mm" viewBox="0 -60 90 60"'),
            "the SVG text is not in bed millimetres: expected viewBox 0 0 90 60, found 0 -60 90 60",
        ),
        (
            svg('<g transform="scale(2)"><title>cut</title></g>'),
            "the SVG text moves paths by a transform; expected none",
        ),
        (
            svg('<g><title>cut</title><path transform="scale(2)" d="M0,0L1,1"/></g>'),
            "the SVG text moves paths by a transform; expected none",
        ),
        (
            svg('<g stroke-dasharray="4 2"><title>score</title></g>'),
            "the SVG text has dashed lines, which a machine cuts as dashes; expected none",
        ),
        (svg("<g><path d='M0,0L1,1'/></g>"), "a group of the SVG text has no title"),
        (svg("<rect/>"), "the SVG text holds <rect>; expected only groups and paths"),
        (
            group("M0,0C1,1 2,2 3,0"),
            'path 1 of the SVG text, in group "cut": it has a CubicBezier; expected lines and arcs',
        ),
        (
            group("M0,0A4,3 0 0 1 5,0"),
            'path 1 of the SVG text, in group "cut": it has an arc of an ellipse; expected circular arcs',
        ),
        (
            group("M0,0L1,0M5,5L6,6"),
            'path 1 of the SVG text, in group "cut": it is in pieces; expected one run',
        ),
        (group(""), 'path 1 of the SVG text, in group "cut": it has no segments'),
    ],
)
def test_what_cannot_be_a_cut_file_is_refused_in_one_line(text, message):
    with pytest.raises(ProofError) as caught:
        read_svg(text)
    assert str(caught.value).replace("{http://www.w3.org/2000/svg}", "") == message


@pytest.mark.parametrize(
    "data", ["M0,0L", "M0,0L1", "L", "M", "0,0", "M0,0A1,1 0 0 0", "M0,0L1,xyz", "M0,0 Q 1"]
)
def test_path_data_cut_short_is_one_error(data):
    with pytest.raises(ProofError) as caught:
        read_svg(group(data))
    assert "\n" not in str(caught.value)


def test_a_text_cut_short_anywhere_is_refused_in_one_line():
    made = small_plan()
    text = Svg().to_text(made.sheets[0], made)
    for end in range(0, len(text.rstrip()) - 1, 211):
        with pytest.raises(ProofError) as caught:
            read_svg(text[:end])
        assert "\n" not in str(caught.value)
