"""The formats cut files are written in: one protocol, one table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Protocol

from strapwright.errors import PlanError
from strapwright.write.dxf import Dxf
from strapwright.write.svg import Svg

if TYPE_CHECKING:
    from collections.abc import Mapping

    from strapwright.machine.cut_plan import CutPlan, CutSheet
    from strapwright.write.read_path import ReadPath


class Format(Protocol):
    """What a format must do: write a sheet, and read it back by other means than it was written."""

    @property
    def name(self) -> str:
        """What it is called in profiles and on the command line."""

    @property
    def suffix(self) -> str:
        """The ending of its files, with the dot."""

    def to_text(self, sheet: CutSheet, plan: CutPlan) -> str:
        """Return a sheet as text; the same sheet gives the same text."""

    def read_back(self, text: str) -> list[ReadPath]:
        """Return the paths in a text.

        Raises:
            ProofError: the text cannot be read, or holds what the format never writes.
        """


FORMATS: Final[Mapping[str, Format]] = {one.name: one for one in (Dxf(), Svg())}
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
