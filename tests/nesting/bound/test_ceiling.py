"""The benchmark that looks through every layout: worked by hand on a board that holds three bars."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from tests.nesting.bound.test_relaxation import bar

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.slow
@pytest.mark.parametrize(("figure", "wanted"), [(0.89, "some may reach 0.89"), (0.91, "none reaches 0.91")])
def test_the_three_longest_of_five_bars_are_the_ceiling(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    request: pytest.FixtureRequest,
    figure: float,
    wanted: str,
) -> None:
    """By hand: a pitch of 32 leaves room for three, 30 · (300 + 290 + 280) of 310 · 94 mm²: 0.896."""
    monkeypatch.syspath_prepend(request.config.rootpath / "benchmarks")
    from cases import read_cases
    from ceiling import ceiling

    parts = [
        {
            "id": f"b{n}",
            "kind": "strap",
            "outline": bar(n, 300.0 - 10 * n, 30.0).outline.tolist(),
            "rotations": [0],
            "value": 30 * (300 - 10 * n),
        }
        for n in range(5)
    ]
    board = {"boundary": [[0, 0], [310, 0], [310, 94], [0, 94]], "defects": []}
    case = {"gap": 2.0, "margin": 0.0, "hides": [board], "parts": parts}
    (tmp_path / "five.json").write_text(json.dumps(case), "utf-8")
    (one,) = read_cases(tmp_path)
    assert wanted in ceiling(one, figure, 0.5, 100_000, 0.5)
