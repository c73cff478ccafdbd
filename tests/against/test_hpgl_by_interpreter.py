"""HP-GL read back as ezdxf's HP-GL/2 interpreter draws it: runs, pens and every chord's end."""

from __future__ import annotations

import numpy as np
import pytest
from ezdxf.addons.hpgl2.backend import Backend
from ezdxf.addons.hpgl2.interpreter import Interpreter
from ezdxf.addons.hpgl2.plotter import Plotter
from ezdxf.addons.hpgl2.tokenizer import hpgl2_commands
from tests.write.plans import driven_knife, driven_laser, driven_plan

from strapwright.machine.profile.machine import Axes
from strapwright.write.formats.hpgl import Hpgl
from strapwright.write.readers.hpgl import read_hpgl

ENTRY = b"\x1b%1B"
"""What the interpreter looks for before HP-GL/2."""


class Paper(Backend):
    """Keeps what is drawn between putting the pen down and lifting it, by pen."""

    def __init__(self) -> None:
        self.runs: list[tuple[int, list[tuple[float, float]]]] = []
        self.lifted = True

    def draw_polyline(self, properties, points) -> None:
        if self.lifted or self.runs[-1][0] != properties.pen_index:
            self.runs.append((properties.pen_index, []))
        self.runs[-1][1].extend((point.x, point.y) for point in points)
        self.lifted = False

    def draw_paths(self, properties, paths, filled) -> None:
        raise AssertionError("nothing of ours fills areas or draws curves")


class Recording(Plotter):
    def pen_up(self) -> None:
        super().pen_up()
        self._output_backend.lifted = True


def drawn(text: str):
    """Return each run's pen and points in mm, points that repeat the one before left out."""
    paper = Paper()
    Interpreter(Recording(paper)).run(hpgl2_commands(ENTRY + text.encode("ascii")))
    for pen, points in paper.runs:
        array = np.array(points) * 0.025
        yield pen, array[np.append(True, np.hypot(*np.diff(array, axis=0).T) > 1e-6 * 0.025)]


def instructions(seed: int) -> str:
    """Return a text of random strokes: lines, arcs after arcs, pens changed with the pen up and down."""
    rng = np.random.default_rng(seed)
    words = ["IN;", 'CO "strokes, none of ours";', "PA;", "PU;SP1;VS9;"]
    for _ in range(40):
        x, y = rng.integers(-4000, 4000, 2)
        words += [f"PU{x},{y};", "PD;"]
        for kind in rng.choice(["PA", "PD", "AA", "AA", "AA", "SP"], rng.integers(1, 9)):
            x, y = rng.integers(-4000, 4000, 2)
            if kind == "SP":
                words.append(f"SP{rng.integers(1, 4)};PA{x},{y};")
            elif kind == "AA":
                chord = rng.uniform(0.3, 12)
                sweep = rng.choice([-1, 1]) * chord * rng.integers(1, 25)
                words.append(f"AA{x},{y},{sweep:.4f},{chord:.4f};")
            else:
                words.append(f"{kind}{x},{y};")
        words.append("PU;")
        if rng.random() < 0.3:
            words.append(f"AA{x + 500},{y},{rng.uniform(-90, 90):.4f},5.0000;PD;PA0,0;PU;")
    return "\n".join([*words, "SP0;", ""])


def assert_alike(text: str) -> None:
    found = read_hpgl(text, Axes(0.0, 0.0, 1, 1))
    wanted = list(drawn(text))
    assert [run.layer for run in found] == [f"pen {pen}" for pen, _ in wanted]
    for run, (_, points) in zip(found, wanted, strict=True):
        assert run.contour.vertices[:, :2].shape == points.shape
        assert np.abs(run.contour.vertices[:, :2] - points).max() < 1e-8


@pytest.mark.parametrize("seed", range(20))
def test_strokes_of_all_kinds_are_read_as_the_interpreter_draws_them(seed):
    assert_alike(instructions(seed))


@pytest.mark.parametrize("machine", [driven_laser(), driven_knife()], ids=["laser", "knife"])
def test_our_own_texts_are_read_as_the_interpreter_draws_them(machine):
    made = driven_plan(machine)
    assert_alike(Hpgl().to_text(made.sheets[0], made))
