"""What a maker should know about a drafted belt: findings from its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from strapwright.findings import Finding, Severity
from strapwright.job.figures import TIP_PAST_KEEPER
from strapwright.trade.fasteners import end_margin
from strapwright.trade.fold import fold_strain, thickest_for_strain
from strapwright.trade.sizing import INCH

if TYPE_CHECKING:
    from collections.abc import Iterator

    from strapwright.job.belt import Belt
    from strapwright.job.buckle import Buckle
    from strapwright.job.draft import Post
    from strapwright.job.figures import Figures

STRAIN_CAUTION: Final = 0.40
"""Outer-fibre strain of the fold above which it is called out: a house caution; a published requirement
for vegetable leather takes 50 % elongation as its limit."""


def judge(belt: Belt, buckle: Buckle, got: Figures, posts: tuple[Post, ...]) -> tuple[Finding, ...]:
    """Return the findings of one belt.

    Args:
        belt: what was asked for.
        buckle: its buckle.
        got: what was worked out.
        posts: its screw posts.
    """
    found = [
        *_fold(belt, got),
        *_slot_walls(belt, got),
        *_tip_reach(belt, got),
        *_turn_back(belt, got),
        *_sizing(belt, got),
        *_posts(belt, posts),
    ]
    if got.keeper is not None and not got.keeper_held:
        found.append(
            Finding(
                "keeper-slides",
                Severity.NOTE,
                "With one fastener row the keeper is not held between the layers: it slides, and is cut to "
                "go round three thicknesses.",
                "Set fastener_holes.rows = 2 to hold it, or leave it sliding.",
                belt.id,
            )
        )
    if buckle.bar == "centre" and got.keeper is None and belt.keeper is not None:
        found.append(
            Finding(
                "rear-loop-keeper",
                Severity.NOTE,
                "The rear loop of the centre-bar buckle serves as keeper; no keeper is cut.",
                "Write a keeper into the job if you want one besides.",
                belt.id,
            )
        )
    if belt.fastener == "stitched":
        found.append(
            Finding(
                "stitch-by-hand",
                Severity.NOTE,
                "The turn-back is stitched: no fastener holes are cut and no stitch line is drawn.",
                "Mark the stitch line with dividers on the bench, along the strap and never across it.",
                belt.id,
            )
        )
    return tuple(found)


def _fold(belt: Belt, got: Figures) -> Iterator[Finding]:
    strain = fold_strain(got.thickness, got.fold_radius)
    if strain > STRAIN_CAUTION:
        thickest = thickest_for_strain(got.fold_radius, STRAIN_CAUTION)
        yield Finding(
            "fold-strain",
            Severity.CAUTION,
            f"The grain stretches {strain:.0%} where {got.thickness:.1f} mm leather folds round this bar; "
            f"above {STRAIN_CAUTION:.0%} it may crack.",
            f"Skive the fold to {thickest:.1f} mm, or dampen it before bending, or take a thicker bar.",
            belt.id,
            {"strain": strain, "skive_to_mm": thickest},
        )


def _slot_walls(belt: Belt, got: Figures) -> Iterator[Finding]:
    wanted = 1.5 * got.thickness
    wall = min((got.width / 2 - abs(y) - got.slot[1] / 2 for y in got.slot_ys), default=wanted)
    if wall < wanted - 1e-9:
        yield Finding(
            "slot-wall",
            Severity.CAUTION,
            f"{wall:.1f} mm of leather stand beside the prong slot; 1.5 thicknesses are {wanted:.1f} mm.",
            "Take a buckle with a slimmer prong or a wider strap, or keep this belt to light use.",
            belt.id,
            {"wall_mm": wall, "wanted_mm": wanted},
        )


def _tip_reach(belt: Belt, got: Figures) -> Iterator[Finding]:
    reach = got.last_to_tip - got.seat.hole_seat
    if got.keeper_end and reach < got.keeper_end + TIP_PAST_KEEPER - 1e-9:
        least = got.seat.hole_seat + got.keeper_end + TIP_PAST_KEEPER
        yield Finding(
            "tip-short",
            Severity.CAUTION,
            f"At the loosest hole the tip reaches {reach:.0f} mm past the bar; the keeper ends at "
            f"{got.keeper_end:.0f} mm.",
            f"Make holes.last_to_tip at least {least:.0f} mm, or the keeper narrower.",
            belt.id,
            {"reach_mm": reach, "keeper_end_mm": got.keeper_end},
        )


def _turn_back(belt: Belt, got: Figures) -> Iterator[Finding]:
    if not got.mates:
        return
    wanted = end_margin(belt.fastener_holes.diameter)
    margin = got.turn_back + min(got.mates)
    if margin < wanted - 1e-9:
        yield Finding(
            "turn-back-short",
            Severity.CAUTION,
            f"{margin:.1f} mm of leather stand behind the last fastener; {wanted:.0f} mm are usual.",
            f"Make turn_back at least {wanted - min(got.mates):.0f} mm, or leave it to be computed.",
            belt.id,
            {"margin_mm": margin, "wanted_mm": wanted},
        )


def _sizing(belt: Belt, got: Figures) -> Iterator[Finding]:
    if belt.size.trousers is None:
        return
    inches = got.girth_in_use / INCH
    usual = belt.size.trousers + 2.5
    far = abs(inches - usual) > 1.0
    yield Finding(
        "trouser-size",
        Severity.CAUTION if far else Severity.NOTE,
        f"Sized by trousers {belt.size.trousers:g}, a rule of thumb: the hole in use fits a girth of "
        f"{inches:.1f} in ({got.girth_in_use:.0f} mm)"
        + (f", more than 1 in from the {usual:g} in usual for it." if far else "."),
        "Tape the girth where the belt is worn, or measure a belt that fits, before you cut.",
        belt.id,
        {"girth_mm": got.girth_in_use},
    )


def _posts(belt: Belt, posts: tuple[Post, ...]) -> Iterator[Finding]:
    short = [post for post in posts if post.length is None]
    if short:
        yield Finding(
            "no-post",
            Severity.CAUTION,
            f"The stack at row {' and '.join(post.row for post in short)} is {short[0].stack:.1f} mm, less "
            "than the shortest screw post usually sold (6 mm).",
            "Take rivets, or put a leather washer of the missing thickness under the post.",
            belt.id,
            {"stack_mm": short[0].stack},
        )
