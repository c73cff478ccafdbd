"""Whether things touch: what the model in the round says that no formula was asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from strapwright.core.findings import Finding, Severity
from strapwright.job.findings.strap import keeper_cures
from strapwright.solid.modeller import cadquery, overlap

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.job.folding import Folded
    from strapwright.solid.hardware import Fastener

MISS: Final = 0.5
"""Two holes further apart than this, mm, do not take a post without force (common practice)."""

TOUCH: Final = 0.3
"""Overlaps up to this section, mm², all across the strap are a touch: leather gives, and corners are drawn
sharper than they are."""

PROUD: Final = 0.05
"""A post that stands off the leather by less, mm, is taken as flush."""


def touching(folded: Folded, shapes: Mapping[str, Any], posts: Sequence[Fastener]) -> tuple[Finding, ...]:
    """Return what touches that should not, and what does not meet that should.

    Args:
        folded: the belt in its places.
        shapes: its pieces by name.
        posts: its fasteners.
    """
    return (
        *holes_miss(folded),
        *_posts_proud(folded, posts),
        *_keeper_tight(folded, shapes, posts),
        *_buckle_tight(folded, shapes),
    )


def holes_miss(folded: Folded) -> Iterator[Finding]:
    """Yield which fastener rows do not meet once the belt is folded.

    Args:
        folded: the belt in its places.
    """
    worst: dict[str, float] = {}
    for name, miss in folded.misses:
        worst[name] = max(worst.get(name, 0.0), miss, key=abs)
    for name, miss in worst.items():
        if abs(miss) > MISS:
            toward = "towards the tip" if miss > 0 else "towards the buckle"
            yield Finding(
                "holes-miss",
                Severity.CAUTION,
                f"Folded, the holes of {name} in the turn-back lie {abs(miss):.1f} mm {toward} from those in "
                "the front.",
                "Punch the front only, fold the strap round the buckle and mark the turn-back through it.",
                folded.drafted.id,
                {"miss_mm": miss},
            )


def _posts_proud(folded: Folded, posts: Sequence[Fastener]) -> Iterator[Finding]:
    told = set()
    for post in posts:
        proud = post.length - post.stack
        if proud > PROUD and post.row not in told:
            told.add(post.row)
            yield Finding(
                "post-proud",
                Severity.CAUTION,
                f"The {post.length:.2f} mm post at row {post.row} stands {proud:.2f} mm proud of "
                f"{post.stack:.2f} mm of leather as modelled.",
                "Take the next shorter post or a washer; or ignore this if you measured the stack with "
                "callipers.",
                folded.drafted.id,
                {"proud_mm": proud, "stack_mm": post.stack, "length_mm": post.length},
            )


def _keeper_tight(folded: Folded, shapes: Mapping[str, Any], posts: Sequence[Fastener]) -> Iterator[Finding]:
    keeper, got = shapes.get("keeper"), folded.figures
    if keeper is None or got.keeper is None:
        return
    against = {name: overlap(keeper, shapes[name]) for name in ("leather", "lining") if name in shapes}
    if not folded.closed:  # lying flat the free end is not there: try one in its place
        middle = folded.front_face + folded.lift + got.layers.tip / 2
        against["the free end"] = overlap(keeper, _strap_at(folded, middle, got.layers.tip))
    heads = sum(overlap(keeper, post.shape) for post in posts)
    if got.end.keeper_held in ("row_a", "row_b"):
        # Its ends lie under that row: the post goes through them, and the turn-back is led down beside it.
        heads = 0.0
        against["leather"] = overlap(keeper, _strap_at(folded, folded.radius, got.layers.strap))
    against["the fasteners"] = heads
    tight = {name: volume for name, volume in against.items() if volume > TOUCH * got.width}
    if tight:
        what = " and ".join(name if name.startswith("the ") else f"the {name}" for name in tight)
        do = "Give it more room with house.keeper_ease_height and house.keeper_ease_width, or move it."
        if not all(one.closes for one in got.end.closings):
            do = keeper_cures(got, sewn=bool(got.end.stitches))
        yield Finding(
            "keeper-tight",
            Severity.CAUTION,
            f"The keeper runs into {what}, by {sum(tight.values()):.0f} mm³.",
            do,
            folded.drafted.id,
            {"overlap_mm3": sum(tight.values())},
        )


def _strap_at(folded: Folded, middle: float, thickness: float) -> Any:
    """Return a piece of one layer of strap where the keeper holds it, its middle at a height, mm."""
    got, cq = folded.figures, cadquery()
    assert got.keeper is not None
    box = cq.Workplane("XY", origin=(folded.keeper_x + got.keeper.width / 2, 0, middle))
    return box.box(got.keeper.width, got.width, thickness).val()


def _buckle_tight(folded: Folded, shapes: Mapping[str, Any]) -> Iterator[Finding]:
    frame, prongs = shapes["buckle"], shapes.get("prongs")
    pairs = [("frame", frame, name) for name in ("leather", "keeper", "posts") if name in shapes]
    if prongs is not None:
        pairs += [("prong", prongs, name) for name in ("leather", "posts") if name in shapes]
    for metal, shape, name in pairs:
        # A prong bites its hole, and the strap bends about the front bar, when the belt is closed.
        if folded.closed and name == "leather":
            continue
        volume = overlap(shape, shapes[name])
        if volume > TOUCH * folded.figures.width:
            what = "strap" if name == "leather" else name
            yield Finding(
                "buckle-tight",
                Severity.CAUTION,
                f"The buckle's {metal} runs into the {what}, by {volume:.0f} mm³.",
                "Measure the buckle again; if the numbers are right, try it in scrap with --ends-only first.",
                folded.drafted.id,
                {"overlap_mm3": volume},
            )


def greatest_miss(folded: Folded) -> float:
    """Return how far the worst pair of fastener holes lies apart once folded, mm; 0 without any."""
    return max((abs(miss) for _, miss in folded.misses), default=0.0)
