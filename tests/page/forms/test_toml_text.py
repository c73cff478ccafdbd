"""Single values of a job's file are changed; every comment, every other line stays."""

from __future__ import annotations

import tomllib
from importlib import resources

import pytest
from hypothesis import given, strategies as st

from strapwright.page.forms.toml_text import (
    text_with_edits,
    text_with_entries,
    text_without,
    text_without_entry,
    value_at,
    with_edits,
)

STARTER = (resources.files("strapwright") / "starter/jobs/first/job.toml").read_text("utf-8")


def changed_lines(new: str) -> tuple[list[str], list[str]]:
    """The lines of the starter that are gone, and those that are new."""
    old, now = STARTER.splitlines(), new.splitlines()
    return [line for line in old if line not in now], [line for line in now if line not in old]


def comments(text: str) -> list[str]:
    return [line[line.index("#") :] for line in text.splitlines() if "#" in line and '"#' not in line]


def test_a_value_in_a_table_of_one_line_changes_alone():
    new = text_with_edits(STARTER, {("belt", 0, "size", "girth"): "102 cm"})
    assert changed_lines(new) == (['size = { girth = "960 mm" }'], ['size = { girth = "102 cm" }'])


def test_another_way_of_sizing_takes_the_place_of_the_first():
    new = text_with_edits(STARTER, {("belt", 0, "size", "trousers"): 36, ("belt", 0, "size", "girth"): None})
    assert changed_lines(new)[1] == ["size = { trousers = 36 }"]


def test_a_table_goes_for_a_name_and_the_comments_below_it_stay():
    new = text_with_edits(STARTER, {("belt", 1, "buckle"): "house-45"})
    assert "# --- this job alone" in new
    assert '# keeper_ease_width = "2 mm"' in new
    assert tomllib.loads(new)["belt"][1]["buckle"] == "house-45"


def test_a_name_becomes_a_table():
    edits = {("belt", 0, "buckle", "opening"): "40 mm", ("belt", 0, "buckle", "frame_depth"): "3 cm"}
    assert 'buckle = { opening = "40 mm", frame_depth = "3 cm" }' in text_with_edits(STARTER, edits)


def test_a_table_that_becomes_empty_goes():
    edits = {("belt", 1, "crease", "distance"): None}
    assert "crease" not in tomllib.loads(text_with_edits(STARTER, edits))["belt"][1]


def test_a_belt_is_added_before_what_follows_and_taken_out_again():
    added = text_with_entries(
        STARTER, "belt", [{"id": "new", "size": {"girth": "9 dm"}, "buckle": "single-40"}]
    )
    assert [belt["id"] for belt in tomllib.loads(added)["belt"]] == ["ines", "tomasz", "new"]
    assert comments(added) == comments(STARTER)
    assert tomllib.loads(text_without_entry(added, "belt", 2)) == tomllib.loads(STARTER)


def test_taking_out_a_belt_keeps_the_comments_over_the_next_one():
    for index in (0, 1):
        new = text_without_entry(STARTER, "belt", index)
        assert len(tomllib.loads(new)["belt"]) == 1
        assert "# --- a belt measured on an old one" in new
        assert "# --- this job alone" in new


def test_the_tables_given_are_left_as_they_are():
    tables = tomllib.loads(STARTER)
    with_edits(tables, {("belt", 0, "size", "girth"): None, ("leather", "thickness"): "4 mm"})
    assert tables == tomllib.loads(STARTER)


VALUES = st.one_of(
    st.none(), st.integers(1, 99), st.booleans(), st.text(min_size=1, max_size=12), st.floats(0.5, 9.5)
)
KEYS = st.sampled_from(
    [
        ("belt", 0, "name"),
        ("belt", 0, "size", "girth"),
        ("belt", 0, "size", "trousers"),
        ("belt", 0, "buckle"),
        ("belt", 0, "holes", "count"),
        ("belt", 0, "keeper"),
        ("belt", 0, "marks", "text"),
        ("belt", 1, "tip", "length"),
        ("belt", 1, "size", "old", "thickness"),
        ("belt", 1, "size", "old", "frame_depth"),
        ("belt", 1, "buckle", "opening"),
        ("belt", 1, "buckle", "hole_seat"),
        ("leather", "thickness"),
        ("leather", "temper"),
        ("layout", "gap"),
        ("job", "name"),
        ("house", "fold_play"),
    ]
)


@given(st.dictionaries(KEYS, VALUES, max_size=5))
def test_the_text_always_says_what_the_tables_would(edits):
    new = text_with_edits(STARTER, edits)
    assert tomllib.loads(new) == with_edits(tomllib.loads(STARTER), edits)
    for key, value in edits.items():
        assert value_at(tomllib.loads(new), key) == value
    own = [line for line in STARTER.splitlines() if line.startswith("# ---")]
    assert [line for line in new.splitlines() if line.startswith("# ---")] == own


@pytest.mark.parametrize("index", [0, 1, 2])
@pytest.mark.parametrize(
    "text",
    [
        "# mine\n[m]\nn = 1\n\n[[kerf]]\nw = 1  # one\n\n[[kerf]]\nw = 2\n\n[[kerf]]\nw = 3\n\n# e\n[x]\n",
        '# mine\nkerf = [{ w = 1 }, { w = 2 },\n  { w = 3 }]  # in line\n[machine]\nname = "a"\n',
    ],
)
def test_an_entry_is_taken_out_of_tables_and_of_a_list_in_line(text: str, index: int):
    new = text_without(text, "kerf", index)
    wanted = tomllib.loads(text)
    del wanted["kerf"][index]
    assert tomllib.loads(new) == wanted
    comments = [line.split("#")[1] for line in text.splitlines() if "#" in line and "# one" not in line]
    assert all(comment in new for comment in comments)


def test_the_last_entry_takes_its_list_with_it():
    for text in ("a = 1\nkerf = [{ w = 1 }]\n", "a = 1\n\n[[kerf]]\nw = 1\n"):
        assert tomllib.loads(text_without(text, "kerf", 0)) == {"a": 1}
