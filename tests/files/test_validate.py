from __future__ import annotations

import json
from collections.abc import Iterator, Mapping  # noqa: TC003  # the models below are read at run time
from datetime import date
from enum import StrEnum
from math import pi
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field, ValidationError, create_model
from pydantic_core import PydanticCustomError  # noqa: TC002

from strapwright.core.errors import FileProblems
from strapwright.files.fields import (
    Count,
    Length,
    Measure,
    NotTrue,
    Number,
    PositiveLength,
    Thickness,
    mistake,
)
from strapwright.files.messages import Loc  # noqa: TC001
from strapwright.files.validate import Strict, attempt, one_of, schema_of, validate


class Colour(StrEnum):
    RED = "red"
    GREEN = "green"


class Inner(Strict):
    width: PositiveLength
    height: Annotated[float, Measure(least=0.0)] | None = None
    either: Number | None = None
    other: Number | None = None

    @classmethod
    def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
        if "either" in table and "other" in table:
            yield ("other",), mistake("found beside either, expected one of the two")


class Outer(Strict):
    length: Length = 0.0
    thick: Thickness = 1.0
    angle: Annotated[float, Measure("angle", least=-2 * pi, most=2 * pi)] = 0.0
    count: Annotated[Count, Field(ge=1, le=9)] = 1
    name: Annotated[str, Field(min_length=1, max_length=5)] = "x"
    flag: Annotated[bool, Field(strict=True)] = False
    choice: Literal["left", "right"] = "left"
    how_many: Annotated[Literal[1, 2], NotTrue] = 1
    colour: Colour = Colour.RED
    day: date | None = None
    inner: tuple[Inner, ...] = ()
    by_name: Annotated[dict[str, Inner], Field(default_factory=dict)]
    pair: tuple[PositiveLength, PositiveLength] | None = None
    points: Annotated[list[tuple[Number, Number]], Field(min_length=3)] | None = None
    either: Inner | list[Number] | None = None
    range: Annotated[float, Measure(least=6, most=150)] | None = None


def problems_of(data: object) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        validate(Outer, data, "f.toml")
    assert all(len(line.splitlines()) == 1 for line in caught.value.problems)
    return [line.removeprefix("f.toml: ") for line in caught.value.problems]


LENGTH = 'expected a length such as "44 mm" or "1 3/4 in"'


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({"length": "abc"}, f'length: found "abc", {LENGTH}'),
        ({"length": True}, f"length: found true, {LENGTH}"),
        ({"length": float("nan")}, f"length: found nan, {LENGTH}"),
        ({"length": float("inf")}, f"length: found inf, {LENGTH}"),
        ({"length": {}}, f"length: found a table, {LENGTH}"),
        ({"thick": "0 oz"}, 'thick: found "0 oz" (0 mm), expected more than 0 mm'),
        ({"angle": "400 deg"}, 'angle: found "400 deg", expected -360 deg to 360 deg'),
        ({"range": 5}, "range: found 5 (a bare number is millimetres), expected 6 mm to 150 mm"),
        ({"range": "5"}, 'range: found "5" (a bare number is millimetres), expected 6 mm to 150 mm'),
        ({"range": "7 in"}, 'range: found "7 in" (177.8 mm), expected 6 mm to 150 mm'),
        ({"range": "5 mm"}, 'range: found "5 mm", expected 6 mm to 150 mm'),
        ({"count": 0}, "count: found 0, expected 1 or more"),
        ({"count": 10}, "count: found 10, expected 9 or less"),
        ({"count": 2.0}, "count: found 2.0, expected a whole number"),
        ({"count": "2"}, 'count: found "2", expected a whole number'),
        ({"count": True}, "count: found true, expected a whole number"),
        ({"count": 10**400}, "count: found a huge number, expected 9 or less"),
        ({"name": ""}, 'name: found "", expected 1 or more characters'),
        ({"name": "sixsix"}, 'name: found "sixsix", expected 5 or fewer characters'),
        ({"name": 3}, "name: found 3, expected text in quotes"),
        ({"flag": "yes"}, 'flag: found "yes", expected true or false'),
        ({"choice": "lefft"}, 'choice: found "lefft", expected "left" or "right"; did you mean "left"?'),
        ({"choice": 3}, 'choice: found 3, expected "left" or "right"'),
        ({"how_many": 3}, "how_many: found 3, expected 1 or 2"),
        ({"how_many": 10**5000}, "how_many: found a huge number, expected a smaller whole number"),
        ({"how_many": True}, "how_many: found true, expected a whole number"),
        ({"colour": "blue"}, 'colour: found "blue", expected "red" or "green"'),
        ({"day": "soon"}, 'day: found "soon", expected a date such as 2026-03-14'),
        ({"inner": 3}, "inner: found 3, expected [[inner]] tables"),
        ({"inner": [3]}, "inner[1]: found 3, expected a table"),
        ({"inner": [{"width": 1}, {}]}, f"inner[2].width: missing, {LENGTH}"),
        (
            {"inner": [{"width": -1}]},
            "inner[1].width: found -1 (a bare number is millimetres), expected more than 0 mm",
        ),
        ({"by_name": {"a b": {"width": "x"}}}, f'by_name."a b".width: found "x", {LENGTH}'),
        ({"pair": ["1 mm"]}, f"pair[2]: missing, {LENGTH}"),
        ({"pair": ["1 mm", "x"]}, f'pair[2]: found "x", {LENGTH}'),
        ({"pair": [1, 2, 3]}, "pair: found 3, expected 2 or fewer entries"),
        ({"points": [[0, 0]]}, "points: found 1, expected 3 or more entries"),
        ({"points": [[0, 0], [1, "x"], [1, 1]]}, 'points[2][2]: found "x", expected a number'),
        ({"lenght": 1}, 'lenght: unknown key; did you mean "length"?'),
        ({"Length": 1}, 'Length: unknown key; did you mean "length"?'),
        ({"by-name": {}}, 'by-name: unknown key; did you mean "by_name"?'),
        (
            {"inner": [{"width": 1, "zzz": 1}]},
            "inner[1].zzz: unknown key; expected one of width, height, either, other",
        ),
        (
            {"inner": [{"width": 1, "a\nb": 1}]},
            'inner[1]."a\\nb": unknown key; expected one of width, height, either, other',
        ),
        ([], "found an empty list, expected a table"),
    ],
)
def test_each_mistake_is_one_line_of_what_was_found_and_expected(data: object, message: str) -> None:
    assert problems_of(data) == [message]


def test_all_mistakes_are_told_together_cross_checks_beside_single_keys() -> None:
    assert problems_of({"length": "x", "inner": [{"width": "y", "either": 1, "other": 2}], "cuont": 1}) == [
        f'length: found "x", {LENGTH}',
        f'inner[1].width: found "y", {LENGTH}',
        "inner[1].other: found beside either, expected one of the two",
        'cuont: unknown key; did you mean "count"?',
    ]


def test_a_union_tells_places_without_its_branches() -> None:
    lines = problems_of({"either": {"width": "x"}})
    assert f'either.width: found "x", {LENGTH}' in lines
    assert all("Inner" not in line for line in lines)


def test_a_sound_file_becomes_its_model() -> None:
    made = validate(
        Outer,
        {"length": "1 in", "thick": "9 oz", "angle": "180 deg", "inner": [{"width": 1, "height": "0"}]},
        "f.toml",
    )
    assert (made.length, made.thick, made.angle) == (25.4, 3.571875, pi)
    assert made.inner[0].height == 0.0
    with pytest.raises(ValidationError):
        made.length = 3.0  # type: ignore[misc]


def test_a_model_written_out_is_read_again() -> None:
    made = validate(Outer, {"inner": [{"width": 1}], "range": 8}, "f.toml")
    assert validate(Outer, made.model_dump(), "again") == made


def test_another_place_in_a_message_is_worded_by_the_reader() -> None:
    class Pair(Strict):
        entries: tuple[Inner, ...]

        @classmethod
        def cross_checks(cls, table: Mapping[str, Any]) -> Iterator[tuple[Loc, PydanticCustomError]]:
            yield ("entries", 1), mistake("found {braces} as {other}", other=("entries", 0))

    model, (found,) = attempt(Pair, {"entries": [{"width": 1}, {"width": 1}]})
    assert model is None
    assert found.line("f") == "f: entries[2]: found {braces} as entries[1]"
    assert found.line("f", lambda loc: f"line {loc[1]}") == "f: line 1: found {braces} as line 0"


def test_exactly_one_of_some_keys_is_worded_by_how_many_there_are() -> None:
    assert one_of({"a": 1}, "a", "b") == ""
    assert one_of({}, "a", "b") == "found neither, expected exactly one of a and b"
    assert one_of({}, "a", "b", "c") == "found none, expected exactly one of a, b and c"
    assert one_of({"a": 0, "c": 0}, "a", "b", "c") == "found both a and c, expected exactly one of a, b and c"


def test_the_schema_takes_text_or_number_for_a_length_and_has_no_null() -> None:
    schema = schema_of(Outer, "outer")
    kept = json.dumps(schema)
    assert "null" not in kept
    length = schema["properties"]["range"]
    assert [one["type"] for one in length["anyOf"]] == ["string", "number"]
    assert length["anyOf"][1] | {"minimum": 6, "maximum": 150} == length["anyOf"][1]
    assert length["examples"] == ["44 mm", "4.4 cm", "1 3/4 in"]
    assert length["description"] == 'a length such as "44 mm" or "1 3/4 in"; 6 mm to 150 mm'
    assert schema["additionalProperties"] is False
    assert schema["properties"]["angle"]["anyOf"][1]["maximum"] == 360.0


@pytest.mark.parametrize("kind", ["length", "thickness", "angle"])
def test_every_example_in_a_schema_is_itself_allowed(kind: Literal["length", "thickness", "angle"]) -> None:
    for measure in (Measure(kind), Measure(kind, least=0.2, most=3.0), Measure(kind, least=0.0, above=True)):
        examples = measure.__get_pydantic_json_schema__({}, None)["examples"]  # type: ignore[arg-type]
        assert examples
        for text in examples:
            measure.read(text)


def test_a_key_of_two_hundred_thousand_letters_is_cut_in_its_message() -> None:
    with pytest.raises(FileProblems) as caught:
        validate(create_model("Table", __base__=Strict, x=(int, 1)), {"k" * 200_000: 1}, "job.toml")
    assert caught.value.problems == (f'job.toml: "{"k" * 57}…": unknown key; expected one of x',)
