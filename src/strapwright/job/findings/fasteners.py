"""What to know of the screw posts, rivets or snaps of a turned end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Cure, Finding, Severity
from strapwright.core.units import beyond
from strapwright.job.dimensions.fastener_choice import LEAST_DRAW, MOST_DRAW
from strapwright.rules.fasteners import MOST_PLAY, draw, sold_as, washer_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.hardware import Fastener
    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.spec.strap import Belt, StrapTable

_NO_SHORTER: Final = 0.05
"""A post shorter than its leather by less is as long, mm."""

WASHER_DRAW: Final = 0.05
"""What a post with a washer is assumed to draw: well between the two limits."""


def fastener_findings(
    belt: Belt | StrapTable, posts: Sequence[Post], catalogue: Catalogue
) -> Iterator[Finding]:
    """Yield what to know of the fasteners.

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
            keys=("fastener",),
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
                ("fastener_holes.diameter",),
                (Cure("fastener_holes.diameter", None),),
            )
        elif asked > min(passes) + MOST_PLAY + 1e-9:
            yield Finding(
                "fastener-hole-wide",
                Severity.CAUTION,
                f"{what} has {asked - min(passes):.2g} mm of play in it, more than {MOST_PLAY:g} mm.",
                do,
                belt.id,
                numbers,
                ("fastener_holes.diameter",),
                (Cure("fastener_holes.diameter", None),),
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
        >>> from strapwright.job.dimensions.fastener_choice import Post
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
        ("fastener", "fastener_holes.stacks"),
    )


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
            ("fastener", "fastener_holes.stacks"),
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
            ("fastener", "fastener_holes.stacks"),
        )
