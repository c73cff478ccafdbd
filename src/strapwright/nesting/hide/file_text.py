"""A hide as the text of a hide file, which reads back as the same hide."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

from strapwright.files.atomic_write import MARK
from strapwright.nesting.hide.backbone import back_written
from strapwright.nesting.hide.types import Face

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.core.arrays import Floats
    from strapwright.nesting.hide.types import Hide

_A_LINE = 6
"""Corners written on one line."""


def hide_to_toml(hide: Hide, notes: Sequence[str] = ()) -> str:
    """Return a hide as a hide file: outline and flaws by their corners, in mm.

    Args:
        hide: the hide; a first cut has been made and is not written again, nor are findings.
        notes: lines that stand at the head as comments.

    Example:
        >>> import numpy as np
        >>> from strapwright.nesting.hide.types import Hide
        >>> print(hide_to_toml(Hide("bend", np.array([(0, 0), (900, 0), (900, 400.5)]), thickness=3.6)))
        # strapwright-...0
        <BLANKLINE>
        [hide]
        name = "bend"
        thickness = "3.6 mm"
        strap_direction = "0 deg"
        points = [
          [0, 0], [900, 0], [900, 400.5],
        ]
        <BLANKLINE>
    """
    lines = [*(f"# {note}" for note in notes), f"# {MARK}", "", "[hide]", f"name = {_text(hide.name)}"]
    if hide.parent:
        lines.append(f"parent = {_text(hide.parent)}")
    if hide.thickness is not None:
        lines.append(f'thickness = "{exact_number(hide.thickness)} mm"')
    if hide.tannage is not None:
        lines.append(f'tannage = "{hide.tannage}"')
    lines.append(f'strap_direction = "{_degrees(hide.strap_direction)} deg"')
    if backbone := back_written(hide):
        lines.append(f"backbone = {backbone}")
    if hide.tolerance:
        lines.append(f'tolerance = "{_degrees(hide.tolerance)} deg"')
    if hide.face_up is not Face.GRAIN:
        lines.append(f'face_up = "{hide.face_up}"')
    lines += points_lines(hide.outline)
    for flaw in hide.flaws:
        lines += ["", "[[flaw]]", f'kind = "{flaw.kind}"']
        if flaw.round is None:
            lines += points_lines(flaw.polygon)
        else:
            x, y, diameter = map(exact_number, flaw.round)
            lines += [f"at = [{x}, {y}]", f'size = "{diameter} mm"']
    for zone in hide.thickness_zones:
        lines += [
            "",
            "[[zone]]",
            f'thickness = "{exact_number(zone.thickness)} mm"',
            *points_lines(zone.polygon),
        ]
    return "\n".join([*lines, ""])


def points_lines(points: Floats) -> list[str]:
    """Return the lines of a hide file that give some corners, six to a line.

    Args:
        points: (N, 2) mm.
    """
    corners = [f"[{exact_number(float(x))}, {exact_number(float(y))}]" for x, y in points]
    rows = [", ".join(corners[at : at + _A_LINE]) for at in range(0, len(corners), _A_LINE)]
    return ["points = [", *(f"  {row}," for row in rows), "]"]


def exact_number(value: float) -> str:
    """Return a number so that it reads back as itself, without needless digits.

    Example:
        >>> exact_number(900.0), exact_number(0.1), exact_number(-0.0)
        ('900', '0.1', '0')
    """
    return str(int(value)) if value == int(value) else repr(value)


def _degrees(radians: float) -> str:
    return exact_number(round(math.degrees(radians), 12))


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)  # a name is one printable line: JSON's text is TOML's
