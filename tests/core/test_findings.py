"""Findings: every code the program can give is reached by some test, and none is given twice over."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from strapwright.core.findings import Finding, Severity

ROOT = Path(__file__).parents[2]


def codes_of(path: Path) -> set[str]:
    """The literal first arguments of every Finding(…) in a module."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding" and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant):  # the few that are put together have tests of their own
                found.add(first.value)
    return found


@cache
def codes() -> set[str]:
    return set().union(*(codes_of(path) for path in (ROOT / "src").rglob("*.py")))


def test_every_code_is_reached_by_some_test():
    paths = [path for path in (ROOT / "tests").rglob("test_*.py") if path != Path(__file__)]
    tests = "\n".join(path.read_text("utf-8") for path in paths)
    assert len(codes()) > 50
    assert not {code for code in codes() if f'"{code}"' not in tests}


def test_a_code_is_plain_kebab_case():
    plain = {code for code in codes() if code == code.lower().strip("-") and code.replace("-", "").isalnum()}
    assert not codes() - plain


def test_a_finding_reads_as_one_line():
    finding = Finding("fold-strain", Severity.CAUTION, "It may crack.", "Skive it.", "ines", {"strain": 0.44})
    assert str(finding) == "caution: ines: It may crack. Skive it."
    assert finding.as_json()["numbers"] == {"strain": 0.44}


def test_what_was_seen_and_what_to_do_never_turn_into_one_length():
    finding = Finding("a", Severity.CAUTION, "2.4 mm leather cracks.", "Skive the fold to 2.3 mm.")
    told = finding.in_units("in")
    assert (told.what, told.do) == ("0.094 in leather cracks.", "Skive the fold to 0.091 in.")
