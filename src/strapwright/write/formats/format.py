"""The formats cut files are written in: one protocol, one table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Protocol

from strapwright.core.errors import PlanError
from strapwright.write.formats.dxf import Dxf, DxfR12
from strapwright.write.formats.gcode import Gcode
from strapwright.write.formats.hpgl import Hpgl
from strapwright.write.formats.svg import Svg

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.machine.cut_plan import CutPlan
    from strapwright.machine.profile.machine import Machine
    from strapwright.machine.types import CutSheet
    from strapwright.write.readers.path import PlannedPath, ReadPath


class Format(Protocol):
    """What a format must do: write a sheet, and read it back by other means than it was written."""

    name: str
    """What it is called in profiles and on the command line."""

    suffix: str
    """The ending of its files, with the dot."""

    ending: str
    """What its files' names end in before the suffix, where another format has the same suffix."""

    tolerance: float
    """How far the vertices of a text may lie from its plan when it is read back, mm."""

    chord: float
    """How much further its lines may, where what reads it draws arcs in chords, mm."""

    drives: bool
    """Whether its texts drive a machine, run by run in order, and so allow for its blade."""

    def lacking(self, machine: Machine) -> tuple[str, ...]:
        """Return the keys this format needs that a machine's profile does not have."""

    def planned(self, sheet: CutSheet, plan: CutPlan) -> list[PlannedPath]:
        """Return the paths a sheet's text ought to hold."""

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as text; the same sheet gives the same text."""

    def beside(self, sheet: CutSheet, plan: CutPlan) -> Mapping[str, str]:
        """Return what other files belong to a sheet's, by what is added to its name; they cut nothing."""

    def read_back(self, text: str, machine: Machine, face: float = 0.0) -> list[ReadPath]:
        """Return the paths in a text.

        Args:
            text: the file.
            machine: it is for.
            face: height of the leather's face above a knife's z zero, mm.

        Raises:
            ProofError: the text cannot be read, or holds what the format never writes.
        """


FORMATS: Final[Mapping[str, Format]] = {one.name: one for one in (Dxf(), DxfR12(), Svg(), Gcode(), Hpgl())}
"""Every format by its name. A new one is a file of its own and a word here."""


def format_named(name: str) -> Format:
    """Return the format of a name.

    Raises:
        PlanError: there is none; the message lists those there are.

    Example:
        >>> format_named("svg").suffix
        '.svg'
    """
    if name in FORMATS:
        return FORMATS[name]
    raise PlanError(f'format "{name}" is not known; expected one of {", ".join(FORMATS)}')
