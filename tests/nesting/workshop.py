"""Parts and a hide of an invented workshop, drawn by hand for the nesting tests."""

from __future__ import annotations

import numpy as np

from strapwright.geometry.contour import Contour
from strapwright.nesting.hide.types import Flaw, FlawKind, Hide, disc
from strapwright.parts.part import Feature, Operation, Part, PartKind
from strapwright.rules.leather import Tannage


def strap(belt: str, length: float = 1180.0, width: float = 38.0, thickness: float = 3.6) -> Part:
    """A strap with a round tip, a rounded buckle end, a slot, holes and a fold line."""
    h, r, back = width / 2, 4.0, 80.0
    tip = length - back - h
    q = np.tan(np.pi / 8)
    outline = Contour(
        np.array(
            [
                (-back, -h + r, q),
                (-back + r, -h, 0),
                (tip, -h, 1),
                (tip, h, 0),
                (-back + r, h, q),
                (-back, h - r, 0),
            ]
        )
    )
    features = [
        Feature(
            "prong slot",
            Operation.CUT,
            Contour(np.array([(-12, -3, 0), (12, -3, 1), (12, 3, 0), (-12, 3, 1)])),
        ),
        Feature("fold line", Operation.SCORE, Contour.from_points([(0, -h), (0, h)], closed=False)),
    ]
    features += [
        Feature("adjusting hole", Operation.PUNCH, Contour.circle(tip - 90 - 25 * n, 0, 5)) for n in range(7)
    ]
    return Part(f"{belt}/strap", belt, PartKind.STRAP, outline, tuple(features), thickness, Tannage.VEGETABLE)


def keeper(belt: str, length: float = 104.0, width: float = 18.0, thickness: float = 3.6) -> Part:
    """A keeper strip with a line where it joins."""
    outline = Contour.from_points([(0, 0), (length, 0), (length, width), (0, width)])
    mark = Contour.from_points([(length - 12, 0), (length - 12, width)], closed=False)
    return Part(
        f"{belt}/keeper",
        belt,
        PartKind.KEEPER,
        outline,
        (Feature("join line", Operation.SCORE, mark),),
        thickness,
        Tannage.VEGETABLE,
    )


def side(strap_direction: float = 0.0, thickness: float | None = 3.6) -> Hide:
    """A side about 2.2 m long: trued along the back, belly irregular, four flaws."""
    x = np.linspace(0, 2210, 60)
    belly = 780 + 70 * np.sin(x / 310) + 35 * np.sin(x / 97 + 1) + 14 * np.cos(x / 31)
    belly = belly * (1 - 0.55 * np.clip((180 - x) / 180, 0, 1) ** 2)
    belly = belly * (1 - 0.50 * np.clip((x - 2000) / 210, 0, 1) ** 2)
    outline = np.vstack([[(0, 0), (2210, 0)], np.column_stack([x, belly])[::-1]])
    flaws = (
        Flaw(FlawKind.HOLE, disc(640, 255, 34, 0.02)),
        Flaw(FlawKind.HOLE, np.array([(1490, 395), (1530, 380), (1560, 420), (1500, 440)])),
        Flaw(FlawKind.MARK, np.array([(860, 560), (1010, 585), (1008, 592), (858, 567)])),
        Flaw(FlawKind.LOOSE, np.array([(120, 640), (330, 610), (420, 830), (150, 820)])),
    )
    return Hide("side 7", outline, flaws, strap_direction, thickness, digest="d7")


def order(count: int) -> list[Part]:
    """A batch of belts in three widths and several lengths, each with its keeper."""
    widths, lengths = (38.0, 32.0, 25.0), (1010.0, 1085.0, 1160.0, 1235.0)
    names = [f"b{n + 1}" for n in range(count)]
    straps = [strap(name, lengths[n % 4], widths[n % 3]) for n, name in enumerate(names)]
    return straps + [keeper(name, 2 * widths[n % 3] + 30) for n, name in enumerate(names)]
