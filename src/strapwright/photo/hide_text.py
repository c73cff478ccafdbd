"""A measured hide as the text of a hide file: where each number came from, and how sure it is."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
import tomlkit

from strapwright.core.text import one_line
from strapwright.nesting.hide.backbone import EDGES, back_at
from strapwright.nesting.hide.file_text import hide_to_toml
from strapwright.nesting.hide.types import Flaw, Hide

if TYPE_CHECKING:
    from strapwright.core.arrays import Floats
    from strapwright.photo.measure import MeasuredHide

MOST_WITHIN: Final = 200.0
"""A hide file takes no more for a stretch that is unsure, mm."""


def unsure_within(uncertainty: float, stretch: Floats | None = None) -> float:
    """Return by how much a stretch of the edge that is not seen well may be off, mm.

    Args:
        uncertainty: of the rest, mm.
        stretch: its points, (N, 2) mm: the true edge may be a straight line from its one end to the other.
    """
    bulge = 0.0
    if stretch is not None and len(stretch) > 1:
        chord = shapely.LineString([stretch[0], stretch[-1]])
        bulge = float(shapely.distance(chord, shapely.points(stretch)).max())
    return float(min(np.ceil(3.0 * uncertainty + 5.0 + bulge), MOST_WITHIN))


def hide_text(
    measured: MeasuredHide,
    *,
    name: str,
    photo: str,
    thickness: float | None = None,
    backbone: str = "",
    printed: tuple[float, float] | None = None,
) -> str:
    """Return a measured hide as a hide file.

    Args:
        measured: the hide.
        name: what you call it.
        photo: name of the photograph's file.
        thickness: mm, None if not known.
        backbone: the edge that is the back, empty if nobody said.
        printed: how long a length of 1 came out across and along the sheets; None if nobody measured.
    """
    fit = measured.fit
    strays = [fit.strays[number] for number in fit.sheets]
    sheets = ", ".join(str(number) for number in sorted(fit.sheets))
    scale = (
        "nobody measured them"
        if printed is None
        else "printed at "
        + " and ".join(f"{share:.2%} {way}" for share, way in zip(printed, ("across", "along"), strict=True))
    )
    camera = f"Camera {measured.height:.0f} mm above the floor, {measured.tilt:.0f} degrees off straight down"
    notes = [
        f"Measured from the photograph {one_line(photo)}.",
        *(one_line(one.what) for one in measured.findings if one.code.startswith("photo-compared")),
        f"{camera}; {measured.scale:.2f} mm to a pixel.",
        f"Mark sheets {sheets}; their crosses stray by {max(strays):.2f} mm at most; {scale}.",
        *(f"Mark sheet {number} is left out: {why}." for number, why in sorted(fit.left_out.items())),
        "Look at the check picture before you cut.",
        f"With a tape, the two points of the edge that lie furthest apart: {measured.tape}.",
    ]
    flaws = tuple(Flaw(flaw.kind, _rounded(flaw.polygon)) for flaw in measured.flaws)
    hide = Hide(name, _rounded(measured.outline), flaws, thickness=thickness)
    if backbone:
        back = back_at(hide.outline, EDGES[backbone])
        hide = replace(hide, back=back, strap_direction=back.direction)
    file = tomlkit.parse(hide_to_toml(hide, notes))
    table = file["hide"]
    assert isinstance(table, tomlkit.items.Table)
    table.add("uncertainty", f"{measured.uncertainty:.1f} mm")
    table["uncertainty"].comment("95 of 100 points of the outline are off by no more")
    for flaw, found in zip(file.get("flaw", ()), measured.flaws, strict=True):
        flaw["kind"].comment(f"ringed in {found.where}" if found.where else "the floor is seen through it")
    if measured.unsure:
        stretches = tomlkit.aot()
        for stretch in measured.unsure:
            one = tomlkit.table()
            one.add("within", f"{unsure_within(measured.uncertainty, stretch):g} mm")
            kept = np.unique(
                np.append(np.arange(0, len(stretch), max(1, len(stretch) // 20)), len(stretch) - 1)
            )
            one.add("points", [[float(x), float(y)] for x, y in _rounded(stretch[kept])])
            stretches.append(one)
        file.add("unsure", stretches)
    return tomlkit.dumps(file)


def _rounded(points: Floats) -> Floats:
    return points.round(1)
