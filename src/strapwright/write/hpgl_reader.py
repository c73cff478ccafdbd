"""Reading HP-GL back through ezdxf's HP-GL/2 interpreter, which draws arcs in chords as a plotter does."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from strapwright.errors import ProofError
from strapwright.geometry.contour import Contour
from strapwright.write.read_path import ReadPath

if TYPE_CHECKING:
    from strapwright.machine.profile import Axes

_ENTRY: Final = b"\x1b%1B"
"""What the interpreter looks for before HP-GL/2; plotters that speak nothing else want none."""

_UNIT: Final = 0.025
_SAME: Final = 1e-6
"""Points this near are one, in plotter units."""

_KNOWN: Final = frozenset({"IN", "CO", "PA", "PU", "PD", "AA", "SP", "VS"})
_SHAPE: Final = re.compile(r"IN;\n(?:[A-Z]{2}[^;]*;\n?)*SP0;\n")


def pen_words(pen: int) -> str:
    """Return what a run is drawn by, as a layer's name.

    Example:
        >>> pen_words(2)
        'pen 2'
    """
    return f"pen {pen}"


def read_hpgl(text: str, axes: Axes) -> list[ReadPath]:
    r"""Return every run drawn with the pen down, in order, in bed mm; its layer is its pen.

    Args:
        text: the file.
        axes: the machine's, to turn its numbers back into the bed's.

    Raises:
        ProofError: the text is cut short, or holds what strapwright never writes.

    Example:
        >>> from strapwright.machine.profile import Axes
        >>> [run] = read_hpgl("IN;\nPA;\nPU;SP1;\nPU0,0;\nPD;\nPA400,0;\nPU;\nSP0;\n", Axes(0, 0, 1, 1))
        >>> run.layer, run.contour.length
        ('pen 1', 10.0)
    """
    if not _SHAPE.fullmatch(text):
        raise ProofError("the HP-GL text is cut short or not what strapwright writes: expected IN to SP0")
    from ezdxf.addons.hpgl2.interpreter import Interpreter
    from ezdxf.addons.hpgl2.tokenizer import hpgl2_commands

    commands = hpgl2_commands(_ENTRY + text.encode("ascii", "replace"))
    strange = sorted({command.name for command in commands} - _KNOWN)
    if strange:
        raise ProofError(f"the HP-GL text holds {', '.join(strange)}, which strapwright never writes")
    drawn = _plotter()
    interpreter = Interpreter(drawn)
    try:
        interpreter.run(commands)
    except (ArithmeticError, ValueError) as error:
        raise ProofError(f"the HP-GL text cannot be drawn: {error}") from error
    if interpreter.errors:
        raise ProofError(f"the HP-GL text cannot be drawn: {interpreter.errors[0]}")
    if drawn.is_pen_down:
        raise ProofError("the HP-GL text ends with the pen down; write it again")
    return [_in_bed(pen, points, axes) for pen, points in drawn.runs]


def _in_bed(pen: int, points: list[tuple[float, float]], axes: Axes) -> ReadPath:
    """Return one run in bed millimetres, points that repeat the one before left out."""
    array = np.array(points) * _UNIT
    apart = np.hypot(*np.diff(array, axis=0).T)
    array = array[np.concatenate([[True], apart > _SAME])]
    if len(array) < 2:
        raise ProofError("the HP-GL text puts the pen down and goes nowhere")
    bed = np.array([axes.x_zero, axes.y_zero]) + np.array([axes.x_sign, axes.y_sign]) * array
    return ReadPath(pen_words(pen), Contour.from_points(bed, closed=False))


def _plotter() -> Any:
    """Return a plotter that keeps every run: what it draws between putting the pen down and lifting it."""
    from ezdxf.addons.hpgl2.backend import Backend
    from ezdxf.addons.hpgl2.plotter import Plotter

    class Paper(Backend):
        def draw_polyline(self, properties: Any, points: Any) -> None:
            run = plotter.runs[-1] if plotter.runs and not plotter.lifted else None
            if run is None or run[0] != properties.pen_index:
                run = (properties.pen_index, [])
                plotter.runs.append(run)
            run[1].extend((point.x, point.y) for point in points)
            plotter.lifted = False

        def draw_paths(self, properties: Any, paths: Any, filled: bool) -> None:
            del properties, paths, filled
            raise ValueError("it fills areas or draws curves")

    class Recording(Plotter):
        def __init__(self) -> None:
            super().__init__(Paper())
            self.runs: list[tuple[int, list[tuple[float, float]]]] = []
            self.lifted = True

        def pen_up(self) -> None:
            super().pen_up()
            self.lifted = True

    plotter = Recording()
    return plotter
