"""Tables of a file's keys, out of its JSON Schema: what `strapwright schema` prints, for people."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    Schema = Mapping[str, Any]


def page(title: str, introduction: str, schema: Schema, top: str) -> str:
    """Return a page in Markdown: the top table, then every table it refers to, in that order.

    Args:
        title: the page's heading.
        introduction: a paragraph under it.
        schema: of the file.
        top: what the file's own keys are headed with.
    """
    parts = [f"# {title}\n\n{introduction}\n", _table(top, schema, schema["$defs"])]
    parts += [_table(name, schema["$defs"][name], schema["$defs"]) for name in _tables_in_order(schema)]
    return "\n".join(parts)


def _tables_in_order(schema: Schema) -> list[str]:
    """Return the names of the tables a schema refers to, each once, as they are met."""
    found: list[str] = []

    def visit(node: object) -> None:
        if isinstance(node, list):
            for item in node:
                visit(item)
        elif isinstance(node, dict):
            name = str(node.get("$ref", "")).rpartition("/")[2]
            if name and name not in found and "properties" in schema["$defs"][name]:
                found.append(name)
                visit(schema["$defs"][name])
            visit([value for key, value in node.items() if key != "$defs"])

    visit(schema)
    return found


def _table(name: str, schema: Schema, defs: Schema) -> str:
    needed = set(schema.get("required", ()))
    lines = [f"## {name}", "", str(schema.get("description", "")), ""]
    lines += ["| key | expected | what it is |", "| --- | --- | --- |"]
    for key, value in schema["properties"].items():
        mark = " (needed)" if key in needed else ""
        named = defs.get(str(value.get("items", value).get("$ref", "")).rpartition("/")[2], {})
        what = _cell(str(value.get("description") or named.get("description", "")))
        default = _default(value)
        lines.append(f"| `{key}`{mark} | {_expected(value, defs)} | {what}{default} |")
    return "\n".join(lines) + "\n"


def _default(value: Schema) -> str:
    """Return the default in words, where the description does not say it already."""
    default = value.get("default")
    if (
        default in (None, "", [])
        or isinstance(default, dict)
        or "default" in str(value.get("description", ""))
    ):
        return ""
    return f" Default `{_cell(json.dumps(default, ensure_ascii=False))}`."


def _expected(value: Schema, defs: Schema) -> str:
    kinds = list(dict.fromkeys(_kinds(value, defs)))
    examples = [f"`{_cell(_written(example))}`" for example in value.get("examples", ())[:3]]
    said = " or ".join(kinds)
    return f"{said}, such as {', '.join(examples)}" if examples else said


def _kinds(value: Schema, defs: Schema) -> Iterator[str]:
    """Yield what a value may be, in words; a table is named with a link to its heading."""
    if "$ref" in value:
        name = value["$ref"].rpartition("/")[2]
        if "properties" in defs[name]:
            yield f"table [{name}](#{name.lower()})"
        else:
            yield from _kinds(defs[name], defs)
    elif "anyOf" in value or "oneOf" in value:
        options = value.get("anyOf", value.get("oneOf", ()))
        told = {option.get("description", "") for option in options}
        if "with its unit" in told:
            yield "length" if "in mm" in told else "angle"
            return
        for option in options:
            yield from _kinds(option, defs)
    elif "enum" in value:
        yield "one of " + ", ".join(f"`{word}`" for word in value["enum"])
    elif "const" in value:
        yield f"`{value['const']}`"
    elif value.get("type") == "array":
        yield from _list_kinds(value, defs)
    elif value.get("format") == "date":
        yield "date"
    elif value.get("type") == "null":
        yield "nothing"
    else:
        plain = {"string": "text", "number": "number", "integer": "whole number", "boolean": "true or false"}
        yield plain.get(str(value.get("type")), "table of names and values")


def _list_kinds(value: Schema, defs: Schema) -> Iterator[str]:
    if "prefixItems" in value:
        items = [" or ".join(_kinds(item, defs)) for item in value["prefixItems"]]
        same = len(set(items)) == 1
        yield f"list of {len(items)} × {items[0]}" if same else "list of " + ", ".join(items)
    else:
        yield "list of " + " or ".join(dict.fromkeys(_kinds(value.get("items", {}), defs)))


def _written(example: object) -> str:
    if isinstance(example, dict):
        return "{ " + ", ".join(f"{key} = {_written(value)}" for key, value in example.items()) + " }"
    return json.dumps(example, ensure_ascii=False)


def _cell(text: str) -> str:
    """Return text that stays within its cell of a Markdown table."""
    return text.replace("|", "\\|").replace("\n", " ")
