from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, strategies as st

from strapwright.core.errors import FileProblems
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.file import append_buckle, buckle_names, read_catalogue
from strapwright.job.measuring import (
    BUCKLE_QUESTIONS,
    answered,
    buckle_of,
    check_name,
    entry_of,
    entry_text,
    next_question,
    summary,
)

if TYPE_CHECKING:
    from pathlib import Path

SINGLE = {"opening": "54 mm", "bar_diameter": "5 mm", "frame_depth": "44 mm"}
EVERY_KIND = [
    (SINGLE, Buckle(opening=54, bar_diameter=5, frame_depth=44)),
    (
        {
            "given": "for_strap",
            "for_strap": "1 1/2 in",
            "bar_kind": "flat",
            "bar_width": "5 mm",
            "bar_height": "3",
            "bar": "centre",
            "frame_depth": "20",
            "rear_depth": "18.5 mm",
            "prong_width": "3 mm",
            "prong_thickness": "2.5 mm",
            "hole_seat": "19 mm",
        },
        Buckle(
            for_strap=38.1,
            bar_section=(5, 3),
            bar="centre",
            frame_depth=20,
            rear_depth=18.5,
            prong_width=3,
            prong_thickness=2.5,
            hole_seat=19,
        ),
    ),
    (
        {**SINGLE, "prongs": "2", "prong_spacing": "22 mm"},
        Buckle(opening=54, bar_diameter=5, frame_depth=44, prongs=2, prong_spacing=22),
    ),
    (
        {**SINGLE, "prongs": "0", "hook_depth": "5 cm"},
        Buckle(opening=54, bar_diameter=5, frame_depth=44, prongs=0, hook_depth=50),
    ),
]


def interviewed(typed: dict[str, str], *, name: str = "x") -> dict[str, str]:
    """Answer every question asked, by its key; what is not given is left to its default."""
    answers: dict[str, str] = {}
    left = dict(typed)
    while (question := next_question(answers, (), name=name)) is not None:
        answers = answered(answers, question, left.pop(question.key, ""))
    assert not left, "never asked"
    return answers


@pytest.mark.parametrize(("typed", "buckle"), EVERY_KIND)
def test_the_answers_make_the_buckle_and_its_table_reads_back(typed: dict[str, str], buckle: Buckle) -> None:
    answers = interviewed(typed)
    assert buckle_of(answers) == buckle
    table = tomllib.loads(entry_text("my buckle", answers))["buckle"]["my buckle"]
    assert table == entry_of(answers)
    assert Buckle.model_validate(table) == buckle


@pytest.mark.parametrize(("typed", "buckle"), EVERY_KIND)
def test_only_what_applies_is_asked(typed: dict[str, str], buckle: Buckle) -> None:
    asked = set(interviewed(typed))
    assert ("opening" in asked) != ("for_strap" in asked)
    assert ("bar_diameter" in asked) == (buckle.bar_section is None)
    assert ("rear_depth" in asked) == (buckle.bar == "centre")
    assert ("prong_width" in asked) == ("prong_thickness" in asked) == (buckle.prongs > 0)
    assert ("prong_spacing" in asked) == (buckle.prongs == 2)
    assert ("hook_depth" in asked) == (buckle.prongs == 0)


def test_between_them_the_questions_ask_for_every_measure_a_buckle_has() -> None:
    asked = {question.key for question in BUCKLE_QUESTIONS}
    apart = {"bar_width", "bar_height", "given", "bar_kind"}
    assert (asked - apart) | {"bar_section"} == set(Buckle.model_fields) - {"name", "price"}


def test_every_question_about_the_buckle_has_a_drawing_a_narrow_terminal_can_show() -> None:
    for question in BUCKLE_QUESTIONS:
        assert question.drawing
        assert question.drawing.isascii()
        assert max(len(line) for line in question.drawing.splitlines()) <= 76
        if question.key not in ("given", "bar_kind", "bar", "prongs"):
            assert question.key in question.drawing


def test_the_entry_is_written_as_it_was_typed_with_a_comment_beside_each_measure() -> None:
    text = entry_text("brass 54", interviewed({**SINGLE, "opening": '2 1/8"', "frame_depth": "44"}))
    assert text == (
        '[buckle."brass 54"]\n'
        'opening = "2 1/8 in"                   # inside width along the bar\n'
        'bar_diameter = "5 mm"                  # the bar the strap folds over\n'
        'frame_depth = "44 mm"                  # bar centre to the inner face of the front bar\n'
        'prong_width = "4 mm"                   # where it passes the strap\n'
        'prong_thickness = "3.5 mm"             # of the prong, at its eye\n'
    )


def test_a_length_typed_at_length_goes_in_as_millimetres() -> None:
    text = entry_text("x", interviewed({**SINGLE, "opening": "000000000000000000054.00 mm"}))
    assert 'opening = "54 mm"' in text


@given(st.decimals(6, 150, places=3), st.sampled_from(["", " mm", "mm", "  MM "]))
def test_any_opening_in_range_means_in_the_file_what_it_meant_when_typed(number: object, unit: str) -> None:
    answers = interviewed({**SINGLE, "opening": f"{number}{unit}"})
    table = tomllib.loads(entry_text("x", answers))["buckle"]["x"]
    assert Buckle.model_validate(table).opening == pytest.approx(float(str(number)), abs=1e-9)


@pytest.mark.parametrize(
    ("key", "typed", "message"),
    [
        ("given", "o", None),
        ("given", "callipers", 'found "callipers", expected opening or for_strap'),
        ("given", "openning", 'found "openning", expected opening or for_strap; did you mean "opening"?'),
        ("opening", "", "found nothing, expected 6 mm to 150 mm"),
        ("opening", "5 mm", 'found "5 mm", expected 6 mm to 150 mm'),
        ("opening", "6 in", 'found "6 in" (152.4 mm), expected 6 mm to 150 mm'),
        ("opening", "wide", 'found "wide", expected a length such as "44 mm" or "1 3/4 in"'),
        ("opening", "54,5 mm", None),
        ("opening", "54,5,1 mm", 'found "54,5,1 mm", expected a length such as "44 mm" or "1 3/4 in"'),
        ("bar", "Centre", None),
        ("prongs", "3", 'found "3", expected 1, 2 or 0'),
        ("prongs", "two", 'found "two", expected 1, 2 or 0'),
        ("prong_width", "", None),
        ("hole_seat", "", None),
        ("hole_seat", "none", None),
        ("hole_seat", "0", 'found "0" (a bare number is millimetres), expected 1 mm to 150 mm'),
    ],
)
def test_an_answer_that_does_not_do_is_one_line(key: str, typed: str, message: str | None) -> None:
    (question,) = (one for one in BUCKLE_QUESTIONS if one.key == key)
    before = {
        "given": "opening",
        "opening": "54 mm",
        "bar_kind": "round",
        "bar_diameter": "5 mm",
        "bar": "heel",
        "frame_depth": "44 mm",
        "prongs": "1",
        "prong_width": "4 mm",
        "prong_thickness": "3 mm",
    }
    before.pop(key, None)
    if message is None:
        assert key in answered(before, question, typed)
        return
    with pytest.raises(ValueError, match=r"^found ") as caught:
        answered(before, question, typed)
    assert str(caught.value) == message


def test_prongs_that_do_not_fit_are_refused_when_their_spacing_is_given() -> None:
    with pytest.raises(ValueError, match="found prong_spacing 52 mm") as caught:
        interviewed({**SINGLE, "prongs": "2", "prong_spacing": "52 mm"})
    assert str(caught.value).endswith("in 54 mm, expected 4.5 mm to 49 mm")


def test_the_summary_says_what_strap_the_buckle_takes() -> None:
    answers = interviewed(SINGLE)
    assert "It takes a strap 52 mm (2 1/16 in) wide: 54 mm less the usual clearance of 2 mm." in summary(
        "x", answers
    )
    sold = interviewed({"given": "for_strap", "for_strap": "38.1", "bar_diameter": "5", "frame_depth": "44"})
    assert "It takes a strap 38.1 mm (1 1/2 in) wide, as it is sold for." in summary("x", sold)
    assert "takes the place of the shipped buckle" in summary("single-40", answers)
    assert "takes the place" not in summary("x", answers)


def test_a_free_name_is_proposed() -> None:
    answers = interviewed(SINGLE)
    del answers["confirm"]
    for taken, name in (
        ((), "my-single-54"),
        (("my-single-54",), "my-single-54-2"),
        (("my-single-54", "my-single-54-2"), "my-single-54-3"),
    ):
        question = next_question(answers, taken)
        assert question is not None
        assert (question.key, question.default) == ("name", name)


@pytest.mark.parametrize("name", ["", " x", "x\ny", "x" * 41])
def test_a_name_that_cannot_head_a_table_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="expected 1 to 40 printable characters"):
        check_name(name, ())


OWN = (
    "# mine, do not touch\n\n"
    '[buckle.a]   # first\nopening="46 mm"\nbar_diameter = 5\nframe_depth    = 40\n\n'
    "[punch.p]\ndiameter = 4   # no newline follows"
)
TEXT = entry_text('odd "name" ü', {"opening": "54 mm", "bar_diameter": "5 mm", "frame_depth": "44 mm"})


@pytest.mark.parametrize(
    "own",
    [
        OWN.encode(),
        (OWN + "\n").encode(),
        OWN.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + OWN.encode(),
        b"",
        b"# nothing yet\n",
        b"[buckle]\na.opening = 46\na.bar_diameter = 5\na.frame_depth = 40\n",
    ],
    ids=["no newline", "newline", "CRLF", "BOM", "empty", "comment", "dotted"],
)
def test_what_stands_in_the_file_stays_byte_for_byte(tmp_path: Path, own: bytes) -> None:
    path = tmp_path / "catalogue.toml"
    path.write_bytes(own)
    before = read_catalogue(path)
    append_buckle(path, 'odd "name" ü', TEXT)
    now = path.read_bytes()
    assert now.startswith(own)
    assert now.count(b"\r\n") in (0, now.count(b"\n"))
    after = read_catalogue(path)
    assert after.buckles['odd "name" ü'].opening == 54.0
    assert {name: one for name, one in after.buckles.items() if name in before.buckles} == before.buckles
    assert after.owned_punches == before.owned_punches
    assert [one.name for one in tmp_path.iterdir()] == ["catalogue.toml"]


def test_a_catalogue_that_is_not_there_is_begun(tmp_path: Path) -> None:
    path = tmp_path / "new" / "catalogue.toml"
    assert buckle_names(path) == frozenset()
    append_buckle(path, 'odd "name" ü', TEXT)
    assert path.read_text("utf-8").startswith("# Your own buckles, fasteners, leathers and punches")
    assert buckle_names(path) == {'odd "name" ü'}


@pytest.mark.parametrize(
    ("own", "message"),
    [
        (
            "buckle = { a = { opening = 46, bar_diameter = 5, frame_depth = 40 } }\n",
            (
                "buckle: found an inline table, which no other can follow; expected a [buckle.NAME] table "
                "for each"
            ),
        ),
        (
            '[buckle.a]\nopening = "wide"\nbar_diameter = 5\nframe_depth = 40\n',
            'buckle.a.opening: found "wide"',
        ),
        ("[buckle.a\n", "line 1, column 10: not valid TOML"),
    ],
)
def test_a_file_nothing_can_follow_in_is_told_before_anything_is_asked(
    tmp_path: Path, own: str, message: str
) -> None:
    path = tmp_path / "catalogue.toml"
    path.write_text(own)
    for refused in (lambda: buckle_names(path), lambda: append_buckle(path, "b", TEXT)):
        with pytest.raises(FileProblems) as caught:
            refused()
        assert str(caught.value).startswith(f"{path}: {message}")
    assert path.read_text() == own


def test_a_name_that_is_there_is_not_added_again(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.toml"
    path.write_text(OWN)
    with pytest.raises(FileProblems, match='found a buckle "a" already, expected another name'):
        append_buckle(path, "a", TEXT)
    assert path.read_text() == OWN
