"""The guide to machines says what the models say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from site_pages import keys

from strapwright.api import schemas
from strapwright.machine.profile.machine import machine_from, shipped_profiles

TEXT = (Path(__file__).parents[2] / "docs" / "machines.md").read_text("utf-8")


def test_the_made_page_has_every_key_of_every_table_with_what_it_is():
    schema = schemas.schema("machine")
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


def test_two_rows_for_one_leather_are_history():
    row = {"material": "vegetable", "thickness": 3, "width": 0.2, "measured": date(2026, 1, 1)}
    table = {"name": "m", "kind": "laser", "bed": [600, 400]}
    assert len(machine_from({"machine": table, "kerf": [row, row]}, "m.toml").kerf) == 2
