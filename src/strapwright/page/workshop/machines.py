"""A machine as it is shown and changed: its keys as fields, its kerfs drawn and recorded, its test piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import FileProblems, PlanError, SafetyError, StrapwrightError, UnitError
from strapwright.core.units import divided_figures, parse_length, parse_number
from strapwright.drawing.kerf_plot import kerf_history
from strapwright.drawing.svg import element
from strapwright.files.validate import attempt
from strapwright.machine.kerf import age_of, scale_findings, scale_of, settings_words, standing
from strapwright.machine.profile.machine import profile_text, read_machine, shipped_profiles
from strapwright.machine.profile.machine_keys import KerfRow, MachineFile, ScaleRow
from strapwright.machine.test_pieces.coupon import hole_drawn
from strapwright.machine.test_pieces.kerf_record import Readings, kerf_record, readings_findings
from strapwright.page.forms.field import units_of, with_unit
from strapwright.page.forms.form import Wording, mistakes_by_field, model_form
from strapwright.page.forms.page_words import finding_words, in_page_words
from strapwright.page.sheet.cut_form import fumes_not_taken
from strapwright.rules.leather import Tannage
from strapwright.rules.safety import FUME_RISK, doubtful_tannages
from strapwright.write.test_pieces import Coupon, kerf_coupon, measuring_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.test_pieces.kerf_record import Recorded
    from strapwright.page.forms.form import Form


_RECORDED: Final = {"kerf": "Kerf", "scale": "Scale of the axes"}
"""What is recorded in tables of the file that have no fields."""

_LASER: Final = ("machine.kind", "laser")

_KNIFE: Final = ("machine.kind", "drag_knife")

_KEYS: Final = {
    "The machine": "name kind bed pass_through origin x_axis y_axis units",
    "Its files": "formats corner svg_stroke group_by tool_change share_edges ends_only",
    "How it moves": "rapid_mm_s acceleration_mm_s2 max_power",
    "A hide longer than the bed": "registration pin_pitch window_overlap window_margin",
}
"""Keys of ``[machine]`` that stand together."""


def _group(title: str) -> tuple[str, tuple[str, ...]]:
    return title, tuple(f"machine.{key}" for key in _KEYS[title].split())


_WORDING: Final = Wording(
    (
        _group("The machine"),
        ("What it takes", ("limits",)),
        _group("Its files"),
        _group("How it moves"),
        _group("A hide longer than the bed"),
        ("Cut", ("operation.cut",)),
        ("Score", ("operation.score",)),
        ("Punch marks", ("operation.punch",)),
        ("Laser", ("laser",)),
        ("Blade", ("blade",)),
        ("Bridges", ("bridges",)),
        ("G-code", ("gcode",)),
        ("Serial line", ("serial",)),
    ),
    {
        "machine.name": "Called",
        "machine.bed": "Bed, along x and y",
        "machine.pass_through": "A hide may stick out at both ends",
        "machine.x_axis": "Which way x counts up",
        "machine.y_axis": "Which way y counts up",
        "machine.svg_stroke": "Lines in SVG",
        "machine.rapid_mm_s": "Travel, mm/s",
        "machine.max_power": "S word at full power",
        "machine.ends_only": "Long edges are left to the strap cutter",
        "machine.share_edges": "Neighbouring straps may share a cut",
        "limits.hpgl_units": "Furthest in HP-GL units",
        "limits.kerf_max_age_days": "A kerf is good for, days",
        "laser.lead_in": "Lead-in",
        "blade.plunge_mm_s": "Going in, mm/s",
    },
    {
        "laser": _LASER,
        "blade": _KNIFE,
        "machine.max_power": _LASER,
        "machine.tool_change": _KNIFE,
        "machine.pin_pitch": ("machine.registration", "bed_pins"),
    },
    ("kerf", "scale"),
)


@dataclass(frozen=True)
class MachineRow:
    """A machine as it is listed.

    Args:
        file: its file's name.
        name: its own.
        kind: laser or drag knife, in words.
        bed: in words.
        kerfs: how many were measured, in words.
        wrong: every mistake in the file; empty for a good one.
    """

    file: str
    name: str
    kind: str = ""
    bed: str = ""
    kerfs: str = ""
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True)
class KerfLine:
    """A measured kerf as it is listed.

    Args:
        index: its place among the file's rows.
        cells: what is known of it, by the columns' heads.
        state: "in use", "history" or "too old".
        why: it counts, or does not.
    """

    index: int
    cells: Mapping[str, str]
    state: str
    why: str


@cache
def machine_form() -> Form:
    """Return the fields of a machine's file, all but its measured rows."""
    return model_form(MachineFile, _WORDING)


def machine_mistakes(tables: Mapping[str, Any]) -> dict[str, str]:
    """Return what is wrong with a machine's tables, by the fields' keys."""
    return mistakes_by_field(machine_form(), attempt(MachineFile, dict(tables))[1], tables=_RECORDED)


def machine_row(path: str, file: str) -> MachineRow:
    """Return a machine as it is listed.

    Args:
        path: of its file.
        file: the file's name.
    """
    try:
        one = read_machine(path)
    except FileProblems as error:
        return MachineRow(file, file.removesuffix(".toml"), wrong=error.problems)
    width, depth = one.bed
    kind = str(one.kind).replace("_", " ")
    kerfs = "a blade has no kerf" if one.kind == "drag_knife" else f"{len(one.kerf)} measured"
    return MachineRow(file, one.name, kind, f"{width:g} × {depth:g} mm", kerfs)


def profiles() -> list[tuple[str, str]]:
    """Return the shipped profiles: name, and what each says of itself in its first line."""
    return [
        (name, profile_text(name).splitlines()[0].removeprefix("#").strip()) for name in shipped_profiles()
    ]


def kerf_plots(machine: Machine) -> list[tuple[str, str, list[KerfLine]]]:
    """Return for each tannage measured: its name, its kerfs drawn as an SVG element, and listed."""
    found = []
    for tannage in dict.fromkeys(row.material for row in machine.kerf):
        lines = [
            KerfLine(index, _cells(row), *standing(row, machine))
            for index, row in enumerate(machine.kerf)
            if row.material == tannage
        ]
        lines.sort(key=lambda line: line.cells["Measured"], reverse=True)
        found.append((str(tannage), element(kerf_history(machine, tannage)), lines))
    return found


def _cells(row: KerfRow) -> dict[str, str]:
    return {
        "Measured": f"{row.measured}",
        "Leather": f"{row.thickness:.4g} mm",
        "Kerf": f"{row.width:.4g} mm",
        "At small holes": "" if row.hole_width is None else f"{row.hole_width:.4g} mm",
        "Readings apart by": "" if row.spread is None else f"{row.spread:.3g} mm",
        "Cut at": settings_words(row),
        "Days ago": f"{age_of(row)}",
    }


def scale_words(machine: Machine) -> tuple[str, list[str]]:
    """Return what the axes' scale was measured as, and what to do about it."""
    row = scale_of(machine)
    if row is None:
        return "", []
    scales = (("x", row.x), ("y", row.y))
    told = ", ".join(f"{axis} {value:.5f}" for axis, value in scales if value is not None)
    words = f"Scale measured on {row.measured}: {told}"
    return words, [str(one) for one in scale_findings(machine.name, row)]


RECORD: Final[tuple[tuple[str, str], ...]] = (
    ("material", "Tannage of the leather you cut it from"),
    ("thickness", "Thickness of that leather, as measured"),
    ("strips", "All strips of the comb pushed together"),
    ("strips-y", "Those of the comb across y"),
    ("slot", "The width scored beside the slot a strip just fits"),
    ("hole", "Across one of the small holes"),
    ("cross-x", "The cross along x, tick to tick"),
    ("cross-y", "The cross along y, tick to tick"),
    ("speed", "Speed it was cut at, mm/s"),
    ("power", "Power it was cut with, %"),
    ("passes", "Passes"),
    ("date", "Day it was measured"),
)
"""What is asked of a test piece: the name of each field and its label."""

_READINGS: Final = ("strips", "strips-y", "slot", "cross-x", "cross-y", "hole")

_OF_KNIFE: Final = ("cross-x", "cross-y", "date")


def record_fields(machine: Machine) -> list[tuple[str, str, str]]:
    """Return the fields for recording what was measured on a test piece: name, label and what is usual.

    Args:
        machine: the piece was cut on; a blade has only the cross.
    """
    cut = machine.operation.cut
    usual = {
        "speed": "" if cut.speed_mm_s is None else f"{cut.speed_mm_s:g}",
        "power": "" if cut.power_percent is None else f"{cut.power_percent:g}",
        "passes": str(cut.passes),
        "date": f"{date.today()}",
    }
    wanted = [
        one
        for one in RECORD
        if (machine.kind != "drag_knife" or one[0] in _OF_KNIFE)
        and (one[0] != "hole" or hole_drawn(machine) is not None)
    ]
    return [(name, label, usual.get(name, "")) for name, label in wanted]


@dataclass(frozen=True)
class Reading:
    """What a form's readings come to.

    Args:
        recorded: the rows with their working; None where nothing comes of them yet.
        mistakes: by the fields' names.
        notes: how grave, and what to know of them.
    """

    recorded: Recorded | None
    mistakes: Mapping[str, str]
    notes: tuple[tuple[str, str], ...] = ()


def reading_of(machine: Machine, typed: Mapping[str, str]) -> Reading:
    """Work out what readings of a test piece come to.

    Args:
        machine: the piece was cut on, read from a file of one's own.
        typed: what stands in the fields, by their names.
    """
    mistakes: dict[str, str] = {}

    def read(name: str, how: Any) -> Any:
        text = typed.get(name, "").strip()
        try:
            return how(text) if text else None
        except ValueError as error:
            mistakes[name] = str(error)
            return None

    unit = typed.get("unit", "mm")
    several = [read(name, lambda text: _lengths(text, unit)) or () for name in _READINGS]
    tannage = read("material", _tannage)
    thickness = read("thickness", lambda text: parse_length(with_unit(text, unit), ounces=True))
    speed, power = read("speed", _positive), read("power", lambda text: _positive(text, 100.0))
    passes, day = read("passes", _passes), read("date", _day)
    if mistakes:
        return Reading(None, mistakes)
    strips, strips_y, slots, cross_x, cross_y, holes = several
    try:
        recorded = kerf_record(
            machine,
            Readings(strips, strips_y, slots, cross_x, cross_y, holes),
            tannage,
            thickness,
            speed_mm_s=speed,
            power_percent=power,
            passes=passes,
            day=day,
            write=False,
        )
    except SafetyError as error:
        return Reading(None, {"material": str(error)})
    except (PlanError, FileProblems) as error:
        return Reading(None, _by_option(str(error).splitlines()))
    notes = [(str(severity), words) for severity, words in readings_findings(recorded.measured)]
    for table, row in recorded.rows:
        if table == "scale":
            seen = scale_findings(machine.name, ScaleRow.model_validate(row))
            notes += [(str(one.severity), f"{one.what} {one.do}") for one in seen]
    return Reading(recorded, {}, tuple(notes))


def row_words(table: str, row: Mapping[str, object]) -> str:
    """Return a row that is to be recorded as a sentence.

    Example:
        >>> row_words("scale", {"x": 1.004, "measured": date(2026, 3, 2)})
        'Scale on 2026-03-02: x 1.00400.'
    """
    if table == "scale":
        told = ", ".join(f"{axis} {row[axis]:.5f}" for axis in ("x", "y") if axis in row)
        return f"Scale on {row['measured']}: {told}."
    kerf = KerfRow.model_validate(row)
    leather = f"{kerf.material} leather of {kerf.thickness:.4g} mm"
    return f"Kerf {kerf.width:.4g} mm in {leather}, cut at {settings_words(kerf)}, on {kerf.measured}."


def _by_option(lines: list[str]) -> dict[str, str]:
    """Return refusals by the field of the option each names; other options are called by their labels."""
    labels = dict(RECORD)
    found: dict[str, list[str]] = {}
    for line in lines:
        name, _, rest = line.removeprefix("--").partition(" ") if line.startswith("--") else ("", "", line)
        name = name.rstrip(":,")
        key = name if name in labels else ""
        text = rest if key else line
        for option in sorted(labels, key=len, reverse=True):
            text = text.replace(f"--{option}", f"“{labels[option]}”")
        found.setdefault(key, []).append(text)
    return {key: "; ".join(texts) for key, texts in found.items()}


def _lengths(text: str, unit: str) -> tuple[float, ...]:
    return tuple(parse_length(with_unit(one.strip(), unit)) for one in divided_figures(text, "98,1;98,0"))


def _tannage(text: str) -> Tannage:
    try:
        return Tannage(text)
    except ValueError:
        raise UnitError(f'found "{text}", expected one of {", ".join(Tannage)}') from None


def _positive(text: str, most: float = float("inf")) -> float:
    number = parse_number(text)
    if number is None or not 0 < number <= most:
        allowed = "a number over 0" if most == float("inf") else f"a number over 0 and up to {most:g}"
        raise UnitError(f'found "{text}", expected {allowed}')
    return number


def _passes(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 20:
        raise UnitError(f'found "{text}", expected a whole number from 1 to 20')
    return int(text)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UnitError(f'found "{text}", expected a date such as 2026-03-14') from None


def piece_of(machine: Machine, asked: Mapping[str, str]) -> Coupon:
    """Return a machine's kerf test piece as its form asks for it.

    Args:
        machine: the machine.
        asked: tannage and thickness of the leather, units of a bare number and of the sheet, and what was
            typed to take the risk of fumes.

    Raises:
        UnitError: the thickness is none.
        StrapwrightError: it cannot be cut: the leather is too thick, its fumes could hurt someone.
    """
    tannage = _asked_tannage(asked)
    doubtful = doubtful_tannages([tannage], machine.kind)
    taken = bool(doubtful) and not fumes_not_taken(asked.get("fumes", ""), doubtful)
    return kerf_coupon(
        machine, tannage, _asked_thickness(asked), accept_fume_risk=taken, units=units_of(asked)
    )


def piece_seen(machine: Machine, asked: Mapping[str, str]) -> dict[str, Any]:
    """Return what a test piece will be: what is measured on it and what to know; or what is wrong.

    Args:
        machine: the machine.
        asked: as for `piece_of`.
    """
    tannage = _asked_tannage(asked)
    doubtful = doubtful_tannages([tannage], machine.kind)
    seen: dict[str, Any] = {
        "doubtful": doubtful,
        "risk": f"{FUME_RISK.format(tannages=doubtful)}." if doubtful else "",
        "typed": asked.get("fumes", ""),
        "wrong": (),
        "steps": (),
        "findings": (),
    }
    typed = asked.get("fumes", "")
    if doubtful and (refused := fumes_not_taken(typed, doubtful)):
        return seen | {"wrong": (refused,) if typed else ("Confirm the risk first.",)}
    try:
        made = piece_of(machine, asked)
    except StrapwrightError as error:
        return seen | {"wrong": in_page_words(str(error)).splitlines()}
    units = units_of(asked)
    lines = measuring_lines(machine, tannage, _asked_thickness(asked), units, blade_test=made.blade_test)
    return seen | {
        "steps": [in_page_words(line) for line in lines],
        "findings": finding_words(made.plan.findings, units),
        "files": len(made.files.texts),
        "checked_to": made.files.checked_to,
    }


def _asked_tannage(asked: Mapping[str, str]) -> Tannage:
    try:
        return Tannage(asked.get("material", ""))
    except ValueError:
        return Tannage.VEGETABLE


def _asked_thickness(asked: Mapping[str, str]) -> float | None:
    typed = asked.get("thickness", "").strip()
    if not typed:
        return None
    try:
        return parse_length(with_unit(typed, units_of(asked)), ounces=True)
    except UnitError as error:
        raise UnitError(f"thickness: {error}") from error
