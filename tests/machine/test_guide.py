"""The guide to machines says what the models say."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from site_pages import keys

from strapwright.machine.profile import machine_from, machine_schema, shipped_profiles
from strapwright.machine.upgrade import upgrade

TEXT = (Path(__file__).parents[2] / "docs" / "machines.md").read_text("utf-8")


def test_the_made_page_has_every_key_of_every_table_with_what_it_is():
    schema = machine_schema()
    page = keys.page("The machine file", "", schema, "The file")
    tables = [schema, *(one for one in schema["$defs"].values() if "properties" in one)]
    assert len(tables) >= 9
    for table in tables:
        for key, about in table["properties"].items():
            assert f"| `{key}`" in page
            assert about.get("description", "") in page


@pytest.mark.parametrize("name", shipped_profiles())
def test_every_shipped_profile_is_in_the_guide(name):
    assert f"| `{name}` | " in TEXT


def test_what_the_guide_says_has_moved_has_moved():
    table = TEXT.split("| layout 1 | layout 2 |")[1].split("\n\n")[0]
    moves = re.findall(r"\| `(\w+)\.(\w+)` \| `(\w+)\.(\w+)` \|", table)
    assert moves
    for old_table, old_key, new_table, new_key in moves:
        new, notes = upgrade({old_table: {old_key: 1}}, "m.toml")
        assert isinstance(new, dict)
        assert new[new_table][new_key] == 1
        assert old_key not in new.get(old_table, {})
        assert f"{old_key} now stands in [{new_table}]" in notes[0].what


def test_two_rows_for_one_leather_are_history_in_a_file_of_any_layout():
    row = {"material": "vegetable", "thickness": 3, "width": 0.2, "measured": date(2026, 1, 1)}
    table = {"name": "m", "kind": "laser", "bed": [600, 400]}
    assert len(machine_from({"machine": table, "kerf": [row, row]}, "m.toml").kerf) == 2
