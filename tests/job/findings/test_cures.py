"""A finding says which keys it hangs on; every value it offers as a cure does away with it."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from strapwright.job.draft import draft
from strapwright.job.spec.job import Job
from strapwright.job.spec.strap import Belt, StrapTable

BUCKLE = {"opening": "46 mm", "bar_diameter": "5 mm", "frame_depth": "38 mm"}
BELT = {"id": "ines", "size": {"worn_to_hole": "1000 mm"}, "buckle": BUCKLE}
STRAP = {"id": "bag", "width": "25 mm", "length": "1100 mm"}
PUNCHES = {"near": {"diameter": "4.8 mm"}}


def with_value(table: dict[str, Any], dotted: str, value: object) -> dict[str, Any]:
    """The table with a cure's value where its key says; None takes the key out."""
    new = deepcopy(table)
    *above, last = [int(part) if part.isdigit() else part for part in dotted.split(".")]
    inner: Any = new
    for part in above:
        inner = inner[part] if isinstance(inner, list) else inner.setdefault(part, {})
    if value is None:
        del inner[last]
    else:
        inner[last] = value
    return new


def findings(kind: str, table: dict[str, Any], **job: Any):
    leather = {"thickness": "3.6 mm", "tannage": "vegetable"} | job.pop("leather", {})
    data = {"leather": leather, kind: [table]}
    context = {}
    if job.pop("punches", False):
        from strapwright.job.catalogue.file import CatalogueFile, _catalogue, shipped

        own = _catalogue(CatalogueFile.model_validate({"punch": PUNCHES}))
        context["catalogue"] = shipped().extended(own)
    (item,) = draft(Job.model_validate(data | job, context=context)).items
    return item.findings


CASES: list[tuple[str, dict[str, Any], dict[str, Any], dict[str, Any]]] = [
    ("fold-strain", {"buckle": BUCKLE | {"bar_diameter": "2.5 mm"}}, {}, {}),
    ("tip-short", {"holes": {"last_to_tip": "60 mm"}}, {}, {}),
    ("tip-short", {"holes": {"last_to_tip": "7 cm", "shape": "oval"}, "keeper": {"width": "41 mm"}}, {}, {}),
    ("tail-long", {"holes": {"count": 11, "spacing": "30 mm"}}, {}, {}),
    ("turn-back-short", {"turn_back": "58 mm"}, {}, {}),
    ("keeper-leather", {"keeper": {"join": "lap"}}, {}, {}),
    ("keeper-thick", {"keeper": {"join": "lap", "thickness": "3.6 mm"}}, {}, {}),
    ("keeper-opens-rows", {"keeper": {"held": "row_b"}}, {}, {}),
    ("keeper-slides", {"fastener_holes": {"rows": 1}}, {}, {}),
    ("fastener-hole-small", {"fastener_holes": {"diameter": "2 mm"}}, {}, {}),
    ("fastener-hole-wide", {"fastener_holes": {"diameter": "9 mm"}}, {}, {}),
    ("leather-thick", {"use": "dress"}, {}, {}),
    ("punch-near", {}, {}, {"punches": True}),
    ("mark-smaller", {"marks": {"text": "Row & Daughter", "height": "12 mm"}}, {}, {}),
    ("unit-slip", {"size": {"girth": "38 cm"}}, {}, {}),
    ("unit-slip", {"buckle": BUCKLE | {"frame_depth": "4 mm"}}, {}, {}),
    ("unit-slip", {"holes": {"spacing": "10 mm"}}, {}, {}),
    ("turn-back-short", {}, {"ends": [{"tip": "round"}, {"bar_diameter": "4 mm", "turn_back": "44 mm"}]}, {}),
    ("unit-slip", {}, {"ends": [{"tip": "round"}, {"bar_diameter": "4 mm", "depth": "3 mm"}]}, {}),
]  # fmt: skip


@pytest.mark.parametrize(("code", "belt", "strap", "job"), CASES, ids=[case[0] for case in CASES])
def test_each_cure_does_away_with_its_finding(code, belt, strap, job):
    kind, table = ("strap", STRAP | strap) if strap else ("belt", BELT | belt)
    found = [one for one in findings(kind, table, **job) if one.code == code]
    assert found
    for finding in found:
        assert finding.keys
        assert finding.cures or code in ("unit-slip", "fold-strain")
        for cure in finding.cures:
            left = findings(kind, with_value(table, cure.key, cure.value), **job)
            assert not [one for one in left if one.code == code and one.keys == finding.keys], cure


def test_every_key_named_is_one_of_the_table():
    for _, belt, strap, job in CASES:
        kind, table = ("strap", STRAP | strap) if strap else ("belt", BELT | belt)
        model = StrapTable if strap else Belt
        for one in findings(kind, table, **job):
            for key in (*one.keys, *(cure.key for cure in one.cures)):
                names = {info.alias or name for name, info in model.model_fields.items()}
                assert key.split(".")[0] in names, key


def test_a_cure_stands_in_the_json_as_the_file_would_have_it():
    (one,) = (one for one in findings("belt", BELT | {"turn_back": "58 mm"}) if one.code == "turn-back-short")
    assert one.as_json()["keys"] == ["turn_back"]
    first, second = one.as_json()["cures"]
    assert first["key"] == "turn_back"
    assert first["value"].endswith(" mm")
    assert second == {"key": "turn_back", "value": None}
    assert "keys" not in type(one)(one.code, one.severity, one.what, one.do).as_json()
