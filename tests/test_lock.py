"""What `make` installs is locked: everything the project asks for, for each Python, each with its digests."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PYTHONS = ("3.11", "3.12", "3.13", "3.14")


def locked(name: str) -> dict[str, tuple[Requirement, frozenset[str]]]:
    """The lines of a lock file: requirement and digests by the requirement's text."""
    text = (ROOT / name).read_text("utf-8").replace("\\\n", " ")
    found = {}
    for line in filter(None, text.splitlines()):
        asked = line.partition("--hash")[0].strip()
        found[asked] = Requirement(asked), frozenset(re.findall(r"--hash=sha256:([0-9a-f]{64})", line))
    return found


def chosen(name: str, python: str) -> dict[str, str]:
    """The version of each package that a Python of Debian takes from a lock file."""
    here = {"python_version": python, "python_full_version": f"{python}.0"}
    here |= {"sys_platform": "linux", "platform_machine": "x86_64", "extra": ""}
    return {
        asked.name.lower().replace("_", "-"): str(asked.specifier).removeprefix("==")
        for asked, _ in locked(name).values()
        if asked.marker is None or asked.marker.evaluate(here)
    }


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-test.lock"])
def test_every_line_is_one_version_with_its_digests(name: str):
    for asked, digests in locked(name).values():
        assert re.fullmatch(r"==[\w.+!]+", str(asked.specifier))
        assert digests


def test_what_runs_is_locked_as_what_is_tested():
    running, tested = locked("requirements.lock"), locked("requirements-test.lock")
    for python in PYTHONS:
        assert chosen("requirements.lock", python).items() <= chosen("requirements-test.lock", python).items()
    digests = {(asked.name, str(asked.specifier)): found for asked, found in tested.values()}
    assert all(digests[asked.name, str(asked.specifier)] == found for asked, found in running.values())


@pytest.mark.parametrize("python", PYTHONS)
def test_whatever_the_project_asks_for_is_locked_in_a_version_it_allows(python: str):
    asked = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
    extras = [
        Requirement(text) for texts in PROJECT["project"]["optional-dependencies"].values() for text in texts
    ]
    for name, wanted in (("requirements.lock", asked), ("requirements-test.lock", asked + extras)):
        versions = chosen(name, python)
        for one in wanted:
            if one.name != "strapwright":
                assert one.specifier.contains(versions[one.name.lower().replace("_", "-")]), one
