"""A path as a file says it, read back by a reader that knows nothing of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour


@dataclass(frozen=True)
class ReadPath:
    """One path found in a written file.

    Args:
        layer: the layer or group it lies in.
        contour: the path in bed mm, y up.
    """

    layer: str
    contour: Contour
