"""Reading HP-GL back: where a plotter's pen goes, arcs in chords as it draws them.

Source: HP 7470A plotter manual: PU, PD and PA with the place they go to, AA with centre, arc angle and chord
angle, which is taken as 0.5 to 180 degrees. The instructions are taken from the text all at once. Where an
arc comes to hangs on where it begins, so the arcs that follow each absolute place are gone along together:
the first of each, then the second.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

from strapwright.core.errors import ProofError
from strapwright.geometry.contour import Contour
from strapwright.write.readers.path import ReadPath

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from strapwright.core.arrays import Flags, Floats, Ints
    from strapwright.machine.profile.machine import Axes

    Complex = NDArray[np.complex128]

_UNIT: Final = 0.025
_SAME: Final = 1e-6
"""Points this near are one, in plotter units."""

_CHORD_ANGLES: Final = (0.5, 180.0)

_SHAPE: Final = re.compile(r"IN;\n(?:[A-Z]{2}[^;]*;\n?)*SP0;\n")
_COMMAND: Final = re.compile(r"([A-Z]{2})([^;]*);")
_NUMBER: Final = r"-?\d++(?:\.\d++)?+"
_AFTER: Final = {
    "IN": "",
    "NR": "",
    "CO": ' "[^";]*"',
    "SP": r"\d+",
    "VS": _NUMBER,
    "AA": rf"{_NUMBER},{_NUMBER},{_NUMBER},{_NUMBER}",
    **dict.fromkeys(("PA", "PU", "PD"), rf"(?:{_NUMBER},{_NUMBER})?"),
}
"""What may follow the name of each instruction that strapwright writes."""

_WRITTEN: Final = re.compile(rf"(?:(?:{'|'.join(name + after for name, after in _AFTER.items())});\n?)*+")


def pen_words(pen: int) -> str:
    """Return what a run is drawn by, as a layer's name.

    Example:
        >>> pen_words(2)
        'pen 2'
    """
    return f"pen {pen}"


def read_hpgl(text: str, axes: Axes, reach: int | None = None) -> list[ReadPath]:
    r"""Return every run drawn with the pen down, in order, in bed mm; its layer is its pen.

    Args:
        text: the file.
        axes: the machine's, to turn its numbers back into the bed's.
        reach: the furthest from 0 it takes a coordinate, centres of arcs included, plotter units; None
            checks none.

    Raises:
        ProofError: the text is cut short, holds what strapwright never writes, or a coordinate out of reach.

    Example:
        >>> from strapwright.machine.profile.machine import Axes
        >>> [run] = read_hpgl("IN;\nPA;\nPU;SP1;\nPU0,0;\nPD;\nPA400,0;\nPU;\nSP0;\n", Axes(0, 0, 1, 1))
        >>> run.layer, run.contour.length
        ('pen 1', 10.0)
    """
    if not _SHAPE.fullmatch(text):
        raise ProofError("the HP-GL text is cut short or not what strapwright writes: expected IN to SP0")
    commands = _COMMAND.findall(text)
    if not _WRITTEN.fullmatch(text):
        strange = sorted({name for name, _ in commands} - _AFTER.keys())
        if strange:
            raise ProofError(f"the HP-GL text holds {', '.join(strange)}, which strapwright never writes")
        wrong = (name + after[:40] for name, after in commands if not re.fullmatch(_AFTER[name], after))
        raise ProofError(f"the HP-GL text cannot be drawn: found {next(wrong)}")
    names = np.array([name for name, _ in commands])
    down = (names == "PD")[_latest((names == "PU") | (names == "PD"))]
    if down[-1]:
        raise ProofError("the HP-GL text ends with the pen down; write it again")
    if (down & (names == "NR")).any():
        raise ProofError("the HP-GL text stops for another tool with the pen down")
    pens = np.array([int(after) if name == "SP" else 0 for name, after in commands])[_latest(names == "SP")]
    lifts = np.cumsum(names == "PU")
    moves = [k for k, (name, after) in enumerate(commands) if after and name in ("PA", "PU", "PD", "AA")]
    if not down[moves].any():
        return []
    arcs = names[moves] == "AA"
    numbers = ",".join(commands[k][1] + ("" if commands[k][0] == "AA" else ",0,1") for k in moves)
    rows = np.array(numbers.split(","), dtype=np.float64).reshape(-1, 4)
    far = np.abs(rows[:, :2]).max()
    if reach is not None and far > reach:
        raise ProofError(f"the HP-GL text goes to {far:.0f} plotter units; the machine takes {reach}")
    points, of = _drawn(arcs, rows, down[moves])
    drawn = np.array(moves)[of]
    return _runs(points, pens[drawn], lifts[drawn], np.cumsum(names == "NR")[drawn], axes)


def _latest(marks: Flags) -> Ints:
    """Return the index of the last mark up to each place; before the first it is 0, the text's IN."""
    return np.maximum.accumulate(np.where(marks, np.arange(len(marks)), 0))


def _drawn(arcs: Flags, numbers: Floats, down: Flags) -> tuple[Complex, Ints]:
    """Return every point drawn, in plotter units, and the move it is of; a move begins where it stands.

    Args:
        arcs: which moves are arcs, the others going straight to a place, (N,).
        numbers: of each move: place or centre, the arc's angle and its chord angle, (N, 4).
        down: whether the pen is down, (N,).
    """
    # The pen is at the origin at first.
    arcs = np.append(False, arcs)
    x, y, angle, chord = np.vstack([(0.0, 0.0, 0.0, 1.0), numbers]).T
    about, turn = x + 1j * y, np.radians(angle)
    at, swing = about.copy(), np.exp(1j * turn)
    depth = np.arange(len(arcs)) - _latest(~arcs)
    order = np.argsort(depth, kind="stable")
    for rows in np.split(order, np.cumsum(np.bincount(depth)))[1:]:
        at[rows] = about[rows] + swing[rows] * (at[rows - 1] - about[rows])
    drawn = np.flatnonzero(down) + 1
    chords = np.rint(np.abs(angle[drawn]) / np.clip(chord[drawn], *_CHORD_ANGLES))
    counts = np.maximum(1, chords).astype(np.int64) + 1
    of = np.repeat(drawn, counts)
    step = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / np.repeat(counts - 1, counts)
    begin = at[of - 1]
    points = np.where(share < 1.0, begin, at[of])
    some = arcs[of] & (share > 0.0) & (share < 1.0)
    mine = of[some]
    points[some] = about[mine] + np.exp(1j * turn[mine] * share[some]) * (begin[some] - about[mine])
    return points, of - 1


def _runs(points: Complex, pens: Ints, lifts: Ints, stops: Ints, axes: Axes) -> list[ReadPath]:
    """Return the runs, in bed millimetres: what one pen draws before it is lifted.

    Points that repeat the one before are left out.
    """
    begins = np.append(True, (np.diff(lifts) != 0) | (np.diff(pens) != 0))
    kept = np.append(True, np.abs(np.diff(points)) > _SAME) | begins
    firsts = np.flatnonzero(begins[kept])
    points, pens, stops = points[kept], pens[kept], stops[kept]
    if (np.diff(firsts, append=len(points)) < 2).any():
        raise ProofError("the HP-GL text puts the pen down and goes nowhere")
    bed = np.column_stack(
        [
            axes.x_zero + axes.x_sign * points.real * _UNIT,
            axes.y_zero + axes.y_sign * points.imag * _UNIT,
            np.zeros(len(points)),
        ]
    )
    layers = map(pen_words, pens[firsts].tolist())
    runs = Contour.each(bed, np.diff(firsts, append=len(points)).tolist(), [False] * len(firsts))
    stopped = (np.diff(stops[firsts], prepend=0) > 0).tolist()
    return [
        ReadPath(layer, run, after_stop=after_stop)
        for layer, run, after_stop in zip(layers, runs, stopped, strict=True)
    ]
