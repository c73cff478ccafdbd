"""The thicknesses of one strap, each where it counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.rules.keeper import LAPPED

if TYPE_CHECKING:
    from strapwright.job.catalogue.leather import Leather
    from strapwright.job.spec.strap import Belt, StrapTable


@dataclass(frozen=True)
class Layers:
    """Thicknesses, mm.

    Args:
        outer: the strap's own leather.
        lining: its lining; 0 for none. It runs from behind the fold to the tip.
        fold: at the fold and through the turn-back, skived where the job says so.
        tip: of the free end where the keeper holds it.
        keeper: of the keeper's leather; 0 for none.
        lapped: whether its ends lie on one another at full thickness.
    """

    outer: float
    lining: float
    fold: float
    tip: float
    keeper: float
    lapped: bool = False

    @property
    def keeper_stack(self) -> float:
        """What the keeper puts under the front: its leather, doubled at a lap that is not skived."""
        return 2 * self.keeper if self.lapped else self.keeper

    @property
    def strap(self) -> float:
        """The strap round the body: leather and lining."""
        return self.outer + self.lining

    @property
    def clamped(self) -> float:
        """Distance of the middles of front and turn-back where they are clamped tight."""
        return (self.strap + self.fold) / 2

    @property
    def stack(self) -> float:
        """Front and turn-back together."""
        return self.strap + self.fold


def layers_of(asked: Belt | StrapTable, leather: Leather) -> Layers:
    """Return the thicknesses of a strap.

    Args:
        asked: what is asked for.
        leather: its leather.
    """
    lining = asked.lining.thickness if asked.lining is not None else 0.0
    made = asked.made_keeper
    lapped = made is not None and made.join == "lap"
    usual = min(LAPPED, leather.thickness) if lapped else leather.thickness
    return Layers(
        outer=leather.thickness,
        lining=lining,
        fold=asked.fold_thickness or leather.thickness,
        tip=asked.tip_thickness or leather.thickness + lining,
        keeper=(made.thickness or usual) if made is not None else 0.0,
        lapped=lapped and made is not None and not made.skive,
    )
