"""What a person says of a turned end, be it a belt's or another strap's."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from strapwright.job.spec.fittings import Dee, FastenerHoles, Stitch


class Asked(Protocol):
    """How the turn-back is to be held."""

    @property
    def fastener(self) -> str:
        """What holds the turn-back."""
        ...

    @property
    def fastener_holes(self) -> FastenerHoles:
        """Its holes."""
        ...

    @property
    def stitch(self) -> Stitch | None:
        """How it is sewn."""
        ...

    @property
    def turn_back(self) -> float | None:
        """Its length, where it is not to be computed."""
        ...

    @property
    def dee(self) -> Dee | None:
        """The dee ring beyond its rows."""
        ...
