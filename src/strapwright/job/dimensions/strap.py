"""The figures of a strap whose ends turn round bars and that is no belt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.job.dimensions.end import EndFigures
    from strapwright.job.dimensions.layers import Layers
    from strapwright.job.dimensions.posts import Post


@dataclass(frozen=True)
class TurnedFigures:
    """What was worked out for one turned end; mm, x from its own fold line into the strap.

    Args:
        end: fold, rows and their mates, turn-back.
        layers: thicknesses, each where it counts.
    """

    end: EndFigures
    layers: Layers

    @property
    def posts(self) -> tuple[Post, ...]:
        """What each fastener row takes; empty for a stitched end."""
        return self.end.posts
