"""What a plan is: the tool's paths on the bed, in cutting order, sheet by sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.pictures import svg_of

if TYPE_CHECKING:
    from strapwright.findings import Finding
    from strapwright.geometry.contour import Contour
    from strapwright.machine.profile import Machine
    from strapwright.parts.part import Operation
    from strapwright.trade.leather import Tannage


@dataclass(frozen=True)
class CutPath:
    """One run of the tool.

    Args:
        part_id: the part it makes.
        name: the feature in trade words, or ``"outline"``.
        operation: cut, punch or score.
        contour: the path of the tool's middle in bed mm, y up.
        layer: where it goes in the files; a punch mark's layer tells its diameter.
        diameter: of the finished hole, mm, for a punch's centre mark; None for everything else.
    """

    part_id: str
    name: str
    operation: Operation
    contour: Contour
    layer: str
    diameter: float | None = None


@dataclass(frozen=True)
class CutSheet:
    """What is cut from one hide in one go.

    Args:
        name: of the sheet; the hide's, where one sheet holds all of it.
        hide: the hide's name.
        width: the bed's reach along x, mm.
        height: the bed's reach along y, mm.
        paths: in cutting order.
    """

    name: str
    hide: str
    width: float
    height: float
    paths: tuple[CutPath, ...]


@dataclass(frozen=True)
class Kerf:
    """The width of the cut reckoned with in one leather.

    Args:
        tannage: of the leather.
        thickness: of the leather, mm.
        width: of the cut, mm.
    """

    tannage: Tannage
    thickness: float
    width: float


@dataclass(frozen=True)
class CutPlan:
    """Everything a machine does for a layout.

    Args:
        machine: the machine it is for.
        sheets: one for each hide that has parts on it, in the layout's order.
        kerf: the widest cut reckoned with, mm; 0 for a drag knife.
        kerfs: the width for each leather on the plan.
        findings: what was noticed while planning.
        job_name: as the maker wrote it; empty where it has none.
    """

    machine: Machine
    sheets: tuple[CutSheet, ...]
    kerf: float
    kerfs: tuple[Kerf, ...]
    findings: tuple[Finding, ...]
    job_name: str = ""

    def _repr_svg_(self) -> str | None:
        """Return its picture for a notebook."""
        return svg_of(self)
