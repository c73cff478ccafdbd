"""The work at the bench: its steps in order, each with its caution, and the tools it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from strapwright.core.units import Units, format_length
from strapwright.drawing.pattern_pieces import hole_places
from strapwright.parts.own_shape import CUT_OUT
from strapwright.parts.part import Operation
from strapwright.rules.leather import Tannage, edge_beveler
from strapwright.rules.punches import snap_to_punch, snap_to_slot_punch, usual_punch
from strapwright.rules.safety import cautions

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from strapwright.drawing.pattern_pieces import HolePlace, Order
    from strapwright.job.dimensions.turned_end import EndFigures
    from strapwright.job.spec.strap import EndSpec
    from strapwright.job.strap_draft import StrapDraft
    from strapwright.machine.profile.machine import Machine
    from strapwright.rules.punches import Punch

    Step = tuple[str, str]

LARGEST_BEVELER = 5
"""Edge bevelers with a greater number are seldom sold (from memory)."""

CALLIPER_WITHIN = 0.3
"""Leather further off the thickness assumed than this changes fold and posts, mm: a house setting."""

_KNIFE, _STRIKE, _FUMES, RULES = cautions("bench")

NOT_FOR = (
    "Not for climbing, lifting, fall arrest or duty gear: licensed practice decides there. Nothing here "
    "rates a belt or strap for a load on which somebody depends."
)
"""What none of the goods is for; it stands once on a card."""

_KEEPER_PLACES = {
    "between": "between the layers, in the space between the rows",
    "row_a": "under the fasteners of row A",
    "row_b": "under the fasteners of row B",
    "slides": "round all layers, to slide",
}


def work_steps(item: StrapDraft, units: Units, *, machine: Machine | None) -> tuple[Step, ...]:
    """Return the order of work for a belt or another strap.

    Args:
        item: the belt or strap.
        units: of the lengths shown.
        machine: what marks, cuts and makes the holes; None for work by hand.
    """
    return tuple(_work(item, units, machine))


def _work(item: StrapDraft, units: Units, machine: Machine | None) -> Iterator[Step]:
    strap, layers = item.strap, [end.layers for _, end in item.turned]
    by_hand = machine is None or Operation.SCORE not in machine.operations
    yield _calliper(item.leather.thickness, units)
    yield from _by_hand(item) if machine is None else _off_machine(machine)
    if any(one.fold < one.outer for one in layers):
        what = "fold and turn-back" if item.closes else "folds and turn-backs"
        yield f"Skive {what} to {format_length(layers[0].fold, units)}, from the flesh side.", _KNIFE
    if item.lining is not None:
        start = format_length(round(item.lining.start, 1), units)
        yield f"Glue the lining on from {start} behind the fold line; trim it flush.", _FUMES
    if strap.crease and by_hand:
        yield f"Crease {format_length(strap.crease, units)} from the edge.", ""
    if strap.marks and by_hand:
        yield "Letter the turn-back.", ""
    but = " Not the turn-back's end." if item.closes else ""
    yield f"Bevel the edges: {edge_words([item.thickness])}.{but}", _KNIFE
    yield "Dye and finish; burnish the edges.", _FUMES
    yield from _keeper_steps(item, units)
    for end in item.ends:
        if end.figures is not None:
            yield from _end_steps(item, end.spec, end.figures, units)
    if item.figures is None:
        yield "Try and check it; measure it from bar to bar, or to the point of the tip.", ""
    else:
        in_use = format_length(round(item.figures.girth_in_use), units)
        yield f"Try it: prong through every hole, tip through the keeper, {in_use} at the hole in use.", ""


def _by_hand(item: StrapDraft) -> Iterator[Step]:
    """Yield how pieces are marked and cut without a machine."""
    cut_out = [one for one in item.strap.openings if one.name == CUT_OUT]
    if item.closes:
        pieces = ["strap", *(["lining"] if item.lining else []), *(["keeper"] if item.keeper else [])]
        told = " and ".join([", ".join(pieces[:-1]), pieces[-1]]) if len(pieces) > 1 else pieces[0]
        yield f"Cut {told} to size, the strap along the hide's strap direction.", _KNIFE
        yield "Mark centre line, fold line and every hole by the table, from both ends: they must meet.", ""
        yield "Punch the holes and slots.", _STRIKE
        if cut_out:
            yield "Cut the drawn openings along the pattern.", _KNIFE
        yield "Cut the tip and round the corners of the turn-back.", _KNIFE
        return
    yield "Cut the strap to size, along the hide's strap direction.", _KNIFE
    if item.strap.hole_rows or item.turned:
        yield "Mark fold lines and every hole by the table, from both ends: they must meet.", ""
    if item.strap.hole_rows or item.turned or len(cut_out) < len(item.strap.openings):
        yield "Punch the holes.", _STRIKE
    if cut_out:
        yield "Cut the drawn openings along the pattern.", _KNIFE


def _keeper_steps(item: StrapDraft, units: Units) -> Iterator[Step]:
    keeper, got = item.keeper, item.figures
    if keeper is None or got is None:
        return
    if keeper.spare:
        spare = format_length(keeper.spare, units)
        yield f"Try the keeper round the belt; cut off what is spare, {spare} at most.", _KNIFE
    if got.keeper is not None and got.keeper.skive:
        lap, thick = format_length(keeper.lap, units), format_length(round(got.layers.keeper, 2), units)
        sides = "one from the flesh side, the other from the grain"
        yield f"Skive both ends of the keeper to nothing over {lap}, {sides}: lapped, {thick} thick.", _KNIFE
    how = "lap its ends and join them" if keeper.join == "lap" else "butt its ends and join them"
    yield f"Close the keeper: {how}. Leave its outer edges square.", ""


def _end_steps(item: StrapDraft, spec: EndSpec, got: EndFigures, units: Units) -> Iterator[Step]:
    """Yield how a turned end is folded round its bar and fastened; of one among two, by its name."""
    posts, kind = ", ".join(f"row {post.words()}" for post in got.posts), spec.fastener.replace("_", " ")
    if spec.name:
        name = spec.name.capitalize()
        folds = f"{name}: fold it round the bar and hammer it flat."
        sets, sews = f"{name}: set the {kind}s, {posts}.", f"{name}: sew along both edges."
    else:
        vegetable = item.leather.tannage is Tannage.VEGETABLE
        damp = ", dampened so that the grain does not crack," if vegetable else ""
        prong = ("Fold", "Prong through the slot; fold", "Prongs through the slots; fold")[len(got.slot_ys)]
        folds = f"{prong} the turn-back round the bar{damp} and hammer it flat; let it dry."
        sets, sews = f"Set the {kind}s: {posts}.", "Sew the turn-back along both edges, never across."
        if spec.fastener == "screw_post":
            sets = f"Set the screw posts (Chicago screws): {posts}; a drop of thread lock in each."
    yield folds, ""
    if got.dee:
        yield f"Lay the dee ring's bar in, {format_length(round(got.dee, 1), units)} from the fold.", ""
    if item.keeper is not None:
        yield f"Put the keeper in its place, {_KEEPER_PLACES[got.keeper_held]}.", ""
    if got.posts:
        yield sets, _FUMES if spec.fastener == "screw_post" else _STRIKE
    if got.stitches:
        yield sews, "Push needle and awl away from the hand."


def _off_machine(machine: Machine) -> Iterator[Step]:
    """Yield what is done with pieces as they come off a machine, and what it leaves to the hand."""
    yield "Take the pieces off the machine; check each against the cutting list.", ""
    if Operation.SCORE not in machine.operations:
        yield "Score or draw fold lines by the table, from both ends: the machine scores nothing.", ""
    if Operation.PUNCH in machine.operations:
        yield "Punch by hand what the cut sheet lists as marks only.", _STRIKE
    else:
        yield "Mark by the table and punch the holes that the machine leaves out: it marks none.", _STRIKE


def _calliper(thickness: float, units: Units) -> Step:
    told = format_length(round(thickness, 2), units)
    within = format_length(CALLIPER_WITHIN, units)
    text = (
        f"Measure the leather. This card assumes {told}; if yours is more than {within} off, make a new card."
    )
    return text, ""


def machine_steps(machine: Machine, units: Units) -> tuple[Step, ...]:
    """Return what is done at the machine, in order, each step with the machine's caution.

    Args:
        machine: laser or drag knife.
        units: of the lengths shown.
    """
    return tuple(_laser_steps() if machine.kind == "laser" else _knife_steps(machine, units))


def _laser_steps() -> Iterator[Step]:
    alone, smoke, eyes, shiny, manual = cautions("laser")
    yield "Read the laser's class off its plate; whoever runs it has been shown how.", manual
    yield "Enclosure shut, or eye protection on for everybody in the room.", eyes
    yield "Extraction on; the leather's tannage is what the job says.", smoke
    yield "Clear the bed; lay the hide as the picture shows, grain up, and hold it flat.", shiny
    yield "Cut a coupon in scrap and measure it before the first strap.", ""
    yield "Somebody stays and watches from the first cut to the last.", alone
    yield (
        "Fire watch: stay until bed, scraps and hide are cold, and look again half an hour later.",
        "Leather glows on unseen in the scraps; the local rules may ask for longer.",
    )


def _knife_steps(machine: Machine, units: Units) -> Iterator[Step]:
    moving, spindle, flat, manual = cautions("drag_knife")
    yield "Spindle off and locked: try it by hand before the knife goes in.", spindle
    if machine.blade is not None:
        thickest = format_length(machine.blade.max_thickness, units)
        yield f"Blade sharp and set; no leather over {thickest}.", manual
    yield "Lay the hide as the picture shows, grain up, and hold it flat.", flat
    yield "Cut a test in scrap and measure it before the first strap.", ""
    yield "Stay by the machine; stop it before you reach in.", moving


@dataclass(frozen=True)
class PunchNeed:
    """Holes of one size.

    Args:
        size: in words.
        what: what they are.
        count: how many, all copies together.
        tool: what makes them, in words.
    """

    size: str
    what: str
    count: int
    tool: str


def punches_for(order: Order, owned: Mapping[str, Punch], units: Units) -> tuple[PunchNeed, ...]:
    """Return the punches a belt or strap wants, smallest hole first.

    Args:
        order: with its pieces.
        owned: the user's own punches; where there are none, sizes alone are given.
        units: of the sizes.
    """
    found: dict[tuple[float, float, str], PunchNeed] = {}
    for piece in order.pieces:
        for place in hole_places(piece):
            what = place.what if piece.part.kind == "strap" else f"{place.what}, {piece.part.kind}"
            key = (round(place.wide, 3), round(place.long, 3), what)
            many = len(place.ys) * order.quantity
            before = found.get(key)
            tool = tool_for(place, owned, units)
            found[key] = PunchNeed(place.size(units), what, many + (before.count if before else 0), tool)
    return tuple(found[key] for key in sorted(found))


def tool_for(place: HolePlace, owned: Mapping[str, Punch], units: Units) -> str:
    """Return what makes a hole, in words: a punch of the user's own where one is near enough.

    Args:
        place: the hole.
        owned: the user's own punches.
        units: of the sizes.
    """
    if place.what == CUT_OUT:
        return "a knife, along the pattern's line"
    punches = tuple(owned.values())
    bought = f"round punch {format_length(usual_punch(place.wide), units)}"
    apart = format_length(round(place.long - place.wide, 1), units)
    if place.is_round:
        punch = snap_to_punch(place.wide, punches)
        if punch is not None:
            return f"your {punch.name}, {punch.size}"
        return "none of yours fits" if punches else bought
    punch = snap_to_slot_punch(place.long, place.wide, punches)
    if punch is not None:
        return f"your {punch.name}, {punch.size}"
    end = snap_to_punch(place.wide, punches)
    if punches and end is None:
        return "none of yours fits"
    round_one = f"your {end.name}" if end else bought
    return f"{round_one} at both ends, {apart} apart, and a knife between; or one slot punch"


def edge_words(thicknesses: Iterable[float]) -> str:
    """Return which edge beveler a belt wants, in words.

    Args:
        thicknesses: of the layers at each edge, mm.

    Example:
        >>> edge_words([3.6])
        'edge beveler no. 3'
        >>> edge_words([9.0])
        'edge beveler no. 8 or the largest you have'
        >>> edge_words([0.4])
        'no beveler: the leather is too thin'
    """
    numbers = sorted({n for n in (edge_beveler(t) for t in thicknesses) if n is not None})
    if not numbers:
        return "no beveler: the leather is too thin"
    largest = " or the largest you have" if numbers[-1] > LARGEST_BEVELER else ""
    return "edge beveler " + " and ".join(f"no. {number}" for number in numbers) + largest
