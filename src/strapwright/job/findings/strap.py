"""What to know of a drafted belt or other strap: every finding, in the order it is shown.

Those of fold, rows, fasteners, keeper and tip are here; `strength`, `punches` and `unit_slips` have a module
each.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from strapwright.core.findings import Cure, Finding, Severity
from strapwright.core.units import MM_PER_INCH, beyond, percent_beyond
from strapwright.job.dimensions.fastener_choice import LEAST_DRAW, MOST_DRAW
from strapwright.job.dimensions.fit import TIP_PAST_KEEPER
from strapwright.job.findings.punches import hand_holes, punch_findings
from strapwright.job.findings.strength import leather_findings, strength_findings
from strapwright.job.findings.unit_slips import unit_slips
from strapwright.rules.fasteners import MOST_PLAY, draw, end_margin, sold_as, up_to_half, washer_for
from strapwright.rules.fold import fold_strain, thickest_for_strain
from strapwright.rules.sizing import tip_past_keeper

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from strapwright.job.catalogue.file import Catalogue
    from strapwright.job.catalogue.hardware import Fastener
    from strapwright.job.dimensions.fastener_choice import Post
    from strapwright.job.dimensions.fit import BeltFigures
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.strap import Belt, StrapTable
    from strapwright.job.strap_draft import StrapDraft


_NEAR: Final = 1e-9

THINNEST_FOLD: Final = 0.5
"""No fold is skived thinner, mm: the least a job may ask for."""

THINNEST_KEEPER: Final = 0.5
"""A keeper is offered no leather as thin, mm: the least a job may ask for."""

FEWEST_HOLES: Final = 3
"""A belt is offered no fewer adjusting holes: one to fit, and one either way."""

ROW_PLAY: Final = 0.5
"""Fastener holes that miss each other by less still let the post through, mm (common practice)."""

_NO_SHORTER: Final = 0.05
"""A post shorter than its leather by less is as long, mm."""

WASHER_DRAW: Final = 0.05
"""What a post with a washer is assumed to draw: well between the two limits."""


def findings_of(item: StrapDraft, catalogue: Catalogue) -> tuple[Finding, ...]:
    """Return the findings of one belt or other strap; two ends alike say each once.

    Args:
        item: its draft.
        catalogue: hardware and punches at hand.
    """
    found = [*unit_slips(item)]
    for name, end in item.turned:
        found += _fold(item, end)
        found += _slot_walls(item, end)
        found += _tip_reach(item)
        found += _turn_back(end, f"ends.{int(name[-1]) - 1}.turn_back" if name else "turn_back")
        found += _trouser_size(item)
        found += _keeper(item)
        found += _keeper_thick(item)
        found += _opened_rows(item, end)
        found += fastener_findings(item.spec, end.posts, catalogue)
    found += leather_findings(item)
    found += strength_findings(item)
    found += punch_findings(item.id, hand_holes(item), catalogue.owned_punches)
    return tuple(one for place, one in enumerate(found) if one not in found[:place])


def _fold(item: StrapDraft, end: EndFigures) -> Iterator[Finding]:
    house = item.house
    strain = fold_strain(end.layers.fold, end.fold_radius)
    if strain > house.strain_caution:
        thickest = thickest_for_strain(end.fold_radius, house.strain_caution)
        skived = math.floor(thickest * 10 + _NEAR) / 10
        yield Finding(
            "fold-strain",
            Severity.CAUTION,
            f"The grain stretches {percent_beyond(strain, house.strain_caution)} where "
            f"{end.layers.fold:.1f} mm leather folds round this bar; above {house.strain_caution * 100:g}% "
            "it may crack.",
            f"Skive the fold to {thickest:.1f} mm, or dampen it before bending, or take a thicker bar.",
            numbers={"strain": strain, "skive_to_mm": thickest},
            keys=("fold_thickness",),
            cures=(Cure("fold_thickness", f"{skived:g} mm"),) if skived >= THINNEST_FOLD else (),
        )


def _slot_walls(item: StrapDraft, end: EndFigures) -> Iterator[Finding]:
    wanted = 1.5 * end.layers.strap
    wall = min((item.width / 2 - abs(y) - end.slot[1] / 2 for y in end.slot_ys), default=wanted)
    if wall < wanted - _NEAR:
        yield Finding(
            "slot-wall",
            Severity.CAUTION,
            f"{beyond(wall, round(wanted, 1), 1)} mm of leather are left beside the prong slot; less than "
            f"1.5 thicknesses, {wanted:.1f} mm.",
            "Take a buckle with a slimmer prong or a wider strap, or keep this belt to light use.",
            numbers={"wall_mm": wall, "wanted_mm": wanted},
            keys=("buckle",),
        )


def _tip_reach(item: StrapDraft) -> Iterator[Finding]:
    got, house = item.figures, item.house
    if got is None:
        return
    loosest, tightest = got.reaches
    end = got.end.keeper_end
    if end and loosest < end + TIP_PAST_KEEPER - _NEAR:
        least = tip_past_keeper(got.holes.reach, got.seat.hole_seat, end, TIP_PAST_KEEPER)
        wanted = math.ceil(end + TIP_PAST_KEEPER - _NEAR)
        reaches = (
            f"reaches {beyond(loosest, wanted)} mm past" if loosest > 0 else f"ends {-loosest:.0f} mm before"
        )
        yield Finding(
            "tip-short",
            Severity.CAUTION,
            f"At the loosest hole the tip {reaches} the bar; it should reach "
            f"{wanted} mm, {TIP_PAST_KEEPER:g} mm past the keeper.",
            f"Make holes.last_to_tip at least {least:.0f} mm, or the keeper narrower.",
            numbers={"reach_mm": loosest, "keeper_end_mm": end},
            keys=("holes.last_to_tip", "keeper.width"),
            cures=(Cure("holes.last_to_tip", f"{math.ceil(least - _NEAR)} mm"),),
        )
    if tightest > house.longest_tail + _NEAR:
        yield Finding(
            "tail-long",
            Severity.CAUTION,
            f"At the tightest hole the tip reaches {beyond(tightest, house.longest_tail)} mm past the bar, "
            f"more than {house.longest_tail:g} mm: it runs into the next trouser loop.",
            "Take fewer holes or a smaller spacing, or set house.longest_tail to what suits the wearer.",
            numbers={"reach_mm": tightest, "longest_mm": house.longest_tail},
            keys=("holes.count", "holes.spacing"),
            cures=fewer_holes(got, house.longest_tail),
        )


def fewer_holes(got: BeltFigures, longest: float) -> tuple[Cure, ...]:
    """Return how many holes keep the free end short enough, an odd number; nothing where that leaves too few.

    Args:
        got: what was worked out.
        longest: free end past the bar at the tightest hole, mm.
    """
    loosest, _ = got.reaches
    count = int((longest - loosest + _NEAR) / got.holes.spacing) + 1
    count -= count % 2 == 0
    least = max(FEWEST_HOLES, got.spec.size.hole_in_use or 0)
    return (Cure("holes.count", count),) if least <= count < got.holes.count else ()


def _turn_back(end: EndFigures, key: str) -> Iterator[Finding]:
    """Yield what to know of a turn-back that was given rather than computed."""
    if not end.mates:
        return
    wanted = end_margin(end.posts[-1].holes[1])
    margin = end.turn_back + min(end.mates)
    if margin < wanted - _NEAR:
        yield Finding(
            "turn-back-short",
            Severity.CAUTION,
            f"{margin:.1f} mm of leather are left behind the last fastener; {wanted:.0f} mm are usual.",
            f"Make turn_back at least {wanted - min(end.mates):.0f} mm, or leave it to be computed.",
            numbers={"margin_mm": margin, "wanted_mm": wanted},
            keys=(key,),
            cures=(Cure(key, f"{math.ceil(wanted - min(end.mates) - _NEAR)} mm"), Cure(key, None)),
        )


def _trouser_size(item: StrapDraft) -> Iterator[Finding]:
    got = item.figures
    if got is None or got.spec.size.trousers is None:
        return
    inches, trousers = got.girth_in_use / MM_PER_INCH, got.spec.size.trousers
    usual = trousers + 2.5
    far = abs(inches - usual) > 1.0
    yield Finding(
        "trouser-size",
        Severity.CAUTION if far else Severity.NOTE,
        f"Sized by trousers {trousers:g}, a rule of thumb: the hole in use fits a waist or girth "
        f"of {inches:.1f} in ({got.girth_in_use:.0f} mm)"
        + (f", more than 1 in from the {usual:g} in usual for it." if far else "."),
        "Tape the waist or girth where the belt is worn, or measure a belt that fits, before you cut.",
        numbers={"girth_mm": got.girth_in_use},
        keys=("size.trousers", "sizes"),
    )


def _keeper_thick(item: StrapDraft) -> Iterator[Finding]:
    """Yield a stop where rows cannot close over the keeper; a note where its leather is thinner."""
    got = item.figures
    if got is None:
        return
    stack, keeper = got.layers.keeper_stack, got.keeper
    if keeper is not None and keeper.thickness is None and got.layers.keeper < got.layers.outer - _NEAR:
        yield Finding(
            "keeper-leather",
            Severity.NOTE,
            f"The keeper's ends lap, so it is made of {got.layers.keeper:g} mm leather, not the strap's "
            f"{got.layers.outer:.1f} mm.",
            "Cut it from leather of that thickness, or skive it down; or set keeper.thickness.",
            numbers={"keeper_mm": got.layers.keeper},
            keys=("keeper.thickness",),
            cures=(Cure("keeper.thickness", f"{got.layers.keeper:g} mm"),),
        )
    opened = [one for one in got.end.closings if not one.closes]
    if not opened:
        return
    worst = max(opened, key=lambda one: one.left_open)
    names = " and ".join(one.row for one in opened)
    what = f"Row {names} is" if len(opened) == 1 else f"Rows {names} are"
    most = 2 * (worst.rise - worst.left_open)
    twice = f", its lap being {got.layers.keeper:.1f} mm twice" if got.layers.lapped else ""
    cures = _cures_of_thick_keeper(got, sewn=not names)
    yield Finding(
        "keeper-thick",
        Severity.STOP,
        f"The keeper puts {stack:.1f} mm between the layers{twice}. {what if names else 'The seam ends'} "
        f"{worst.way:.1f} mm from its edge, where they close over {most:.1f} mm at most: over more, the "
        "leather would bend tighter than round the bar.",
        keeper_cures(got, sewn=not names),
        numbers={"stack_mm": stack, "most_mm": most, "way_mm": worst.way, "least_way_mm": worst.least_way},
        keys=tuple(dict.fromkeys(cure.key for _, cure in reversed(cures))),
        cures=tuple(cure for _, cure in cures if cure.value != f"{THINNEST_KEEPER:g} mm"),
    )


def keeper_cures(got: BeltFigures, *, sewn: bool) -> str:
    """Return in words what lets rows close over a keeper, the easiest first.

    Args:
        got: what was worked out.
        sewn: whether the end is sewn, and has no rows to move.
    """
    cures = [words for words, _ in _cures_of_thick_keeper(got, sewn=sewn)]
    text = f"{', '.join(cures[:-1])}, or {cures[-1]}" if len(cures) > 1 else cures[0]
    return f"{text[0].upper()}{text[1:]}."


def _cures_of_thick_keeper(got: BeltFigures, *, sewn: bool) -> list[tuple[str, Cure]]:
    """Return what lets rows close over a keeper, in words and as a value; what would not do is left out."""
    layers, keeper = got.layers, got.keeper
    assert keeper is not None
    most = min(2 * (one.rise - one.left_open) for one in got.end.closings)
    cures: list[tuple[str, Cure]] = []
    if layers.lapped and layers.keeper <= most + _NEAR:
        cures = [
            ("skive the lap (keeper.skive = true)", Cure("keeper.skive", value=True)),
            ('butt the join (keeper.join = "butt")', Cure("keeper.join", "butt")),
        ]
    thin = math.floor((most / 2 if layers.lapped else most) * 10 + _NEAR) / 10
    words = f"take keeper leather of {thin:.1f} mm or less (keeper.thickness)"
    cures.append((words, Cure("keeper.thickness", f"{max(thin, THINNEST_KEEPER):g} mm")))
    if not sewn:
        way = max(one.least_way for one in got.end.closings)
        apart = keeper.width + 2 * way if got.end.keeper_held == "between" else keeper.width / 2 + way
        apart = up_to_half(apart)
        words = f"move the rows apart (fastener_holes.spacing_along = {apart:g})"
        cures.append((words, Cure("fastener_holes.spacing_along", f"{apart:g} mm")))
    return cures


def _opened_rows(item: StrapDraft, end: EndFigures) -> Iterator[Finding]:
    """Yield a caution where a keeper under a row parts the layers so steeply that its width matters.

    The holes of the turn-back are calculated as if it held them open at the row alone. A keeper that stays
    stiff holds them open over its width, which takes more turn-back: the difference is reported.
    """
    rows, gaps, keeper = end.rows, end.gaps, item.spec.made_keeper
    if keeper is None or not any(gaps):
        return
    half, furthest, place = keeper.width / 2, 0.0, ""
    places = pairwise(zip(rows, gaps, strict=True))
    for ((x0, g0), (x1, g1)), name in zip(places, "BC", strict=False):
        pitch, opened = x1 - x0, abs(g1 - g0)
        more = half + math.hypot(max(pitch - half, 0.0), opened) - math.hypot(pitch, opened)
        if opened and more > furthest:
            furthest, place = more, name
    if furthest > ROW_PLAY:
        yield Finding(
            "keeper-opens-rows",
            Severity.CAUTION,
            f"The keeper under row {end.keeper_held[-1].upper()} parts the layers by {max(gaps):.1f} mm: "
            f"if it stays stiff over its width, row {place} in the turn-back has to be up to "
            f"{furthest:.1f} mm further out than calculated.",
            "Punch the front only, fold the strap and mark the turn-back through it; or skive the keeper's "
            "ends, or hold it between the rows.",
            numbers={"gap_mm": max(gaps), "further_mm": furthest},
            keys=("keeper.held",),
            cures=(Cure("keeper.held", "between"),) if item.spec.fastener_holes.rows > 1 else (),
        )


def _keeper(item: StrapDraft) -> Iterator[Finding]:
    got = item.figures
    if got is None:
        return
    belt = got.spec
    if got.keeper is not None and got.end.keeper_held == "slides" and got.keeper.held is None:
        yield Finding(
            "keeper-slides",
            Severity.NOTE,
            "With one fastener row the keeper is not held between the layers: it slides, and is cut to go "
            "round three thicknesses.",
            "Set fastener_holes.rows = 2 to hold it, or leave it sliding.",
            keys=("fastener_holes.rows", "keeper.held"),
            cures=(Cure("fastener_holes.rows", 2), Cure("keeper.held", "slides")),
        )
    if belt.buckle.bar == "centre" and got.keeper is None and belt.keeper is not None:
        yield Finding(
            "rear-loop-keeper",
            Severity.NOTE,
            "The rear loop of the centre-bar buckle serves as keeper; no keeper is cut.",
            "Write a keeper into the job if you want one as well.",
            keys=("keeper",),
        )


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
            yield from _draw(post, rows, lengths)
    yield from _asked_holes(belt, posts, catalogue.fasteners(belt.fastener))
    if len({post.name for post in posts if post.length is not None}) > 1:
        told = ", ".join(f"row {post.row} {post.name}" for post in posts)
        yield Finding(
            "posts-differ",
            Severity.NOTE,
            f"The rows need different fasteners: {told}.",
            "Order and set them row by row.",
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
            code, severity = "fastener-hole-small", Severity.STOP
            has = f"needs {max(passes):.4g} mm, its {part}"
        elif asked > min(passes) + MOST_PLAY + 1e-9:
            code, severity = "fastener-hole-wide", Severity.CAUTION
            has = f"has {asked - min(passes):.2g} mm of play in it, more than {MOST_PLAY:g} mm"
        else:
            continue
        yield Finding(
            code,
            severity,
            f"{what} {has}.",
            do,
            numbers=numbers,
            keys=("fastener_holes.diameter",),
            cures=(Cure("fastener_holes.diameter", None),),
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
        numbers={"stack_mm": post.stack},
        keys=("fastener", "fastener_holes.stacks"),
    )


def _draw(post: Post, rows: str, lengths: Sequence[float]) -> Iterator[Finding]:
    assert post.length is not None
    share, short = draw(post.stack, post.length), post.stack - post.length
    shorter = f"{short:.1f} mm shorter than the leather there, {post.stack:.2f} mm"
    if share < LEAST_DRAW:
        code, what = "post-loose", f"only {shorter}, so it may work loose"
        if short < _NO_SHORTER:
            what = "as long as the leather is thick, so it will not clamp"
        do = "Use thread lock or a thin leather washer under the head."
    elif share > MOST_DRAW:
        code, what = "post-short", f"{shorter}, so it may not close"
        washer = ""
        if (longer := next((length for length in lengths if length > post.stack), None)) is not None:
            thick = washer_for(post.stack, longer, WASHER_DRAW)
            washer = f", or take the {sold_as(longer)} post with a leather washer of {thick:.1f} mm"
        do = f"Skive the turn-back thinner{washer}."
    else:
        return
    yield Finding(
        code,
        Severity.CAUTION,
        f"The {sold_as(post.length)} post at {rows} is {what}.",
        do,
        numbers={"stack_mm": post.stack, "length_mm": post.length, "draw": share},
        keys=("fastener", "fastener_holes.stacks"),
    )
