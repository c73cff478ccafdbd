"""What every cut file says of itself: job, hide, machine, kerf, cautions, and the profile's seal.

The seal is what the file was made by: one line ``profile: KEY = VALUE`` for each key of the profile that its
numbers hang on, so that it is never run on a machine that is set up otherwise.
"""

from __future__ import annotations

import math
import re
import unicodedata
from hashlib import sha256
from typing import TYPE_CHECKING, Final

from strapwright.core.errors import PlanError, SendError
from strapwright.core.text import one_line
from strapwright.core.tolerances import READ_BACK
from strapwright.machine.kerf import find_kerfs
from strapwright.machine.profile.tool_keys import GcodeLines
from strapwright.machine.types import HOLE_NAMES
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import cautions
from strapwright.write.formats.drive import decimals_of
from strapwright.write.readers.path import PlannedPath

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.kerf import Kerf
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import BedWindow, CutSheet
    from strapwright.parts.part import Operation
    from strapwright.write.readers.path import ReadPath


_SIGNS: Final = str.maketrans(
    {"×": "x", "–": "-", "−": "-", ";": ",", "ß": "ss", "ø": "o", "Ø": "O", "ł": "l"}
)


_NOT_KEPT: Final = re.compile(r"[^A-Za-z0-9 .,:'+\-_=/]")


_NAME: Final = 40
"""So much of a machine's name is in the seal, for a comment's line has an end."""


_FORMAT: Final = re.compile(r"^(?:\(|CO \")?format: ([a-z0-9_]+)", re.MULTILINE)


_FACE: Final = re.compile(r"^\(face: (\d+\.\d+) mm above z 0\)$", re.MULTILINE)


_KEY: Final = r"[a-z0-9_.]+"


_SEAL: Final = re.compile(rf"^(?:\(|CO \")?profile: ({_KEY}) = ([A-Za-z0-9 .,:'+\-_=/]*)", re.MULTILINE)


_DRIVE: Final = re.compile(r"(_mm_s|power_percent|velocity|passes)$|^kerf\.")
"""Keys that say how a file is run, not where: another value is reported, and the file's counts."""


_KERF: Final = re.compile(r"kerf\.([a-z]+)\.(\d+(?:\.\d+)?)mm")


def header_lines(sheet: CutSheet, plan: CutPlan, format: str) -> tuple[str, ...]:  # noqa: A002 - the files' word
    """Return what a file of a sheet says of itself, one fact or caution a line, its seal at the end."""
    machine = plan.machine
    return tuple(
        one_line(text)
        for text in (
            f"job: {plan.job_name or 'without a name'}",
            f"hide: {sheet.hide}",
            f"machine: {machine.name}, bed {sheet.width:g} x {sheet.height:g} mm",
            f"kerf: {kerf_words(plan)}",
            *(
                text if number else f"hide sits: {text}"
                for number, text in enumerate(pose_words(sheet, machine))
            ),
            *window_words(sheet, machine),
            *([f"date: {plan.day.isoformat()}"] if plan.day is not None else []),
            *cautions(machine.kind),
            f"format: {format}",
            *(f"profile: {key} = {value}" for key, value in _seal(machine, plan.kerfs).items()),
        )
    )


def format_of(text: str) -> str:
    """Return the format a sealed cut file says it is; empty where it says none."""
    found = _FORMAT.search(text)
    return found[1] if found else ""


def face_in(text: str) -> float:
    """Return how high above z zero a G-code text says the leather's face lies, mm; 0 where it does not."""
    found = _FACE.search(text)
    return float(found[1]) if found else 0.0


def compare_seal(text: str, machine: Machine) -> tuple[str, ...]:
    """Return how a cut file's drives differ from a machine's profile as it is now; refuse other differences.

    Args:
        text: of the file, whatever its format.
        machine: where it is to go.

    Returns:
        A caution for each speed, power, number of passes or kerf that differs; the file's counts.

    Raises:
        SendError: the file has no seal, or was made for another bed, origin, axes, units, kind, range of
            power, tool or number of decimals. One line for each key.
    """
    file = dict(_SEAL.findall(text))
    if not file or any(file[key] != value for key, value in _SEAL.findall(text)):
        raise SendError("does not say which profile it was made with; write it again with `strapwright cut`")
    now = _seal_now(machine, file)
    differ = [key for key in dict.fromkeys((*file, *now)) if file.get(key) != now.get(key)]
    both = {key: (file.get(key, "nothing"), now.get(key, "nothing")) for key in differ}
    refused = [
        f"was made for another machine or another profile: {key}: the file says {both[key][0]}, the "
        f"profile of {machine.name!r} {both[key][1]}; use the profile it was made with, or write it again "
        "with `strapwright cut`"
        for key in differ
        if not _DRIVE.search(key)
    ]
    if refused:
        raise SendError("\n".join(refused))
    return tuple(
        f"{key}: the file says {both[key][0]}, the profile now {both[key][1]}; what runs is the file's. "
        "If the profile is right, write the file again with `strapwright cut`."
        for key in differ
    )


def _seal(machine: Machine, kerfs: Iterable[Kerf]) -> dict[str, str]:
    """Return the keys of a profile that a file's numbers hang on, and their values in a comment's letters."""
    axes = machine.axes
    values: dict[str, object] = {
        "machine.name": plain_comment(machine.name)[:_NAME].strip(),
        "machine.kind": machine.kind,
        "machine.bed": ", ".join(_figure(reach) for reach in machine.bed),
        "machine.origin": machine.origin,
        "machine.x_axis": "right" if axes.x_sign > 0 else "left",
        "machine.y_axis": "back" if axes.y_sign > 0 else "front",
        "machine.units": machine.units,
        "machine.max_power": machine.max_power,
        "machine.tool_change": machine.tool_change,
        "decimals": decimals_of(machine),
    }
    for key, value in machine.blade.model_dump().items() if machine.blade is not None else ():
        values[f"blade.{key}"] = f"{math.degrees(value):.6g} deg" if key.endswith("_angle") else value
    values |= {"laser.lead_in": machine.laser.lead_in or None, "laser.overcut": machine.laser.overcut or None}
    laser = machine.laser.model_dump(exclude={"lead_in", "overcut"}, exclude_none=True)
    if laser or machine.gcode != GcodeLines():  # own words, of any length: a line of a comment has an end
        own = repr((sorted(laser.items()), machine.gcode.start, machine.gcode.end))
        values["own_words"] = sha256(own.encode()).hexdigest()[:16]
    for operation in machine.operations:
        table = machine.settings(operation)
        for key in ("pen", "speed_mm_s", "power_percent", "passes", "velocity"):
            values[f"operation.{operation}.{key}"] = getattr(table, key)
    for kerf in kerfs:
        key = f"kerf.{kerf.tannage}.{kerf.thickness:.10g}mm"
        values[key] = kerf.width
        values[f"{key}.holes"] = None if kerf.holes == kerf.width else kerf.holes
    return {key: _figure(value) for key, value in values.items() if value is not None}


def _seal_now(machine: Machine, file: Mapping[str, str]) -> dict[str, str]:
    """Return what a profile as it is now would seal a file with, in the leathers the file was made for."""
    leathers = [(Tannage(m[1]), float(m[2])) for key in file if (m := _KERF.fullmatch(key))]
    try:
        found = find_kerfs(leathers, machine)
    except PlanError:  # not measured, or not any more: the file's kerf was given by hand, or is older
        return _seal(machine, ())
    return _seal(found.machine, found.by_leather.values())


def _figure(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def pose_words(sheet: CutSheet, machine: Machine) -> tuple[str, ...]:
    """Return how the hide lies for a sheet, and how well its touches agree; nothing once it was moved on."""
    window = sheet.window
    if window is not None and window.number > 1 and not window.touched:
        return ()
    return tuple(filter(None, (sheet.pose.words(machine), sheet.pose.span_words(machine))))


def window_words(sheet: CutSheet, machine: Machine) -> tuple[str, ...]:
    """Return which window a sheet is and where the hide is to be put for it; nothing for a whole bed."""
    window, words = sheet.window, []
    if window is not None:
        words.append(f"window: {window.number} of {window.count}")
        if window.number > 1 and not window.touched:
            words += [f"hide moved on: {advance_words(window, machine)}", *hole_words(window, machine)]
    if sheet.lay_by:
        words.append("mark these lines on paper fixed to the bed, then lay the straps on them")
    return tuple(words)


def advance_words(window: BedWindow, machine: Machine) -> str:
    """Return how far and which way a hide is moved on since the window before."""
    by = machine.length_words(window.advance)
    return f"{window.pins} pins, {by}, to the left" if window.pins else f"{by} to the left"


def hole_words(window: BedWindow, machine: Machine) -> list[str]:
    """Return where the registration holes of the window before must lie now, one a line."""
    return [
        f"registration hole {name} at {machine.shown_words(*hole)} {machine.frame}"
        for name, hole in zip(HOLE_NAMES, window.holes, strict=False)
    ]


def holes_to_visit(sheet: CutSheet) -> list[tuple[str, tuple[float, float]]]:
    """Return name and place on the bed of the registration holes to put a hide back by; none once touched."""
    window = sheet.window
    if window is None or window.touched or len(window.holes) < len(HOLE_NAMES):
        return []
    return list(zip(HOLE_NAMES, window.holes, strict=True))


def kerf_words(plan: CutPlan) -> str:
    """Return the kerf of each leather in words.

    Where all leathers have the same, it is given once; a plan that allows for none, as a test piece's,
    says so.
    """
    if not plan.kerfs:
        return "not allowed for, the cuts run on the lines themselves"
    widths = list(dict.fromkeys(map(_widths, plan.kerfs)))
    if not any(kerf.width for kerf in plan.kerfs):
        return "none, the blade takes nothing away"
    if len(widths) == 1:
        return f"{widths[0]}, allowed for in the paths"
    each = ", ".join(f"{_widths(k)} in {k.tannage} {k.thickness:.3g} mm" for k in plan.kerfs)
    return f"{each}, allowed for in the paths"


def _widths(kerf: Kerf) -> str:
    """Return a kerf in words, that of round holes beside it where it differs."""
    round_holes = "" if kerf.holes == kerf.width else f" and {kerf.holes:.3g} mm at round holes"
    return f"{kerf.width:.3g} mm{round_holes}"


def plain_comment(text: str) -> str:
    r"""Return text that a controller's comment can hold: letters, figures and a few signs, all ASCII.

    Parentheses and semicolons end comments, and some controllers obey single signs such as ``!`` and ``~``
    even within one.

    Example:
        >>> plain_comment("Žofie's job (no. 2) 600 × 400; go!")
        "Zofie's job no. 2 600 x 400, go"
    """
    plain = unicodedata.normalize("NFKD", one_line(text).translate(_SIGNS))
    return " ".join(_NOT_KEPT.sub("", plain).split())


class Drawing:
    """What the formats have in common that draw a sheet, each path once on its layer, and drive nothing."""

    ending = ""
    tolerance = READ_BACK
    chord = 0.0
    drives = False
    reader: Callable[[str], list[ReadPath]]
    """Reads the paths of a text again, without this writer's help; a ProofError where it cannot."""

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Return the paths in a text."""
        del machine, face
        return self.reader(text)

    def lacking(self, machine: Machine) -> tuple[str, ...]:
        """Return the profile's keys the format needs and the machine does not have: none."""
        del machine
        return ()

    def layers(self, machine: Machine) -> dict[Operation, str]:
        """Return the layer of each operation in its files."""
        return {operation: machine.settings(operation).layer for operation in machine.operations}

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return the plan's paths, each once, on its operation's layer."""
        layers = self.layers(plan.machine)
        return [
            PlannedPath(layers[path.operation], path.contour, f"{path.name} of {path.part_id}")
            for path in sheet.paths
        ]

    def beside(self, sheet: CutSheet, plan: CutPlan) -> Mapping[str, str]:
        """Return what other files belong to a sheet's: none."""
        del sheet, plan
        return {}
