"""The guide's table of a machine profile's keys, made from the models.

After a change of the models, ``python -m tests.machine.keys_table`` writes it into the guide anew.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strapwright.machine.profile import machine_schema

GUIDE = Path(__file__).parents[2] / "docs" / "machines.md"
BEGIN, END = "<!-- keys: made from the models -->\n", "<!-- keys end -->\n"
HEAD = "| key | what it says | default |\n| --- | --- | --- |\n"
ORDER = (
    ("`[machine]`", "MachineTable"),
    ("`[limits]`", "Limits"),
    ("`[[kerf]]`", "KerfRow"),
    ("`[[scale]]`", "ScaleRow"),
    ("`[blade]`", "Blade"),
    ("`[bridges]`", "Bridges"),
    ("`[serial]`", "Serial"),
    ("`[operation.cut]`, `[operation.score]`, `[operation.punch]`", "OperationTable"),
)
"""Each table of a profile, and the model it is read by."""


def keys_table() -> str:
    """The tables of all keys, one under the other, as Markdown."""
    tables = machine_schema()["$defs"]
    return "\n".join(f"### {title}\n\n{HEAD}{_rows(tables[model])}" for title, model in ORDER)


def _rows(table: dict[str, Any]) -> str:
    needed = table.get("required", [])
    return "".join(
        f"| `{key}` | {_told(about)} | {_default(about, needed=key in needed)} |\n"
        for key, about in table["properties"].items()
    )


def _told(about: dict[str, Any]) -> str:
    text = about["description"]
    if choices := about.get("enum"):
        text += f" One of {', '.join(f'`{choice}`' for choice in choices)}."
    return text.replace("|", "\\|")


def _default(about: dict[str, Any], *, needed: bool) -> str:
    if needed:
        return "must be given"
    default = about.get("default")
    if default is None:
        return ""
    if isinstance(default, list):
        return ", ".join(f"`{one}`" for one in default)
    if isinstance(default, bool):
        return f"`{str(default).lower()}`"
    return f"`{default:g}`" if isinstance(default, float) else f"`{default}`"


def with_table(guide: str) -> str:
    """The guide with its table as the models have it now."""
    before, rest = guide.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n{keys_table()}\n{END}{after}"


if __name__ == "__main__":
    GUIDE.write_text(with_table(GUIDE.read_text("utf-8")), "utf-8")
