"""Which screw post, rivet or snap each fastener row takes, and what to know of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Finding, Severity
from strapwright.core.units import beyond, json_mm
from strapwright.job.catalogue.hardware import Rivet, ScrewPost, Snap
from strapwright.trade.fasteners import (
    BARREL_PLAY,
    MOST_PLAY,
    barrel_hole,
    draw,
    post_length,
    sold_as,
    washer_for,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.core.calculation import Calculation
    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.hardware import Fastener
    from strapwright.job.spec.belt import Belt
    from strapwright.job.spec.fittings import Fastening
    from strapwright.job.spec.strap import StrapTable

LEAST_DRAW: Final = 0.02
"""A post that draws the stack together by less works loose (common practice)."""

MOST_DRAW: Final = 0.15
"""A post that draws it together by more will not close, or cuts into the leather (common practice)."""

USUAL_BARREL: Final = 5.0
"""Barrel of a usual screw post, mm (from memory): holes are drawn for it where no fastener fits, a stop."""

_NO_SHORTER: Final = 0.05
"""A post shorter than its leather by less is as long, mm."""

WASHER_DRAW: Final = 0.05
"""What a post with a washer is assumed to draw: well between the two limits."""


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
    fastening: Fastening, stack: float, gaps: Sequence[float], catalogue: Catalogue, work: Calculation
) -> tuple[Post, ...]:
    """Return the fastener of each row: the longest post no longer than the stack, or what holds the stack.

    Its holes are the fastener's own, unless the job asks for others. A stack nothing fits gets holes for a
    usual post, and a stop.

    Args:
        fastening: what was asked for; a measured stack overrides the computed one.
        stack: front and turn-back together, mm.
        gaps: how far the layers are held open at each row, mm.
        catalogue: what there is to choose from.
        work: takes the working.
    """
    entries, asked = catalogue.fasteners(fastening.fastener), fastening.fastener_holes
    found = []
    for index, gap in enumerate(gaps):
        high = asked.stacks[index] if index < len(asked.stacks) else stack + gap
        post = _post("ABC"[index], high, fastening.fastener, entries)
        if asked.diameter is not None:
            post = replace(post, holes=(asked.diameter, asked.diameter))
        found.append(post)
    for post in {post.name: post for post in reversed(found)}.values():
        _show_holes(post, fastening, work)
    return tuple(found)


def _show_holes(post: Post, fastening: Fastening, work: Calculation) -> None:
    """Note where the holes of a fastener come from."""
    kind = fastening.fastener.replace("_", " ")
    formula, numbers = f"as {kind} {post.name} needs", ""
    if fastening.fastener_holes.diameter is not None:
        formula = "fastener_holes.diameter"
    elif not post.name:
        formula = f"no {kind} fits; as for a usual post"
    elif fastening.fastener == "screw_post":
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


def post_findings(belt: Belt | StrapTable, posts: Sequence[Post], catalogue: Catalogue) -> Iterator[Finding]:
    """Yield what a maker should know of the fasteners.

    Args:
        belt: what was asked for.
        posts: what was chosen.
        catalogue: what there was to choose from.
    """
    lengths = sorted(post.length for post in catalogue.screw_posts.values())
    alike: dict[tuple[float, str], list[Post]] = {}
    for post in posts:
        alike.setdefault((round(post.stack, 6), post.name), []).append(post)
    for post, *others in alike.values():
        rows = _rows([post, *others])
        if post.length is None:
            yield _none_fits(belt, post, rows, lengths)
        elif post.length:
            yield from _draw(belt, post, rows, lengths)
    yield from _asked_holes(belt, posts, catalogue.fasteners(belt.fastener))
    if len({post.name for post in posts if post.length is not None}) > 1:
        told = ", ".join(f"row {post.row} {post.name}" for post in posts)
        yield Finding(
            "posts-differ",
            Severity.NOTE,
            f"The rows need different fasteners: {told}.",
            "Order and set them row by row.",
            belt.id,
        )


def _asked_holes(
    belt: Belt | StrapTable, posts: Sequence[Post], entries: Mapping[str, Fastener]
) -> Iterator[Finding]:
    """Yield where the job asks for holes its fasteners do not pass, or in which they have too much play."""
    asked = belt.fastener_holes.diameter
    if asked is None:
        return
    kind = belt.fastener.replace("_", " ")
    for name in dict.fromkeys(post.name for post in posts if post.name):
        these = [post for post in posts if post.name == name]
        rows, passes, wanted = _rows(these), entries[name].passes, entries[name].holes
        part = "barrel" if belt.fastener == "screw_post" else "hole"
        what = f"fastener_holes.diameter is {asked:g} mm; {kind} {name} at {rows}"
        do = f"Leave fastener_holes.diameter out: its holes are then {_sizes(wanted)}."
        numbers = {"asked_mm": asked, "least_mm": max(passes), "most_mm": min(passes) + MOST_PLAY}
        if asked < max(passes) - 1e-9:
            yield Finding(
                "fastener-hole-small",
                Severity.STOP,
                f"{what} needs {max(passes):.4g} mm, its {part}.",
                do,
                belt.id,
                numbers,
            )
        elif asked > min(passes) + MOST_PLAY + 1e-9:
            yield Finding(
                "fastener-hole-wide",
                Severity.CAUTION,
                f"{what} has {asked - min(passes):.2g} mm of play in it, more than {MOST_PLAY:g} mm.",
                do,
                belt.id,
                numbers,
            )


def _sizes(holes: tuple[float, float]) -> str:
    """Return the diameters of holes in words.

    Example:
        >>> _sizes((5.5, 5.5)), _sizes((5.0, 4.0))
        ('5.5 mm', '5 mm in front and 4 mm in the turn-back')
    """
    front, back = (f"{hole:.4g} mm" for hole in holes)
    return front if front == back else f"{front} in front and {back} in the turn-back"


def _rows(posts: Sequence[Post]) -> str:
    """Return which rows posts are for, in words.

    Example:
        >>> _rows([Post("A", 7.2, 6.35, "")]), _rows([Post(row, 7.2, 6.35, "") for row in "ABC"])
        ('row A', 'rows A, B and C')
    """
    *before, last = [post.row for post in posts]
    return f"rows {', '.join(before)} and {last}" if before else f"row {last}"


def _none_fits(belt: Belt | StrapTable, post: Post, rows: str, lengths: Sequence[float]) -> Finding:
    kind = belt.fastener.replace("_", " ")
    if belt.fastener == "screw_post" and lengths:
        washer = washer_for(post.stack, lengths[0], WASHER_DRAW)
        shortest = f"the shortest in the catalogue, the {sold_as(lengths[0])} post"
        what = f"{beyond(post.stack, lengths[0], 1)} mm, less than {shortest}"
        do = f"Put a leather washer of {washer:.1f} mm under the post, take rivets, or add a shorter post."
    else:
        what = f"{post.stack:.1f} mm, and no {kind} in the catalogue holds that"
        do = f"Add one that does to your catalogue, or choose another fastener than {kind}."
    return Finding(
        "no-post",
        Severity.STOP,
        f"The stack at {rows} is {what}.",
        do,
        belt.id,
        {"stack_mm": post.stack},
    )


def _percent(share: float) -> str:
    """Return a share in whole per cent, finer where that would hide on which side of a limit it lies.

    Example:
        >>> _percent(0.0196), _percent(0.118), _percent(0.152)
        ('2.0%', '12%', '15.2%')
    """
    near = any(abs(share - limit) < 0.005 for limit in (LEAST_DRAW, MOST_DRAW))
    return f"{share:.1%}" if near else f"{share:.0%}"


def _draw(belt: Belt | StrapTable, post: Post, rows: str, lengths: Sequence[float]) -> Iterator[Finding]:
    assert post.length is not None
    share = draw(post.stack, post.length)
    numbers = {"stack_mm": post.stack, "length_mm": post.length, "draw": share}
    which = f"The {sold_as(post.length)} post at {rows}"
    short = post.stack - post.length
    if share < LEAST_DRAW:
        told = f"only {short:.1f} mm shorter than the leather there, {post.stack:.2f} mm"
        yield Finding(
            "post-loose",
            Severity.CAUTION,
            f"{which} is as long as the leather is thick, so it will not clamp."
            if short < _NO_SHORTER
            else f"{which} is {told}, so it may work loose.",
            "Use thread lock or a thin leather washer under the head.",
            belt.id,
            numbers,
        )
    elif share > MOST_DRAW:
        longer = next((length for length in lengths if length > post.stack), None)
        washer = ""
        if longer is not None:
            thick = washer_for(post.stack, longer, WASHER_DRAW)
            washer = f", or take the {sold_as(longer)} post with a leather washer of {thick:.1f} mm"
        yield Finding(
            "post-short",
            Severity.CAUTION,
            f"{which} is {short:.1f} mm shorter than the leather there, {post.stack:.2f} mm, so it may not "
            "close.",
            f"Skive the turn-back thinner{washer}.",
            belt.id,
            numbers,
        )
