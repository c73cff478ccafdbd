"""Which screw post, rivet or snap of the catalogue each fastener row takes, and with what holes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.units import json_mm
from strapwright.job.catalogue.hardware import Rivet, ScrewPost, Snap
from strapwright.rules.fasteners import BARREL_PLAY, barrel_hole, draw, post_length, sold_as

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.core.calculation import Calculation
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.hardware import Fastener
    from strapwright.job.spec.strap import EndSpec

LEAST_DRAW: Final = 0.02
"""A post that draws the stack together by less works loose (common practice)."""

MOST_DRAW: Final = 0.15
"""A post that draws it together by more will not close, or cuts into the leather (common practice)."""

USUAL_BARREL: Final = 5.0
"""Barrel of a usual screw post, mm (from memory): holes are drawn for it where no fastener fits, a stop."""


@dataclass(frozen=True)
class Post:
    """The fastener of one row.

    Args:
        row: "A" nearest the buckle, then "B" and "C".
        stack: uncompressed leather under the heads, mm.
        length: barrel of the post to take, mm; 0 for rivets and snaps, None where nothing fits.
        name: of the catalogue's entry; empty where nothing fits.
        holes: diameters of its holes in the front layer and in the turn-back, mm.
        passes: diameters of what passes them, mm.
        head: diameter of what covers them, mm; 0 where nothing fits.
    """

    row: str
    stack: float
    length: float | None
    name: str
    holes: tuple[float, float] = (0.0, 0.0)
    passes: tuple[float, float] = (0.0, 0.0)
    head: float = 0.0

    def as_json(self) -> dict[str, object]:
        """Return the fastener as plain JSON values, mm."""
        return {
            "row": self.row,
            "stack_mm": json_mm(self.stack),
            "length_mm": None if self.length is None else json_mm(self.length),
            "name": self.name,
        }

    @property
    def size(self) -> str:
        """The fastener as it is sold, mm after inches: ``1/4 in (6.35 mm)``; a rivet's or snap's name.

        Example:
            >>> Post("A", 7.2, 6.35, "1/4 in").size, Post("A", 8.2, 8.0, "8 mm").size
            ('1/4 in (6.35 mm)', '8 mm')
        """
        return sold_as(self.length) if self.length else self.name

    def words(self) -> str:
        """Return row and fastener in words.

        Example:
            >>> Post("A", 7.2, 6.35, "1/4 in").words()
            'A 1/4 in (6.35 mm)'
            >>> Post("B", 7.2, None, "").words()
            'B none fits'
        """
        return f"{self.row} {'none fits' if self.length is None else self.size}"


def draw_lines(posts: Sequence[Post]) -> tuple[str, ...]:
    """Return the working of each row's draw; nothing of rivets and snaps, which are set.

    Example:
        >>> draw_lines([Post("A", 7.2, 6.35, "")])
        ('draw of the post at row A: (stack − length) / stack = (7.20 − 6.35) / 7.20 = 12%',)
    """
    return tuple(
        f"draw of the post at row {post.row}: (stack − length) / stack = ({post.stack:.2f} − "
        f"{post.length:.2f}) / {post.stack:.2f} = {_percent(draw(post.stack, post.length))}"
        for post in posts
        if post.length
    )


def posts_of(
    asked: EndSpec, stack: float, gaps: Sequence[float], catalogue: Catalogue, work: Calculation
) -> tuple[Post, ...]:
    """Return the fastener of each row: the longest post no longer than the stack, or what holds the stack.

    Its holes are the fastener's own, unless the job asks for others. A stack nothing fits gets holes for a
    usual post, and a stop.

    Args:
        asked: what is asked for of the end; a measured stack overrides the computed one.
        stack: front and turn-back together, mm.
        gaps: how far the layers are held open at each row, mm.
        catalogue: what there is to choose from.
        work: takes the calculation.
    """
    entries, holes = catalogue.fasteners(asked.fastener), asked.fastener_holes
    found = []
    for index, gap in enumerate(gaps):
        high = holes.stacks[index] if index < len(holes.stacks) else stack + gap
        post = _post("ABC"[index], high, asked.fastener, entries)
        if holes.diameter is not None:
            post = replace(post, holes=(holes.diameter, holes.diameter))
        found.append(post)
    for post in {post.name: post for post in reversed(found)}.values():
        _show_holes(post, asked, work)
    return tuple(found)


def _show_holes(post: Post, asked: EndSpec, work: Calculation) -> None:
    """Note where the holes of a fastener come from."""
    kind = asked.fastener.replace("_", " ")
    formula, numbers = f"as {kind} {post.name} needs", ""
    if asked.fastener_holes.diameter is not None:
        formula = "fastener_holes.diameter"
    elif not post.name:
        formula = f"no {kind} fits; as for a usual post"
    elif asked.fastener == "screw_post":
        formula, numbers = "barrel + 0.5", f"{post.passes[0]:g} + {BARREL_PLAY:g}, {kind} {post.name}"
    front, back = post.holes
    layers = {"": front} if front == back else {" in the front": front, " in the turn-back": back}
    for where, hole in layers.items():
        work.add(f"fastener holes{where}", formula, numbers or f"{hole:g}", hole)


def _post(row: str, stack: float, kind: str, entries: Mapping[str, Fastener]) -> Post:
    if kind == "screw_post":
        lengths = {post.length: name for name, post in entries.items() if isinstance(post, ScrewPost)}
        length = post_length(stack, sorted(lengths))
        name = "" if length is None else lengths[length]
    else:
        sets = ((n, one) for n, one in entries.items() if isinstance(one, Rivet | Snap))
        name = next((n for n, one in sets if one.holds(stack)), "")
        length = 0.0 if name else None
    if not name:
        usual = barrel_hole(USUAL_BARREL)
        return Post(row, stack, None, "", (usual, usual), (USUAL_BARREL, USUAL_BARREL))
    chosen = entries[name]
    return Post(row, stack, length, name, chosen.holes, chosen.passes, chosen.head)


def _percent(share: float) -> str:
    """Return a share in whole per cent, finer where that would hide on which side of a limit it lies.

    Example:
        >>> _percent(0.0196), _percent(0.118), _percent(0.152)
        ('2.0%', '12%', '15.2%')
    """
    near = any(abs(share - limit) < 0.005 for limit in (LEAST_DRAW, MOST_DRAW))
    return f"{share:.1%}" if near else f"{share:.0%}"
