"""A flat punch template: a plate with an end's holes at size, and a lip to lie against the strap's edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from strapwright.core.errors import PartError
from strapwright.geometry.shapes import rectangle
from strapwright.parts.strap import strip_outline
from strapwright.parts.tips.square import Square
from strapwright.solid.modeller import cadquery, making, one_solid, prism
from strapwright.solid.save import check_suffix, step_bytes, stl_bytes

if TYPE_CHECKING:
    from strapwright.geometry.contour import Contour
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.parts.part import Feature

TemplateEnd = Literal["buckle_end", "tip"]

SUFFIXES: Final = (".step", ".stl")
"""What a template can be written as."""

PLATE: Final = 4.0
"""Thickness of the plate unless another is asked for, mm: a punch stands upright in it (common practice)."""

THINNEST: Final = 1.0
THICKEST: Final = 20.0

LIP: Final = 3.0
"""Width of the lip, mm."""

LEAST_DROP: Final = 0.8
"""A lip that reaches down less than this, mm, cannot be felt against the edge."""

MARGIN: Final = 12.0
"""Plate beyond the last hole, mm."""

_CUT: Final = 0.5


@dataclass(frozen=True)
class Template:
    """A punch template; its plate lies on the grain, its lip hangs at the edge at y = −W/2.

    Args:
        id: of the belt.
        end: which end of the strap it is for.
        length: along the strap, mm.
        holes: x, y and size along and across of every opening, in the strap's frame, mm.
        drop: how far the lip reaches down, mm.
        shape: the solid; its underside at z = 0.
    """

    id: str
    end: TemplateEnd
    length: float
    holes: tuple[tuple[float, float, float, float], ...]
    drop: float
    shape: Any

    def as_json(self) -> dict[str, Any]:
        """Return its measures as plain JSON values, mm."""
        return {
            "belt": self.id,
            "end": self.end,
            "length_mm": round(self.length, 4),
            "lip_mm": round(self.drop, 4),
            "openings_mm": [[round(size, 4) + 0.0 for size in hole] for hole in self.holes],
        }


def punch_template(drafted: BeltDraft, end: TemplateEnd, *, thickness: float = PLATE) -> Template:
    """Return the punch template of a buckle end or a tip.

    Lay it on the grain side, lip against the edge and the plate's own end flush with the strap's. The plate
    has the strap's outline at that end, so that the tip can be cut round it. The lip is as long as the
    plate's straight side and 1 mm shorter than the strap is thick.

    Args:
        drafted: the belt.
        end: ``"buckle_end"`` or ``"tip"``.
        thickness: of the plate, 1 to 20 mm.

    Raises:
        PartError: a thickness out of its range, or a plate that cannot be modelled.
    """
    if not THINNEST <= thickness <= THICKEST:
        raise PartError(
            f"a template {thickness:g} mm thick was asked for; allowed are {THINNEST:g} to {THICKEST:g} mm"
        )
    strap, half = drafted.strap, drafted.strap.width / 2
    buckle_end = strap.buckle_end
    rear, cut = Square(strap.width, buckle_end.corner_radius), Square(strap.width, _CUT)
    if end == "buckle_end":
        low = -buckle_end.turn_back
        high = max((*buckle_end.rows, *buckle_end.stitches, buckle_end.slot_length / 2)) + MARGIN
        outline = strip_outline(low, rear, high, cut)
        straight = (low + buckle_end.corner_radius, high - _CUT)
    else:
        low, high = strap.holes.xs[0] - strap.holes.reach / 2 - MARGIN, strap.span
        outline = strip_outline(low, cut, high, strap.tip)
        straight = (low + _CUT, high - strap.tip.reach)
    holes = [one.contour for one in strap.features() if _opening(one, low, high)]
    drop = max(drafted.figures.layers.strap - 1.0, LEAST_DROP)
    with making(f'belt "{drafted.id}": template'):
        cq = cadquery()
        flat = cq.Plane.XY()
        plate = prism(outline, flat, 0.0, thickness)
        lip = prism(rectangle(straight[0], -half - LIP, straight[1], -half), flat, -drop, thickness)
        solid = plate.fuse(lip).clean()
        if holes:
            solid = solid.cut(*(prism(hole, flat, -1.0, thickness + 1.0) for hole in holes))
        shape = one_solid(solid, f'belt "{drafted.id}": template')
    return Template(drafted.id, end, high - low, tuple(_measured(hole) for hole in holes), drop, shape)


def template_bytes(template: Template, suffix: str) -> bytes:
    """Return the template as STEP or STL.

    Args:
        template: what to write.
        suffix: one of `SUFFIXES`.

    Raises:
        OutputError: another suffix, or the modeller cannot write.
    """
    check_suffix(suffix, SUFFIXES, "a template")
    if suffix == ".stl":
        return stl_bytes([template.shape])
    assembly = cadquery().Assembly(name=f"template {template.id}".replace("/", "-"))
    assembly.add(template.shape, name=template.end.replace("_", " "))
    return step_bytes(assembly)


def _opening(feature: Feature, low: float, high: float) -> bool:
    """Whether a feature is a hole that lies whole on the plate."""
    contour = feature.contour
    if not contour.closed or feature.name == "crease line":
        return False
    x0, _, x1, _ = contour.bounding_box
    return x0 > low and x1 < high


def _measured(hole: Contour) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = hole.bounding_box
    return (x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0
