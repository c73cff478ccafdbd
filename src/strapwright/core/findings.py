"""Findings: what the program noticed and you can act on, as values.

A finding is never printed where it arises. It travels with the draft, the layout or the plan, and is
shown as a table, as JSON and on every sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from strapwright.core.text import printable
from strapwright.core.units import Units, lengths_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


class Severity(StrEnum):
    """How much a finding weighs: a ``stop`` blocks cut files."""

    NOTE = "note"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True)
class Cure:
    """One value that does away with a finding.

    Args:
        key: of the table it is about, dotted: ``"holes.last_to_tip"``; of a list, counted from 0:
            ``"ends.0.turn_back"``.
        value: as the file has it, such as ``"112 mm"``; None for leaving the key out.
    """

    key: str
    value: str | int | None


@dataclass(frozen=True)
class Finding:
    """One thing noticed.

    Args:
        code: a stable kebab-case name, such as ``"fold-strain"``.
        severity: note, caution or stop.
        what: one sentence that says what was seen, with its numbers.
        do: one sentence that says what to do about it.
        subject: the belt, part or file it is about; empty for the whole job.
        numbers: the figures behind the sentence, keys carrying their unit (``"strain"``, ``"width_mm"``).
        keys: of the belt's or strap's table, dotted as a cure's, that cause it, the likeliest first; a key
            the table leaves to the job is the job's.
        cures: values that do away with it, the easiest first.

    Example:
        >>> Finding("short-tip", Severity.CAUTION, "The tip is 60 mm long.", "Lengthen it.").severity
        <Severity.CAUTION: 'caution'>
    """

    code: str
    severity: Severity
    what: str
    do: str
    subject: str = ""
    numbers: Mapping[str, float] = field(default_factory=dict)
    keys: tuple[str, ...] = ()
    cures: tuple[Cure, ...] = ()

    def __post_init__(self) -> None:
        for key in ("what", "do", "subject"):  # they may hold what a file holds
            object.__setattr__(self, key, printable(getattr(self, key)))

    def __str__(self) -> str:
        """Return the finding as one line: how grave, about what, what was seen, what to do."""
        about = f"{self.subject}: " if self.subject else ""
        return f"{self.severity}: {about}{self.what} {self.do}"

    def in_units(self, units: Units) -> Finding:
        """Return the finding with its lengths in these units; those that differ stay different throughout."""
        what, _, do = lengths_in(f"{self.what}\n{self.do}", units).partition("\n")
        return replace(self, what=what, do=do)

    def as_json(self) -> dict[str, object]:
        """Return the finding as plain JSON values."""
        return {
            "code": self.code,
            "severity": str(self.severity),
            "subject": self.subject,
            "what": self.what,
            "do": self.do,
            "numbers": dict(self.numbers),
            **({"keys": list(self.keys)} if self.keys else {}),
            **({"cures": [{"key": one.key, "value": one.value} for one in self.cures]} if self.cures else {}),
        }


def grouped_findings(findings: Iterable[Finding]) -> list[tuple[Finding, tuple[str, ...]]]:
    """Return findings, the gravest first; those that differ only in their subject, as one with all names.

    Example:
        >>> two = [Finding("wide", Severity.NOTE, "It is wide.", "Trim it.", name) for name in "ab"]
        >>> ((found, about),) = grouped_findings(two)
        >>> found.what, about
        ('It is wide.', ('a', 'b'))
    """
    alike: dict[tuple[Severity, str, str], tuple[Finding, dict[str, None]]] = {}
    for finding in findings:
        key = finding.severity, finding.what, finding.do
        _, subjects = alike.setdefault(key, (finding, {}))
        if finding.subject:
            subjects[finding.subject] = None
    grades = list(Severity)
    gravest_first = sorted(alike.values(), key=lambda one: -grades.index(one[0].severity))
    return [(finding, tuple(subjects)) for finding, subjects in gravest_first]
