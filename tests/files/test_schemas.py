"""What a reader takes is what the printed schema says: files bent at random, held against jsonschema.

The other way round does not hold and need not: a schema cannot say that a text is a length, nor what does
not go together.
"""

from __future__ import annotations

import copy
import datetime
import json
import random
import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import pytest

from strapwright.api import schema
from strapwright.core.errors import FileProblems
from strapwright.files.read import read_toml
from strapwright.files.validate import validate
from strapwright.job.catalogue.file import read_catalogue
from strapwright.job.spec.house import HouseFile
from strapwright.job.spec.job import read_job
from strapwright.machine.profile.machine import read_machine
from strapwright.nesting.hide.file import read_hide_file
from strapwright.nesting.strips.file import read_strips

if TYPE_CHECKING:
    from collections.abc import Iterator

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
STARTER = ROOT / "src" / "strapwright" / "starter"

KINDS = {
    "job": (
        read_job,
        [*EXAMPLES.glob("*-b*.toml"), EXAMPLES / "strap-goods.toml", STARTER / "jobs" / "first" / "job.toml"],
    ),
    "house": (
        lambda path: validate(HouseFile, read_toml(path), str(path)),
        [STARTER / "house.toml"],
    ),
    "catalogue": (
        read_catalogue,
        [
            EXAMPLES / "catalogue.toml",
            STARTER / "catalogue.toml",
            ROOT / "src/strapwright/job/catalogue/hardware.toml",
        ],
    ),
    "hide": (
        read_hide_file,
        [EXAMPLES / "side.toml", STARTER / "hides" / "side-7.toml", *(EXAMPLES / "hides").glob("*.toml")],
    ),
    "strips": (lambda path: read_strips([path]), [EXAMPLES / "strips.toml"]),
    "machine": (
        lambda path: read_machine(str(path)),
        [*(ROOT / "profiles").glob("*.toml"), EXAMPLES / "router-knife.toml", EXAMPLES / "bench-laser.toml"],
    ),
}

TEXTS = (
    "",
    " ",
    "x",
    "54 mm",
    "9 oz",
    "1/2 in",
    "90 deg",
    "12",
    "1.5",
    "true",
    "none",
    "round",
    "single-40",
    "2026-03-14",
    "2026-03-14T00:00:00",
    "1700000000",
    "20260314",
    "my_tip.py",
    "../my_tip.py",
    "/my_tip.py",
    "a\x1b[2Jb",
    "a\u2028b",
    "y" * 500,
)
SCALARS = (
    *TEXTS,
    *(True, False, 0, 1, -1, 2, 3.0, 2.5, 40, 1e9, -0.0, 1e-320, float("inf"), float("nan"), 10**18),
    datetime.date(2026, 3, 14),
    datetime.datetime(2026, 3, 14),
    datetime.datetime(2026, 3, 14, 1, 2, 3),
    datetime.time(1, 2, 3),
)
KEYS = ("x", "name", "source", "sketch", "shape", "width", "Width", "of", "__class__", "model_fields", "é")


def junk(rng: random.Random, depth: int = 2) -> Any:
    """Return a value of any kind: mostly one by itself, also lists and tables in one another."""
    kind, count = rng.randrange(5) if depth else 0, rng.randrange(4)
    if kind == 3:
        return [junk(rng, depth - 1) for _ in range(count)]
    if kind == 4:
        return {rng.choice(KEYS): junk(rng, depth - 1) for _ in range(count)}
    return rng.choice(SCALARS)


def branches(part: dict[str, Any], root: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield every way a part of a schema describes a value."""
    if "$ref" in part:
        yield from branches(root["$defs"][part["$ref"].rsplit("/", 1)[1]], root)
    for choice in part.get("anyOf", ()):
        yield from branches(choice, root)
    if "type" in part:
        yield part


def places(
    value: Any, parts: list[dict[str, Any]], root: dict[str, Any]
) -> Iterator[tuple[Any, Any, list[dict[str, Any]]]]:
    """Yield every place of a document: what holds it, its key, and what the schema says may stand there.

    Keys that the schema knows and the document does not have are places too.
    """
    found = [one for part in parts for one in branches(part, root)]
    if isinstance(value, dict):
        known = {key for one in found for key in one.get("properties", ())}
        for key in sorted({*value, *known}):
            inner = [one["properties"][key] for one in found if key in one.get("properties", ())]
            inner += [more for one in found if isinstance(more := one.get("additionalProperties"), dict)]
            yield value, key, inner
            if key in value:
                yield from places(value[key], inner, root)
    elif isinstance(value, list):
        inner = [one["items"] for one in found if "items" in one]
        for index, entry in enumerate(value):
            yield value, index, inner
            yield from places(entry, inner, root)


def fitting(parts: list[dict[str, Any]], root: dict[str, Any]) -> list[Any]:
    """Return values that the schema would have at a place, so that some of what is bent is taken."""
    values: list[Any] = []
    for part in parts:
        for one in branches(part, root):
            low, high = one.get("minimum", one.get("exclusiveMinimum")), one.get("maximum")
            values += [*one.get("enum", ()), *one.get("examples", ()), *part.get("examples", ())]
            values += [one[key] for key in ("const", "minimum", "maximum") if key in one]
            if one["type"] == "number":
                values += [(low + high) / 2] if None not in (low, high) else [(low or 0.0) + 1.5]
            values += {"boolean": [True, False], "integer": [(low or 0) + 1], "string": ["plain"]}.get(
                one["type"], []
            )
    return values


def plain(value: Any) -> Any:
    """Return a document as JSON has it, so that the schema can be asked."""
    if isinstance(value, dict):
        return {str(key): plain(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [plain(entry) for entry in value]
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    return value


def toml(value: Any) -> str:
    """Return a value as TOML has it, tables within tables on one line."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{json.dumps(key)} = {toml(entry)}' for key, entry in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return json.dumps(value) if isinstance(value, str | bool) else str(value)


@cache
def validator(kind: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(
        json.loads(json.dumps(schema(kind))), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_schema_is_one_and_takes_the_files_we_ship(kind):
    checked = validator(kind)
    jsonschema.Draft202012Validator.check_schema(checked.schema)
    for path in KINDS[kind][1]:
        checked.validate(plain(tomllib.loads(path.read_text("utf-8"))))


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_outside_the_printed_schema_is_taken(kind, tmp_path):
    read, paths = KINDS[kind]
    checked = validator(kind)
    documents = [tomllib.loads(path.read_text("utf-8")) for path in paths]
    for path in EXAMPLES.rglob("*"):
        if path.is_file() and path.suffix in (".csv", ".svg", ".dxf", ".py"):
            (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "catalogue.toml").write_bytes((EXAMPLES / "catalogue.toml").read_bytes())
    (tmp_path / "my_tip.py").write_text("")
    file = tmp_path / "bent.toml"
    taken = refused = 0
    rng, root = random.Random(kind), checked.schema
    for _ in range(400):
        document = copy.deepcopy(rng.choice(documents))
        for _ in range(rng.randint(1, 2)):
            holder, key, parts = rng.choice(list(places(document, [root], root)))
            how = rng.randrange(10)
            if how == 0 and isinstance(holder, dict):
                holder[rng.choice(KEYS)] = junk(rng)
            elif how == 1 and (isinstance(holder, list) or key in holder):
                del holder[key]
            else:
                good = fitting(parts, root)
                drawn = rng.choice(good) if good and how > 4 else junk(rng)
                holder[key] = copy.deepcopy(drawn)  # an example may be bent in its turn
        file.write_text("\n".join(f"{json.dumps(key)} = {toml(entry)}" for key, entry in document.items()))
        try:
            read(file)
        except FileProblems as error:
            refused += 1
            for line in error.problems:
                if not line.isprintable() or not line.startswith(f"{file}: "):
                    pytest.fail(f"no clean line: {line!a}")
            continue
        taken += 1
        checked.validate(plain(tomllib.loads(file.read_text("utf-8"))))
    assert taken > 20, "the fuzz shows nothing where nothing is taken"
    assert refused > 200
