"""SVG hides: names from any editor, what is not shown, what is refused, and path data read strictly."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from strapwright.core.errors import FileProblems
from strapwright.core.findings import Severity
from strapwright.geometry.drawings.svg_path import flattened, numbers_in, runs_of
from strapwright.nesting.hide.file import read_hide

if TYPE_CHECKING:
    from pathlib import Path

    from strapwright.nesting.hide.types import Hide

PAGE = 'xmlns="http://www.w3.org/2000/svg" width="900mm" height="600mm" viewBox="0 0 900 600"'
SIDE = '<rect id="outline" x="10" y="10" width="800" height="500"/>'
NAMESPACES = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" xmlns:e="urn:some-editor" '


def written(path: Path, inside: str, root: str = "") -> Path:
    path.write_text(f"<svg {PAGE} {NAMESPACES}{root}>{SIDE}{inside}</svg>")
    return path


def hide_of(tmp_path: Path, inside: str, root: str = "") -> Hide:
    return read_hide(written(tmp_path / "a.svg", inside, root))


def problems_of(tmp_path: Path, inside: str, root: str = "") -> list[str]:
    path = written(tmp_path / "a.svg", inside, root)
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    return [line.replace(f"{path}: ", "") for line in caught.value.problems]


CIRCLE = '<circle cx="300" cy="300" r="20"{}/>'
CIRCLE_XY = CIRCLE.format(' class="x y"')
CIRCLE_C = CIRCLE.format(' id="c"')
CIRCLE_B = CIRCLE.format(' class="b" vector-effect="non-scaling-stroke"')


@pytest.mark.parametrize(
    "group",
    [
        '<g id="void">{}</g>',
        '<g inkscape:label="Void" id="layer2">{}</g>',
        '<g e:label=" void ">{}</g>',
        '<g label="VOID">{}</g>',
        '<g id="void_2_" data-name="void">{}</g>',
        '<g e:id="void" id="g12">{}</g>',
        '<g id="mark" e:label="void">{}</g>',  # what the editor shows, before what it keeps to itself
        '<g id="Layer_1"><g id="g3" data-name="void"><g id="g4">{}</g></g></g>',
    ],
)
def test_a_group_is_named_by_the_label_of_any_editor(group: str, tmp_path: Path) -> None:
    (flaw,) = hide_of(tmp_path, group.format(CIRCLE.format(""))).flaws
    assert flaw.kind == "hole"


@pytest.mark.parametrize(
    ("inside", "what"),
    [
        (CIRCLE.format(' id="c" display="none"'), 'circle "c" (display: none)'),
        (CIRCLE.format(' style="fill:red;display:none"'), "a circle (display: none)"),
        (CIRCLE.format(' style="dis\\70 lay:/* off */none"'), "a circle (display: none)"),
        (CIRCLE.format(' visibility="hidden"'), "a circle (visibility: hidden)"),
        (CIRCLE.format(' systemLanguage="de"'), "a circle (systemLanguage de)"),
        (CIRCLE.format(' systemLanguage=""'), "a circle (systemLanguage empty)"),
        (CIRCLE.format(' requiredExtensions="urn:x"'), "a circle (requiredExtensions)"),
        (
            f'<g id="g7" e:label="old" style="display:none">{CIRCLE.format("") * 2}</g>',
            'g "old" with 2 shapes (display: none)',
        ),
        (f"<g visibility='hidden'>{CIRCLE.format('')}</g>", "a circle (visibility: hidden)"),
        (
            f"<style>.x{{display:none}} .x.y{{display:none}}</style>{CIRCLE_XY}",
            "a circle (display: none)",
        ),
        (
            f"<style>g > #c{{visibility:hidden}}</style>{CIRCLE_C}",
            'circle "c" (visibility: hidden)',
        ),
        (
            f"<switch><g/>{CIRCLE.format('')}</switch>",
            "a circle (another part of its <switch> is shown)",
        ),
    ],
)
def test_a_shape_that_is_not_shown_is_named_and_left_out(inside: str, what: str, tmp_path: Path) -> None:
    hide = hide_of(tmp_path, f'<g id="void">{inside}</g>')
    assert hide.flaws == ()
    (finding,) = hide.findings
    assert (finding.code, finding.severity) == ("drawing-not-shown", Severity.CAUTION)
    assert finding.what == f"Left out, because the drawing does not show it: {what}."


def test_what_is_shown_again_within_what_is_hidden_is_read(tmp_path: Path) -> None:
    hide = hide_of(
        tmp_path,
        "<style>.x{display:none}</style>"
        f'<g id="void" visibility="hidden"><g style="visibility:visible">{CIRCLE.format("")}</g></g>'
        f'<g id="mark" class="x" style="display:inline">{CIRCLE.format("")}</g>'
        f'<g id="loose" systemLanguage="fr, en-GB">{CIRCLE.format("")}</g>',
    )
    assert [flaw.kind for flaw in hide.flaws] == ["hole", "mark", "loose"]
    assert hide.findings == ()


def test_an_outline_that_is_not_shown_is_missed_by_name(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text(f"<svg {PAGE} style='visibility:hidden'>{SIDE}</svg>")
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    (line,) = caught.value.problems
    assert line.endswith(
        "found no closed shape, expected one in a group named outline "
        '(left out: rect "outline" (visibility: hidden))'
    )


@pytest.mark.parametrize(
    "declared",
    [
        "transform: translate(10px, 5px)",
        "-webkit-transform: scale(2)",
        "transform-origin: center",
        "translate: 10px",
        "rotate: 10deg",
        "scale: 2",
        "r: 40px",
        "cx: 10px",
        "d: path('M0 0')",
        "width: 50px",
        "offset-path: path('M0 0')",
        "all: unset",
        "clip-path: url(#a)",
        "mask: url(#a)",
        "filter: url(#a)",
    ],
)
@pytest.mark.parametrize("where", ["style", "sheet", "group"])
def test_a_property_that_changes_a_shape_is_refused_wherever_it_stands(
    declared: str, where: str, tmp_path: Path
) -> None:
    circle = CIRCLE.format(' class="x"')
    styled = CIRCLE.format(f' style="{declared}"')
    inside = {
        "style": f'<g id="void">{styled}</g>',
        "sheet": f'<style>rect, .x {{ {declared} }}</style><g id="void">{circle}</g>',
        "group": f'<g id="void" style="{declared}">{circle}</g>',
    }[where]
    lines = problems_of(tmp_path, inside)
    assert lines
    assert all("which is not read" in line and declared.split(":")[0] in line for line in lines)


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        (
            CIRCLE.format(' transform-origin="10 10"'),
            '<circle>: found transform-origin "10 10", which is not read; release it',
        ),
        (
            CIRCLE.format(' clip-path="url(#a)"'),
            '<circle>: found clip-path "url(#a)", which is not read; release it',
        ),
        (
            CIRCLE.format(' style="display:contents"'),
            '<circle>: found display "contents", expected inline or none',
        ),
        (
            CIRCLE.format(' style="display:var(--x)"'),
            '<circle>: found display "var(--x)", expected inline or none',
        ),
        (
            "<style>@media print { .x { display: none } }</style>",
            "found @media in <style>, which is not read",
        ),
        ('<style media="print">.x{display:none}</style>', 'found <style media="print">, which is not read'),
        ("<style>@import url(a.css);</style>", "found @import in <style>, which is not read"),
        (
            '<circle r="5"><animate attributeName="r" to="9"/></circle>',
            "found <animate>, which may move or change",
        ),
        ('<circle cx="3mm" cy="3" r="2"/>', '<circle>: found cx="3mm", expected a plain number'),
        ('<circle cx="3abc" cy="3" r="2"/>', '<circle>: found cx="3abc", expected a plain number'),
        ('<circle cx="1e400" cy="3" r="2"/>', '<circle>: found cx="1e400", expected a plain number'),
        (
            '<circle cx="3" cy="3" r="1e9"/>',
            "<circle>: it reaches 1e+06 m from the drawing's origin, expected",
        ),
        (
            '<circle cx="3" cy="3" r="9000"/>',
            "<circle>: it is 18.0 m from side to side, expected at most 10 m; are the units right?",
        ),
        ('<polygon points="0,0 5,5 9,x"/>', '<polygon>: found "0,0 5,5 9,x", expected plain numbers'),
        ('<polygon points="0,0 5,5 9,,9"/>', '<polygon>: found "0,0 5,5 9,,9", expected plain numbers'),
        ('<path d="M0 0 L5 5 z"/>', "<path>: a closed shape of 2 points encloses nothing; take it out"),
        ('<path d="M5 5z"/>', "<path>: a closed shape of 0 points encloses nothing; take it out"),
        (
            '<path d="M0 0 A5 5 0 0 1 0 0z"/>',
            "<path>: a closed shape of 0 points encloses nothing; take it out",
        ),
        (
            '<path d="M0 0 L1e400 5 5 9z"/>',
            '<path>: after "L" in its path data: found "1e400 5 5 9", in which',
        ),
        (
            '<path d="M0 0 L9 5garbage 5 9z"/>',
            '<path>: after "L" in its path data: found "9 5g", expected plain numbers',
        ),
        ('<path d="M0 0 L9 5 6z"/>', '<path>: after "L" in its path data: found 3 numbers, expected 2'),
        ('<path d="M0 0 L9 5 6 6z7"/>', '<path>: after "z" in its path data: found 1 numbers, expected none'),
        (
            '<path d="M0 0 A5 5 0 2 1 9 9z"/>',
            '<path>: after "A" in its path data: found "5 5 0 2 1 9 9", expected two radii',
        ),
        (
            '<path d="L0 0 5 5 6 8z"/>',
            '<path>: its path data begins with "L0 0 5 5 6 8", expected "M" and numbers',
        ),
        ('<path d=""/>', '<path>: found an empty path in group "void", expected closed shapes'),
        ('<path d="M 3 3"/>', '<path>: found an empty path in group "void", expected closed shapes'),
        ('<text x="5">scar</text>', '<text>: found a text in group "void", expected closed shapes'),
        ('<image width="5" height="5"/>', '<image>: found an image in group "void", expected closed shapes'),
        ('<rect width="9" height="9" rx="-1"/>', "<rect>: found corner radii -1 and -1, expected 0 or more"),
        (
            '<rect width="9" height="9" transform="scale(1e400)"/>',
            '<rect>: the transform "scale(1e400)" cannot be read',
        ),
    ],
)
def test_what_cannot_be_read_is_one_line(inside: str, expected: str, tmp_path: Path) -> None:
    (line,) = problems_of(tmp_path, f'<g id="void">{inside}</g>')
    assert line.startswith(expected)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            ('viewBox="0 0 900 600"', 'viewBox="0 0 900 600 7x"'),
            'found viewBox="0 0 900 600 7x", expected one such',
        ),
        (('width="900mm"', 'width="1e400mm"'), 'found width="1e400mm", expected a width'),
        (
            ('viewBox="0 0 900 600"', 'viewBox="0 0 900 600.3" preserveAspectRatio="xMinYMin meet"'),
            'found preserveAspectRatio="xMinYMin" where width, height and viewBox do not agree',
        ),
        (("<svg", '<?xml-stylesheet href="a.css"?><svg'), "found a style sheet outside the drawing"),
        (("<svg", '<svg transform="scale(2"'), '<svg>: the transform "scale(2" cannot be read'),
    ],
)
def test_a_page_that_is_not_plain_is_one_line(change: tuple[str, str], expected: str, tmp_path: Path) -> None:
    path = written(tmp_path / "a.svg", "")
    path.write_text(path.read_text().replace(*change))
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    (line,) = caught.value.problems
    assert line.replace(f"{path}: ", "").startswith(expected)


def test_what_is_no_shape_outside_the_named_groups_is_left_out_by_name(tmp_path: Path) -> None:
    (finding,) = hide_of(
        tmp_path,
        '<g id="Layer 1"><text>my hide</text><image/><path d="M0 0L5 5"/><path d="M0 0L5 6"/></g>'
        '<g id="notes"><text>nobody misses me</text></g><text>loose</text>',
    ).findings
    assert (finding.code, finding.severity) == ("drawing-left-out", Severity.NOTE)
    assert finding.what == (
        'Left out, because it is not a closed shape: a text in group "Layer 1", an image in group "Layer '
        '1", an open line in group "Layer 1" (2 times), a text in no named group.'
    )


def test_a_transform_of_the_drawing_itself_is_applied(tmp_path: Path) -> None:
    hide = hide_of(tmp_path, "", 'transform="translate(5 -5)"')
    assert hide.outline.min(axis=0) == pytest.approx([15, 95])


def test_harmless_styles_are_no_obstacle(tmp_path: Path) -> None:
    hide = hide_of(
        tmp_path,
        "<style>@charset 'utf-8'; @font-face{font-family:x} "
        ".a,.b{fill:none;stroke:#000;fill-rule:evenodd}"
        ".c::after{transform:none}</style>"
        "<defs><clipPath id='q'><rect width='5' height='5'/></clipPath></defs>"
        '<g id="void" class="a" clip-path="none" '
        'style="mix-blend-mode:normal;-inkscape-stroke:none;mask:none">'
        f"{CIRCLE_B}</g>",
    )
    assert len(hide.flaws) == 1


def test_numbers_take_no_time_to_be_refused() -> None:
    with pytest.raises(ValueError, match="expected plain numbers"):
        numbers_in("1" * 100_000 + "x")


@pytest.mark.parametrize("turn", [0.0, 30.0, -75.0])
@pytest.mark.parametrize("flags", ["0 0", "0 1", "1 0", "1 1"])
def test_an_arc_keeps_to_its_ellipse_and_its_chords_to_the_tolerance(turn: float, flags: str) -> None:
    rx, ry = 300.0, 120.0
    (run,) = runs_of(f"M 100 50 A {rx} {ry} {turn} {flags} 250 -20")
    corners, curved = flattened(run.cubics, np.eye(3), lambda _: None)
    assert curved
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    straight = (corners @ np.array([[c, -s], [s, c]])) / (rx, ry)  # there the ellipse is a unit circle
    # Three points of a circle give its centre; all others are as far from it.
    a, b, d = straight[0], straight[len(straight) // 2], straight[-1]
    centre = np.linalg.solve(2 * np.array([b - a, d - a]), [b @ b - a @ a, d @ d - a @ a])
    assert np.hypot(*(straight - centre).T) == pytest.approx(1.0, abs=1e-7)
    fine = np.linspace(0, 2 * math.pi, 10_000)  # chords of it stray by under 2e-5 mm
    ellipse = shapely.linearrings((np.column_stack([np.cos(fine), np.sin(fine)]) + centre) * (rx, ry))
    middles = (straight[1:] + straight[:-1]) / 2 * (rx, ry)
    assert shapely.distance(shapely.points(middles), ellipse).max() < 2e-3
    large, sweep = flags.split()
    turned = np.diff(np.unwrap(np.arctan2(*(straight - centre).T[::-1])))
    assert (turned > 0).all() if sweep == "1" else (turned < 0).all()
    assert (abs(turned.sum()) > math.pi) == (large == "1")


def test_curves_of_silly_number_are_refused_before_they_are_made(tmp_path: Path) -> None:
    wild = "C" + "9000 0 0 9000 9000 9000 " * 3000
    (line,) = problems_of(tmp_path, f'<g id="void"><path d="M0 0{wild}z"/></g>')
    assert line.startswith("its curves need more than 2,000,000 corners")


def test_a_second_run_goes_on_from_where_the_first_began() -> None:
    first, second = (run.cubics for run in runs_of("m 10 10 h 5 v 5 z l -5 0 0 -5 z"))
    assert shapely.Polygon([piece[:2] for piece in first]).area == pytest.approx(12.5)
    assert second[0][:2] == (10, 10)
    assert second[1][:2] == (5, 10)
