"""Hide files as a maker writes them: read right, or refused in one plain line each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from strapwright.api import schemas
from strapwright.core.errors import FileProblems, NestError
from strapwright.nesting.hide.file import read_hide
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide

if TYPE_CHECKING:
    from pathlib import Path

SQUARE = "points = [[0, 0], [500, 0], [500, 500], [0, 500]]"


def written(folder: Path, text: str) -> Path:
    path = folder / "side.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems_of(path: Path) -> list[str]:
    """The messages, with the folder's name taken out."""
    with pytest.raises(FileProblems) as caught:
        read_hide(path)
    return [line.replace(f"{path.parent}/", "") for line in caught.value.problems]


def test_a_hide_by_points_keeps_name_thickness_and_direction(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        f'[hide]\nname = "Öland 3"\nthickness = "9 oz"\nstrap_direction = "90 deg"\n{SQUARE}\n',
    )
    hide = read_hide(path)
    assert hide.name == "Öland 3"
    assert hide.thickness == pytest.approx(9 * 25.4 / 64)
    assert hide.strap_direction == pytest.approx(math.pi / 2)
    assert hide.area == 250_000
    assert len(hide.digest) == 64


def test_an_outline_run_clockwise_is_turned_round(tmp_path: Path) -> None:
    path = written(
        tmp_path, '[hide]\nname = "a"\npoints = [[0, 0], [0, "50 cm"], ["50 cm", "50 cm"], [500, 0]]\n'
    )
    outline = read_hide(path).outline
    x, y = outline.T
    assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2 == 250_000


def test_a_hide_by_tape_measure_runs_through_both_edges_of_every_station(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        '[hide]\nname = "a"\nstations = [[0, 0, 700], [1000, 0, 800], [1500, 10, 700], [1600, 300, 300]]\n',
    )
    hide = read_hide(path)
    assert len(hide.outline) == 7  # the last station closes to a point
    # Trapezia between stations: widths 700, 800, 690, 0.
    assert hide.area == pytest.approx(1000 * 750 + 500 * 745 + 100 * 345)


def test_a_round_flaw_is_covered_and_its_size_is_a_diameter(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        f'[hide]\nname = "a"\n{SQUARE}\n[[flaw]]\nkind = "mark"\nat = [100, "20 cm"]\nsize = "2 cm"\n',
    )
    (flaw,) = read_hide(path).flaws
    assert flaw.kind is FlawKind.MARK
    reach = np.hypot(*(flaw.polygon - (100, 200)).T)
    middles = (flaw.polygon + np.roll(flaw.polygon, -1, axis=0)) / 2
    assert np.hypot(*(middles - (100, 200)).T).min() >= 10 - 1e-9
    assert reach.max() <= 10.02 + 1e-9


def test_a_flaw_may_reach_over_the_edge_and_counts_only_where_it_lies_on_the_hide() -> None:
    square = np.array([(0, 0), (500, 0), (500, 500), (0, 500)])
    flaw = Flaw(FlawKind.LOOSE, np.array([(400, 100), (600, 100), (600, 200), (400, 200)]))
    assert Hide("a", square, (flaw, flaw)).flaw_area == pytest.approx(100 * 100)


@pytest.mark.parametrize(
    ("reaches", "kind", "nothing_left"),
    [
        ((250, 500), FlawKind.HOLE, True),
        ((500, 500), FlawKind.HOLE, True),  # one over the other
        ((499, 499), FlawKind.HOLE, False),  # together more than the hide, and yet they leave a strip
        ((250, 499), FlawKind.HOLE, False),
        ((250, 500), FlawKind.LOOSE, False),
    ],
)
def test_holes_consume_a_hide_only_where_no_leather_is_left_between_them(
    reaches: tuple[float, float], kind: FlawKind, nothing_left: bool
) -> None:
    square = np.array([(0, 0), (500, 0), (500, 500), (0, 500)])
    first, second = reaches
    begins = first if first < second else 0
    flaws = (
        Flaw(kind, np.array([(0, -5), (first, -5), (first, 505), (0, 505)])),
        Flaw(kind, np.array([(begins, -5), (second, -5), (second, 505), (begins, 505)])),
    )
    assert Hide("a", square, flaws).consumed is nothing_left


def test_a_hide_made_in_memory_is_checked_too() -> None:
    with pytest.raises(NestError, match="crosses or touches itself near"):
        Hide("bow", np.array([(0, 0), (500, 500), (500, 0), (0, 500)]))


BAD = {
    "nothing in it": ("", ["side.toml: hide: missing, expected a table"]),
    "no outline": (
        '[hide]\nname = "a"\n',
        [
            "side.toml: hide: found none, expected exactly one of points, outline and stations",
        ],
    ),
    "a name over two lines": (
        f'[hide]\nname = "a\\nb"\n{SQUARE}\n',
        ['side.toml: hide.name: found "a\\nb", expected one line, no space before or after it'],
    ),
    "two outlines": (
        f'[hide]\nname = "a"\n{SQUARE}\noutline = "a.svg"\n',
        [
            (
                "side.toml: hide: found both points and outline, expected exactly one of points, outline "
                "and stations"
            )
        ],
    ),
    "crosses itself": (
        '[hide]\nname = "a"\npoints = [[0, 0], [500, 500], [500, 0], [0, 400]]\n',
        [
            (
                "side.toml: hide.points: crosses or touches itself near (222.2, 222.2) mm, between points "
                "1 and 2; go round the edge in one sweep, or write repair = true under [hide]"
            )
        ],
    ),
    "tiny": (
        '[hide]\nname = "a"\npoints = [[0, 0], [5, 0], [5, 5], [0, 5]]\n',
        ["side.toml: hide.points: found 0.25 cm², expected at least 1 cm²; bare numbers are millimetres"],
    ),
    "huge": (
        '[hide]\nname = "a"\npoints = [[0, 0], [22000, 0], [22000, 500]]\n',
        [
            (
                "side.toml: hide.points: found 22 m from side to side, expected at most 10 m; are the "
                "units right? (bare numbers are millimetres)"
            )
        ],
    ),
    "a line": (
        '[hide]\nname = "a"\npoints = [[0, 0], [500, 0], [900, 0]]\n',
        ["side.toml: hide.points: encloses nothing: all its points lie in one line"],
    ),
    "a corner twice": (
        '[hide]\nname = "a"\npoints = [[0, 0], [500, 0], [500, 500], [0, 0]]\n',
        [
            (
                "side.toml: hide.points: points 4 and 1 are both (0, 0) mm; give each corner once (the "
                "outline closes itself)"
            )
        ],
    ),
    "stations": (
        '[hide]\nname = "a"\nstations = [[0, 0, 500], [0, 5, 500], [500, 600, 2]]\n',
        [
            (
                "side.toml: hide.stations[2]: found x 0 mm after 0 mm; give the stations in the order of "
                "growing x"
            ),
            "side.toml: hide.stations[3]: found y_low 600 mm above y_high 2 mm; write [x, y_low, y_high]",
        ],
    ),
    "flaws": (
        (
            f'[hide]\nname = "a"\n{SQUARE}\n'
            '[[flaw]]\nkind = "hole"\nat = [900, 900]\nsize = 10\n'
            '[[flaw]]\nkind = "mark"\npoints = [[10, 10], [20, 20], [20, 10], [10, 20]]\n'
        ),
        [
            (
                "side.toml: flaw[1]: is off the hide, near (905, 900) mm; put it on the hide or remove "
                "it (a flaw may reach over the edge)"
            ),
            (
                "side.toml: flaw[2]: crosses or touches itself near (15, 15) mm, between points 1 and 2; "
                "go round the edge in one sweep, or write repair = true under [hide]"
            ),
        ],
    ),
    "keys": (
        (
            f'[hide]\nnam = "a"\n{SQUARE}\n[[flaw]]\nkind = "scar"\nat = [1, 1]\n'
            '[[flaw]]\nkind = "mark"\npoints = [[0, 0], [1, 0], [0, 1]]\nsize = 3\n'
        ),
        [
            "side.toml: hide.name: missing, expected text",
            'side.toml: hide.nam: unknown key; did you mean "name"?',
            'side.toml: flaw[1].kind: found "scar", expected "hole", "mark" or "loose"',
            "side.toml: flaw[1]: found only at, expected points, or at and size",
            "side.toml: flaw[2]: found points and size, expected points, or at and size",
        ],
    ),
    "numbers": (
        '[hide]\nname = "a"\nthickness = -3\nstrap_direction = "up"\npoints = [[0, 0], [500, nan], [5]]\n',
        None,
    ),
    "a drawing of another kind": (
        '[hide]\nname = "a"\noutline = "a.pdf"\n',
        ['side.toml: hide.outline: found "a.pdf", expected a drawing: a .dxf or .svg file'],
    ),
    "a drawing that is not there": (
        '[hide]\nname = "a"\noutline = "a.dxf"\n',
        ["a.dxf: no such file"],
    ),
    "not TOML": (
        '[hide\nname = "a"\n',
        ["side.toml: line 1, column 6: not valid TOML: expected ']' at the end of a table declaration"],
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_malformed_hide_file_is_refused_in_plain_lines(name: str, tmp_path: Path) -> None:
    text, expected = BAD[name]
    found = problems_of(written(tmp_path, text))
    if expected is None:
        assert len(found) >= 4
        assert all(line.startswith("side.toml: hide.") and "expected" in line for line in found)
    else:
        assert found == expected
    assert all("\n" not in line for line in found)


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "side.png"
    path.write_bytes(b"x")
    assert problems_of(path) == [
        'side.png: found ".png", expected a hide file: .toml, or a drawing: .dxf or .svg'
    ]


def test_the_digest_changes_with_the_drawing_a_hide_file_names(tmp_path: Path) -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="400mm" viewBox="0 0 500 400">'
        '<rect id="outline" width="500" height="400"/></svg>'
    )
    (tmp_path / "a.svg").write_text(drawing)
    path = written(tmp_path, '[hide]\nname = "a"\noutline = "a.svg"\n')
    before = read_hide(path).digest
    (tmp_path / "a.svg").write_text(drawing.replace('height="400"/>', 'height="399"/>'))
    assert read_hide(path).digest != before


def test_a_hole_may_also_be_called_a_void_in_files_drawings_and_schema(tmp_path: Path) -> None:
    for word in ("hole", "void"):
        flaw = f'[[flaw]]\nkind = "{word}"\nat = [100, 100]\nsize = 10\n'
        (tmp_path / "a.toml").write_text(f'[hide]\nname = "a"\n{SQUARE}\n{flaw}')
        (tmp_path / "a.svg").write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" viewBox="0 0 500 500">'
            f'<rect id="outline" width="500" height="500"/><circle id="{word}" cx="9" cy="9" r="2"/></svg>'
        )
        for name in ("a.toml", "a.svg"):
            assert [flaw.kind for flaw in read_hide(tmp_path / name).flaws] == [FlawKind.HOLE], (word, name)
    kind = schemas.schema("hide")["$defs"]["FlawTable"]["properties"]["kind"]
    assert kind["enum"] == ["hole", "void", "mark", "loose"]
