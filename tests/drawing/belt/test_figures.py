"""Every figure of a drawing has its working: the steps end in the number that is drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from strapwright.drawing.belt.job_drawing import piece_drawing
from strapwright.drawing.canvas import Text
from strapwright.drawing.svg import element
from strapwright.drawing.text import figure
from strapwright.job.draft import draft
from strapwright.job.spec.job import read_job
from strapwright.job.strap_draft import FIGURES, working_of

ROOT = Path(__file__).parents[3]
JOBS = [ROOT / f"examples/{name}.toml" for name in ("one-belt", "autumn-batch", "strap-goods")]
ITEMS = [one for path in JOBS for one in draft(read_job(path)).items]

IN_THE_END = (
    "blank",
    "hole in use",
    "turn-back",
    "row A",
    "row A′",
    "row B′",
    "keeper length",
    "last to tip",
)
"""Figures whose last step is the number drawn."""


def figures(item) -> dict[str, str]:
    return {
        one.figure: one.words for one in piece_drawing(item).items if isinstance(one, Text) and one.figure
    }


@pytest.mark.parametrize("item", ITEMS, ids=lambda one: one.id)
def test_each_figure_drawn_has_steps_or_a_key_that_sets_it(item):
    drawn = figures(item)
    assert {"blank", "width"} <= drawn.keys()
    for name, words in drawn.items():
        found = working_of(item, name)
        assert found.steps or found.keys, name
        if name.rpartition(": ")[2] in IN_THE_END and found.steps:
            last = found.steps[-1].value
            assert figure(abs(last), "mm") in words, (name, words, last)


def test_every_figure_known_is_drawn_or_shown_somewhere():
    drawn = {name.rpartition(": ")[2] for item in ITEMS for name in figures(item)}
    assert set(FIGURES) - drawn == {"lining", "fits"}  # of a lined belt, and of the summary


def test_figures_are_buttons_only_where_a_page_asks_for_it():
    canvas = piece_drawing(ITEMS[0])
    assert "data-figure" not in element(canvas)
    asked = element(canvas, figures=True)
    assert asked.count('role="button"') == len([one for one in canvas.items if getattr(one, "figure", "")])
    assert 'data-figure="row A′"' in asked


def test_another_end_s_steps_are_left_out():
    item = next(one for one in ITEMS if one.id == "satchel-strap")
    labels = [step.label for step in working_of(item, "end 2: turn-back").steps]
    assert labels
    assert all(label.startswith("end 2: ") for label in labels)
    assert working_of(item, "end 2: turn-back").keys == ("ends.1.turn_back",)
    assert working_of(item, "blank").steps[-1].value == item.blank_length
