"""Malformed jobs, each with exactly the line it is told by."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from tests.job.jobs import BELT, GOOD, LEATHER, changed

from strapwright.core.errors import FileProblems
from strapwright.job.spec.job import read_job

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LENGTH = 'expected a length such as "44 mm" or "1 3/4 in"'
TIPS = '"english_point", "round", "spear", "square"'
LONG = "x" * 41
AN_ID = 'expected 1 to 40 printable characters without "/" and without a space at either end'
WAYS = "expected exactly one of worn_to_hole, girth, belt_size and trousers"


def problems_of(path: Path, catalogue: Path | None = None) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        read_job(path, catalogue)
    assert all(len(line.splitlines()) == 1 for line in caught.value.problems)
    assert all(line.startswith(f"{path}: ") for line in caught.value.problems)
    return [line.removeprefix(f"{path}: ") for line in caught.value.problems]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "belt: missing, expected [[belt]] or [[strap]] tables"),
        ("belt = []\n" + LEATHER, "belt: found none, expected [[belt]] or [[strap]] tables"),
        ('belt = "ines"\n' + LEATHER, 'belt: found "ines", expected [[belt]] tables'),
        (BELT, "leather: missing, expected a table with thickness and tannage"),
        (
            BELT + 'leather = { tannage = "chrome" }\n',
            "belt[1].leather.thickness: missing, expected here or in a [leather] table for all belts",
        ),
        (
            LEATHER.replace('thickness = "9 oz"\n', "") + BELT + 'leather = { thickness = "9 oz" }\n',
            'leather.thickness: missing, expected a thickness such as "3.6 mm" or "9 oz"',
        ),
        (
            changed('"9 oz"', "true"),
            'leather.thickness: found true, expected a thickness such as "3.6 mm" or "9 oz"',
        ),
        (
            changed('"9 oz"', '"90 oz"'),
            'leather.thickness: found "90 oz" (35.72 mm), expected 0.8 mm to 12 mm',
        ),
        (
            changed('"9 oz"', '"7/8 oz"'),
            (
                'leather.thickness: found "7/8 oz", expected a thickness such as "3.6 mm" or "9 oz"; '
                "it could mean a range of weights or part of an ounce; give what you measured"
            ),
        ),
        (
            changed('"vegetable"', '"vegitable"'),
            (
                'leather.tannage: found "vegitable", expected "vegetable", "chrome", "combination", '
                '"synthetic" or "unknown"; did you mean "vegetable"?'
            ),
        ),
        ("[hous]\n" + GOOD, 'hous: unknown key; did you mean "house"?'),
        (GOOD + 'colour = "oxblood"\n', None),
        (GOOD + 'tips = "round"\n', 'belt[1].tips: unknown key; did you mean "tip"?'),
        (changed('id = "ines"\n', ""), 'belt[1].id: missing, expected text such as "ines"'),
        (changed('"ines"', '"a/b"'), f'belt[1].id: found "a/b", {AN_ID}'),
        (changed('"ines"', '"a\\nb"'), f'belt[1].id: found "a\\nb", {AN_ID}'),
        (changed('"ines"', f'"{LONG}"'), f'belt[1].id: found "{LONG}", {AN_ID}'),
        (changed('"ines"', "12"), "belt[1].id: found 12, expected text in quotes"),
        (GOOD + BELT, 'belt[2].id: found "ines" again, already the id of belt[1]; expected its own'),
        (GOOD + "quantity = 0\n", "belt[1].quantity: found 0, expected 1 or more"),
        (GOOD + "quantity = 2.0\n", "belt[1].quantity: found 2.0, expected a whole number"),
        (GOOD + 'price = "12"\n', 'belt[1].price: found "12", expected a number'),
        (GOOD + "price = -1\n", "belt[1].price: found -1, expected 0 or more"),
        (changed('"38 in"', '"-5 mm"'), 'belt[1].size.girth: found "-5 mm", expected 150 mm to 3000 mm'),
        (
            changed('"38 in"', "38"),
            "belt[1].size.girth: found 38 (a bare number is millimetres), expected 150 mm to 3000 mm",
        ),
        (changed('"38 in"', "nan"), f"belt[1].size.girth: found nan, {LENGTH}"),
        (
            changed('"38 in"', '"38 1/0 in"'),
            f'belt[1].size.girth: found "38 1/0 in", {LENGTH}; a fraction cannot be over 0',
        ),
        (
            changed('"38 in"', '"38 oz"'),
            f'belt[1].size.girth: found "38 oz", {LENGTH}; ounces are for leather\'s thickness only',
        ),
        (changed('girth = "38 in"', ""), f"belt[1].size: found none, {WAYS}"),
        (
            changed('girth = "38 in"', 'girth = "38 in", trousers = 36'),
            f"belt[1].size: found both girth and trousers, {WAYS}",
        ),
        (changed('girth = "38 in"', "trousers = 96"), "belt[1].size.trousers: found 96, expected 70 or less"),
        (
            changed('girth = "38 in"', 'trousers = "36"'),
            'belt[1].size.trousers: found "36", expected a number',
        ),
        (
            changed('girth = "38 in"', 'girth = "38 in", old = { thickness = "3 mm" }'),
            "belt[1].size.old: found without worn_to_hole, expected only with it",
        ),
        (
            changed('girth = "38 in"', 'girth = "38 in", hole_in_use = 9'),
            "belt[1].size.hole_in_use: found 9, expected 1 to 7, the holes' count",
        ),
        (changed('{ girth = "38 in" }', '"38 in"'), 'belt[1].size: found "38 in", expected a table'),
        (
            changed('"single-40"', '"singel-40"'),
            (
                'belt[1].buckle: found "singel-40", expected a buckle of the catalogue (single-20, '
                "single-25, single-30, single-40, single-45, hook-40, double-46, double-60); "
                'did you mean "single-40"?'
            ),
        ),
        (changed('"single-40"', "40"), "belt[1].buckle: found 40, expected a table"),
        (GOOD + 'tip = "pointy"\n', f'belt[1].tip: found "pointy", expected one of {TIPS}, "bridle_point"'),
        (
            GOOD + 'tip = "spaer"\n',
            f'belt[1].tip: found "spaer", expected one of {TIPS}, "bridle_point"; did you mean "spear"?',
        ),
        (
            GOOD + 'tip = { shape = "spere" }\n',
            f'belt[1].tip.shape: found "spere", expected {TIPS} or "bridle_point"; did you mean "spear"?',
        ),
        (
            GOOD + 'tip = { shape = "round", length = 40 }\n',
            'belt[1].tip.length: found with shape = "round", which takes no measure',
        ),
        (
            GOOD + "tip = { corner_radius = 4 }\n",
            (
                'belt[1].tip.corner_radius: found with shape = "english_point", '
                "which takes only length and nose_radius"
            ),
        ),
        (GOOD + "holes = { count = 16 }\n", "belt[1].holes.count: found 16, expected 15 or less"),
        (
            GOOD + 'holes = { spacing = "strap" }\n',
            f'belt[1].holes.spacing: found "strap", {LENGTH}',
        ),
        (
            GOOD + 'fastener = "glue"\n',
            'belt[1].fastener: found "glue", expected "screw_post", "rivet", "snap" or "stitched"',
        ),
        (
            GOOD + 'fastener = "stitched"\nfastener_holes = { rows = 1 }\n',
            'belt[1].fastener_holes: found with fastener = "stitched", which has no holes',
        ),
        (GOOD + "fastener_holes = { rows = 3 }\n", "belt[1].fastener_holes.rows: found 3, expected 1 or 2"),
        (
            GOOD + "fastener_holes = { across = true }\n",
            "belt[1].fastener_holes.across: found true, expected a whole number",
        ),
        (
            GOOD + 'keeper = "no"\n',
            'belt[1].keeper: found "no", expected a table such as { width = "20 mm" }, or "none"',
        ),
        (
            GOOD + 'keeper = { lap = "12 mm" }\n',
            'belt[1].keeper.lap: found with join = "butt", expected only with join = "lap"',
        ),
        (GOOD + "crease = {}\n", f"belt[1].crease.distance: missing, {LENGTH}"),
        (GOOD + "[house]\nneutral_axis = 0.7\n", "house.neutral_axis: found 0.7, expected 0.6 or less"),
        (
            GOOD + "[layout]\ngap = -1\n",
            "layout.gap: found -1 (a bare number is millimetres), expected 0 mm to 50 mm",
        ),
    ],
)
def test_one_mistake_is_one_line(write: Callable[..., Path], text: str, message: str | None) -> None:
    lines = problems_of(write(text))
    if message is None:  # no known key is near: all are listed
        (line,) = lines
        assert line.startswith("belt[1].colour: unknown key; expected one of id, name, quantity, ")
    else:
        assert lines == [message]


BUCKLE = {"opening": '"46 mm"', "bar_diameter": '"5 mm"', "frame_depth": '"40 mm"'}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            {"for_strap": "44"},
            ": found both opening and for_strap, expected exactly one of opening and for_strap",
        ),
        ({"opening": ""}, ": found neither, expected exactly one of opening and for_strap"),
        (
            {"bar_section": "[5, 2]"},
            ": found both bar_diameter and bar_section, expected exactly one of bar_diameter and bar_section",
        ),
        ({"frame_depth": ""}, f".frame_depth: missing, {LENGTH}"),
        ({"opening": '"abc"'}, f'.opening: found "abc", {LENGTH}'),
        ({"opening": '"4.6 mm"'}, '.opening: found "4.6 mm", expected 6 mm to 150 mm'),
        ({"bar": '"center"'}, '.bar: found "center", expected "heel" or "centre"; did you mean "centre"?'),
        ({"bar": '"centre"'}, '.rear_depth: missing, expected with bar = "centre"'),
        ({"rear_depth": "15"}, '.rear_depth: found with bar = "heel", expected only with bar = "centre"'),
        ({"prongs": "3"}, ".prongs: found 3, expected 0, 1 or 2"),
        ({"prongs": "true"}, ".prongs: found true, expected a whole number"),
        ({"prongs": "2"}, ".prong_spacing: missing, expected with prongs = 2"),
        ({"prong_spacing": "20"}, ".prong_spacing: found with prongs = 1, expected only with prongs = 2"),
        ({"prongs": "0"}, ".hook_depth: missing, expected with prongs = 0"),
        ({"hook_depth": "20"}, ".hook_depth: found with prongs = 1, expected only with prongs = 0"),
        (
            {"prongs": "2", "prong_spacing": '"44 mm"'},
            ": found prong_spacing 44 mm with prongs of 4 mm in 46 mm, expected 4.5 mm to 41 mm",
        ),
        ({"bar_width": "5"}, '.bar_width: unknown key; did you mean "prong_width"?'),
        ({"bar_diametre": "5"}, '.bar_diametre: unknown key; did you mean "bar_diameter"?'),
    ],
)
def test_one_mistake_in_a_buckle_is_one_line(
    write: Callable[..., Path], change: dict[str, str], message: str
) -> None:
    table = ", ".join(f"{key} = {value}" for key, value in (BUCKLE | change).items() if value)
    assert problems_of(write(changed('"single-40"', f"{{ {table} }}"))) == [f"belt[1].buckle{message}"]


def test_all_mistakes_are_told_at_once(write: Callable[..., Path]) -> None:
    text = (
        '[leather]\nthickness = "thick"\ntannage = "vegetable"\n'
        '[[belt]]\nid = "a"\nquantity = 0\nsize = {}\nbuckle = { opening = "x", for_strap = 3 }\n'
        '[[belt]]\nid = "a"\nsize = { girth = "38 in" }\nbuckle = "single-40"\nkeper = "none"\n'
    )
    assert problems_of(write(text)) == [
        'leather.thickness: found "thick", expected a thickness such as "3.6 mm" or "9 oz"',
        "belt[1].quantity: found 0, expected 1 or more",
        f"belt[1].size: found none, {WAYS}",
        f'belt[1].buckle.opening: found "x", {LENGTH}',
        "belt[1].buckle.for_strap: found 3 (a bare number is millimetres), expected 6 mm to 150 mm",
        f"belt[1].buckle.frame_depth: missing, {LENGTH}",
        "belt[1].buckle: found both opening and for_strap, expected exactly one of opening and for_strap",
        "belt[1].buckle: found neither, expected exactly one of bar_diameter and bar_section",
        'belt[2].keper: unknown key; did you mean "keeper"?',
        'belt[2].id: found "a" again, already the id of belt[1]; expected its own',
    ]


def test_ids_that_look_alike_are_the_same_id(write: Callable[..., Path]) -> None:
    composed, apart = "Zo\u00eb", "Zoe\u0308"
    text = changed("ines", composed) + BELT.replace("ines", apart)
    assert problems_of(write(text)) == [
        f'belt[2].id: found "{composed}" again, already the id of belt[1]; expected its own'
    ]


def test_a_file_of_nonsense_is_told_and_not_a_traceback(write: Callable[..., Path]) -> None:
    values: tuple[Any, ...] = ("1", '"x"', "[]", "{}", "[[]]", "1979-05-27", "true", "nan", "[{}]", "[[1]]")
    for key in ("job", "leather", "belt", "house", "layout"):
        for value in values:
            if (key, value) in (("job", "{}"), ("house", "{}"), ("layout", "{}")):
                continue
            assert problems_of(write(f"{key} = {value}\n"))
    for key in ("id", "size", "buckle", "tip", "holes", "fastener", "fastener_holes", "keeper", "leather"):
        for value in values:
            text = LEATHER + f"[[belt]]\n{key} = {value}\n"
            assert problems_of(write(text))


def test_a_missing_job_and_a_folder_are_refused(tmp_path: Path) -> None:
    assert problems_of(tmp_path / "job.toml") == ["no such file"]
    (tmp_path / "job.csv").mkdir()
    assert problems_of(tmp_path / "job.csv") == ["found a folder, expected a file"]
