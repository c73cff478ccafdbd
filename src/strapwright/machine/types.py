"""Cut paths and sheets: the tool's paths on the bed, in cutting order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.machine.hide_pose import AS_DRAWN, HidePose
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.geometry.transform import Placement


CUTTING_ORDER: Final = (Operation.SCORE, Operation.PUNCH, Operation.CUT)
"""What is done first to a part: nothing moves before all is made in it."""

OUTLINE: Final = "outline"
"""What a part's outer cut is called among its paths; where it leaves in several runs, each of them."""


@dataclass(frozen=True)
class Setting:
    """How one path is driven where it is not as its operation: a cell of a trial.

    Args:
        speed_mm_s: mm/s.
        power_percent: a laser's; None for a blade.
        depth: how far below the leather's face a blade goes, mm; None for a laser.
        passes: how often it is gone along.
    """

    speed_mm_s: float
    power_percent: float | None = None
    depth: float | None = None
    passes: int = 1


@dataclass(frozen=True)
class CutPath:
    """One path of the tool on the bed: an outline, a hole, a slot, a score or a mark.

    Args:
        part_id: the part it makes.
        name: the feature in trade words, or ``"outline"``.
        operation: cut, punch or score.
        contour: the path of the tool's middle in bed mm, y up.
        diameter: of the finished hole, mm, for a punch's centre mark; None for everything else.
        setting: how it is driven; None: as its operation.
        fixed_start: whether, closed, it must begin where it does; else where the way to it is short.
    """

    part_id: str
    name: str
    operation: Operation
    contour: Contour
    diameter: float | None = None
    setting: Setting | None = None
    fixed_start: bool = False

    @property
    def is_outline(self) -> bool:
        """Whether it is the outer cut of its part, or a run of it."""
        return self.name == OUTLINE

    def moved(self, put: Placement) -> CutPath:
        """Return the path where a placement puts it."""
        return replace(self, contour=put.apply(self.contour))


REGISTRATION: Final = "registration"
"""The part that registration holes are said to be of; they lie in scrap."""


HOLE_NAMES: Final = "AB"
"""What the two registration holes between two windows are called, in the order of `Window.holes`."""


FIRST_CUT: Final = "first cut"
"""What the path is called that squares a raw hide's edge; it is said to be of its hide."""


@dataclass(frozen=True)
class BedWindow:
    """One of the windows a hide is cut in where it is longer than the bed.

    Args:
        number: from 1, in the order they are cut.
        count: of the windows of this hide.
        shift: how far the hide is moved along, towards lower x, from where its `HidePose` has it, mm.
        advance: how far it has been moved since the window before, mm; 0 in the first.
        pins: the same in pins of the bed's edge; 0 where there are none.
        holes: where registration holes cut in the window before must lie on the bed now, mm; where they do,
            once they were touched.
        touched: whether it is written from where those holes really lie, as the sheet's `HidePose` has it.
    """

    number: int
    count: int
    shift: float
    advance: float
    pins: int
    holes: tuple[tuple[float, float], ...]
    touched: bool = False


@dataclass(frozen=True)
class CutSheet:
    """The paths cut from one hide in one go, or in one window of it.

    Args:
        name: of the sheet; the hide's, where one sheet holds all of it.
        hide: the hide's name.
        width: the bed's reach along x, mm.
        height: the bed's reach along y, mm.
        paths: in cutting order.
        pose: how the hide lies on the bed; in a window, before it is moved along.
        window: which one it is; None where the bed takes all of the hide's parts.
        lay_by: whether it only marks the bed's backing, for straps cut to width to be laid on.
        parted: the outlines, closed, of parts on the hide whose outline does not leave here as one path.
        leather: the hide's outline where it lies now, closed; None where it is not known or not cut here.
        thickness: of the leather at its thickest place, mm; 0 where it is not known.
        zones: where it is of other thicknesses, each with its place on the bed, closed; together all of it.
    """

    name: str
    hide: str
    width: float
    height: float
    paths: tuple[CutPath, ...]
    pose: HidePose = AS_DRAWN
    window: BedWindow | None = None
    lay_by: bool = False
    other_outlines: tuple[Contour, ...] = ()
    leather: Contour | None = None
    thickness: float = 0.0
    zones: tuple[tuple[float, Contour], ...] = ()

    def moved(self, put: Placement) -> CutSheet:
        """Return the sheet with everything on it moved over the bed; pose and window stay as they are."""
        return replace(
            self,
            paths=tuple(path.moved(put) for path in self.paths),
            other_outlines=tuple(put.apply(one) for one in self.other_outlines),
            leather=None if self.leather is None else put.apply(self.leather),
            zones=tuple((thick, put.apply(place)) for thick, place in self.zones),
        )

    def __hash__(self) -> int:  # thousands of vertices are too many for each look into a cache
        return hash((self.name, len(self.paths)))

    def thickness_under(self, track: Contour) -> float:
        """Return how thick the leather is under a way on the bed, at its thickest, mm."""
        if not self.zones:
            return self.thickness
        points = track.sample()
        found = (thickness for thickness, place in self.zones if place.contains(points).any())
        return max(found, default=self.thickness)

    @property
    def outlines(self) -> list[Contour]:
        """The closed outline of every part on the bed: no lead-in may cross one."""
        cut = [path.contour for path in self.paths if path.is_outline and path.contour.closed]
        return [*cut, *self.other_outlines]
