"""What stands in a handout before it is set: headings, facts, tables and steps, out of the draft."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from strapwright.core.findings import Severity
from strapwright.core.units import Units, format_length
from strapwright.drawing.belt.blank import girth_figure, girth_play
from strapwright.drawing.belt.fold_section import fold_picture
from strapwright.drawing.belt.strap_pictures import bevelled_edge, keeper_picture, stage, straight_edge
from strapwright.drawing.canvas import Canvas
from strapwright.drawing.measuring import MEASURED, body, buckle_picture, laid_belt
from strapwright.drawing.pattern_pieces import hole_places, orders_of
from strapwright.drawing.text import figure, length_by_width
from strapwright.job.grading import findings_of
from strapwright.parts.own_shape import CUT_OUT
from strapwright.rules.leather import Tannage, edge_beveler
from strapwright.rules.punches import usual_punch
from strapwright.write.card.blocks import Facts, Table, Words as Paragraphs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from strapwright.drawing.pattern_pieces import HolePlace, Order
    from strapwright.job.design import ByThickness
    from strapwright.job.draft import Draft
    from strapwright.job.strap_draft import BeltDraft
    from strapwright.write.handout.words import Words


@dataclass(frozen=True)
class Heading:
    """A heading of the document."""

    text: str


@dataclass(frozen=True)
class Pictured:
    """Words and a picture beside them.

    Args:
        words: a paragraph each.
        canvas: the picture.
    """

    words: tuple[str, ...]
    canvas: Canvas


@dataclass(frozen=True)
class Step:
    """One step of the work.

    Args:
        text: what to do.
        caution: what could hurt; empty for nothing new.
        canvas: its picture, if it has one.
    """

    text: str
    caution: str = ""
    canvas: Canvas | None = None


Item = Heading | Pictured | Step | Facts | Table | Paragraphs


@dataclass(frozen=True)
class Design:
    """A design to give away.

    Args:
        drafted: the draft of it alone, one belt a size.
        by_thickness: what leather a little off takes.
        words: the sentences.
        units: of the lengths shown.
    """

    drafted: Draft
    by_thickness: tuple[ByThickness, ...]
    words: Words
    units: Units

    @property
    def belts(self) -> tuple[BeltDraft, ...]:
        """Its sizes."""
        return self.drafted.belts

    @property
    def belt(self) -> BeltDraft:
        """Its first size, which all sizes are like but for their length."""
        return self.belts[0]

    @property
    def graded(self) -> bool:
        """Whether it has several sizes."""
        return len(self.belts) > 1

    @property
    def order(self) -> Order:
        """The pieces of its first size as the pattern shows them."""
        return orders_of(self.drafted, self.units)[0]

    @property
    def name(self) -> str:
        """What it is called."""
        return self.belt.run or self.belt.id

    @property
    def places(self) -> tuple[HolePlace, ...]:
        """Every hole of the strap, from the buckle end to the tip."""
        return hole_places(self.order.pieces[0])

    def length(self, mm: float) -> str:
        """Return a length with its unit, computed ones to a tenth of a mm as on the card."""
        return format_length(round(mm, 1) if self.units == "mm" else mm, self.units)

    def exact(self, mm: float) -> str:
        """Return a length that was chosen, with its unit, to a hundredth of a mm."""
        return format_length(round(mm, 2), self.units)

    def by(self, long: float, wide: float) -> str:
        """Return two lengths that were chosen, with their unit."""
        return length_by_width(round(long, 2), round(wide, 2), self.units)


def get(of: Design) -> Iterator[Item]:
    """Yield what to get."""
    belt, say = of.belt, of.words.say
    yield Heading(say("get.heading"))
    tannage = say(f"tannage.{belt.leather.tannage}")
    temper = say(f"temper.{belt.leather.temper or 'any'}")
    least, most = _window(of)
    rows = [
        (say("get.leather"), say("get.leather_is", least=least, most=most, tannage=tannage, temper=temper)),
        (say("get.feel"), say("get.feel_is")),
        (say("get.strap"), _strap_leather(of)),
    ]
    for piece in of.order.pieces[1:]:
        x0, y0, x1, y1 = piece.part.outline.bounding_box
        told = say(
            f"get.{piece.part.kind}_is",
            length=of.length(x1 - x0),
            width=of.exact(y1 - y0),
            thickness=of.exact(piece.part.thickness),
        )
        rows.append((say(f"get.{piece.part.kind}"), told))
    yield Facts(tuple(rows))
    yield from _buckle(of)
    if belt.posts:
        yield _fasteners(of)
    columns = (say("get.tool_head"), say("get.stand_head"))
    yield Table(say("get.tools"), columns, tuple(_tools(of)))


def _window(of: Design) -> tuple[str, str]:
    """Return between which thicknesses the leather must be."""
    found = of.by_thickness
    if not found:
        return (_thick(of.belt.leather.thickness),) * 2
    return _thick(found[0].least), _thick(found[-1].most)


def _thick(mm: float) -> str:
    """Return a leather's thickness in mm: in fractions of an inch a window would be rounded wider."""
    return format_length(round(mm, 2))


def _strap_leather(of: Design) -> str:
    blanks, width = [belt.blank_length for belt in of.belts], of.exact(of.belt.width)
    if not of.graded:
        return of.words.say("get.strap_is", length=of.length(blanks[0]), width=width)
    return of.words.say(
        "get.strap_sizes", least=of.length(min(blanks)), most=of.length(max(blanks)), width=width
    )


def _buckle(of: Design) -> Iterator[Item]:
    one, say, exact = of.belt.buckle, of.words.say, of.exact
    told = [f"{one.name}. " * bool(one.name) + say("get.buckle_is", units=say(f"units.{of.units}"))]
    rows = [
        (say("get.opening" if one.opening else "get.for_strap"), exact(one.opening or one.for_strap or 0.0))
    ]
    bar = f"⌀ {exact(one.bar_diameter)}" if one.bar_diameter else ""
    if one.bar_section:
        bar = of.by(*one.bar_section)
    rows += [(say("get.bar"), bar), (say("get.depth"), exact(one.frame_depth))]
    if one.rear_depth:
        rows.append((say("get.rear"), exact(one.rear_depth)))
    rows.append((say("get.prongs"), str(one.prongs)))
    if one.prongs:
        rows.append((say("get.prong"), of.by(one.prong_width, one.prong_thickness)))
    if one.prong_spacing:
        rows.append((say("get.spacing"), exact(one.prong_spacing)))
    told += [f"{name}: {words}" for name, words in rows]
    if (dee := of.belt.spec.dee) is not None:
        told.append(say("get.dee", width=exact(dee.width), bar=exact(dee.bar_diameter)))
    yield Pictured((say("get.buckle"), *told), buckle_picture(one, of.units))


def _fasteners(of: Design) -> Table:
    say, belt = of.words.say, of.belt
    count = str(len(belt.figures.end.fastener_ys))
    rows = []
    for one in of.by_thickness:
        took = (say(f"fasteners.{belt.spec.fastener}", size=size) for _, size in one.posts)
        rows.append((say("get.range", least=_thick(one.least), most=_thick(one.most)), *took))
    columns = [say("get.row_head", row=post.row, count=count) for post in belt.posts]
    note = say("get.outside")
    if belt.spec.fastener == "screw_post":
        note += " " + say("get.squeezed")
    return Table(say("get.fasteners"), (say("get.leather_head"), *columns), tuple(rows), note)


def _tools(of: Design) -> Iterator[tuple[str, str]]:
    say, belt = of.words.say, of.belt

    def tool(name: str, **figures: str) -> tuple[str, str]:
        return say(f"tools.{name}", **figures), say(f"tools.{name}_for")

    yield from map(tool, ("rule", "knife", "awl"))
    rounds: dict[float, dict[str, None]] = {}
    for place in of.places:
        if place.is_round:
            rounds.setdefault(usual_punch(place.wide), {})[say(f"holes.{place.what}")] = None
    for punch, what in sorted(rounds.items()):
        yield say("tools.round", size=of.exact(punch), what=", ".join(what)), say("tools.round_for")
    slots = {
        (place.size(of.units), place.what): place
        for place in of.places
        if not place.is_round and place.what != CUT_OUT
    }
    for (size, kind), place in slots.items():
        apart = of.exact(place.long - place.wide)
        stands = say("tools.slot_for", end=of.exact(usual_punch(place.wide)), apart=apart)
        yield say("tools.slot", size=size, what=say(f"holes.{kind}")), stands
    yield tool("mallet")
    number = edge_beveler(belt.thickness)
    if number is not None:
        yield tool("bevel", number=str(number))
    if belt.leather.tannage is Tannage.VEGETABLE:
        yield tool("burnisher")
    if belt.spec.fastener == "stitched" or belt.keeper is not None:
        yield tool("needle")
    if belt.spec.fastener == "screw_post":
        yield tool("driver")
    elif belt.posts:
        yield say("tools.setter", what=belt.posts[0].size), say("tools.setter_for")
    if belt.lining is not None:
        yield tool("glue")


def sizing(of: Design) -> Iterator[Item]:
    """Yield how to find one's size, and what to cut for it."""
    say, belt, units = of.words.say, of.belt, of.units

    def drawn(items: Sequence[object]) -> Canvas:
        return Canvas(*MEASURED, "", items, paper="none")  # type: ignore[arg-type]

    start = say("sizing.start_words")
    yield Heading(say("sizing.heading" if of.graded else "sizing.heading_one"))
    taped = "sizing.girth" if belt.spec.dee is None else "sizing.girth_collar"
    yield Pictured((say(taped),), drawn(body(say("sizing.girth_words"))))
    yield Pictured((say("sizing.worn"),), drawn(laid_belt("worn", start, say("sizing.worn_words"))))
    yield Pictured((say("sizing.size"),), drawn(laid_belt("middle", start, say("sizing.size_words"))))

    def bare(*lengths: float) -> tuple[str, ...]:
        return tuple(figure(mm, units) for mm in lengths)

    def heads(*names: str) -> tuple[str, ...]:
        return tuple(say(f"sizing.{name}_head") for name in names)

    rows, cuts = [], []
    for one in of.belts:
        got, size = one.figures, one.run_size if of.graded else say("sizing.one")
        least, most = (girth_figure(girth, units) for girth in sorted(got.girths))
        fits = say("get.range", least=least, most=most)
        girth = girth_figure(got.girth_in_use, units)
        rows.append((size, girth, fits, *bare(got.worn_to_hole, got.belt_size)))
        ends = got.holes.xs[0], got.hole_in_use, got.holes.xs[-1], one.strap.span
        cuts.append((size, *bare(one.blank_length, *ends)))
    notes = [say("sizing.play", play=girth_play(units))]
    notes.append(say("sizing.between" if of.graded else "sizing.one_only"))
    if of.graded and belt.spec.size.trousers is not None:
        notes.append(say("sizing.trousers"))
    columns = heads("size", "girth", "fits", "worn", "sold")
    yield Table(say("sizing.table", units=units), columns, tuple(rows), " ".join(notes))
    columns = heads("size", "blank", "first", "use", "last", "tip")
    yield Table(say("sizing.cut_table", units=units), columns, tuple(cuts))
    columns = heads("hole", "what", "from", "along", "across", "hole_size")
    told = [say("sizing.holes_note")] if belt.posts else []
    if units == "in":
        told.append(say("sizing.rounded"))
    title = "sizing.holes" if of.graded else "sizing.holes_one"
    holes = tuple(_hole_row(of, place) for place in of.places)
    yield Table(say(title, units=units), columns, holes, " ".join(told))


def _hole_row(of: Design, place: HolePlace) -> tuple[str, ...]:
    """Return a hole's row: adjusting holes from the tip and all others from the fold, alike in all sizes."""
    say, from_tip = of.words.say, place.what == "adjusting hole"
    name = place.name
    if name.endswith(" in use"):
        name = say("sizing.in_use", hole=name.removesuffix(" in use"))
    name = of.words.get(f"holes.{name}", name)
    along = figure(place.from_tip if from_tip else place.from_datum, of.units).replace("-", "−")
    across = place.across(of.units)
    across = say("sizing.middle") if across == "middle" else across
    begin = say("sizing.from_tip" if from_tip else "sizing.from_fold")
    return name, say(f"holes.{place.what}"), begin, along, across, place.size(of.units)


def steps(of: Design) -> Iterator[Item]:
    """Yield the steps in their order, each caution whole where it is first acted on, then in short."""
    yield Heading(of.words.say("steps.heading"))
    seen: set[str] = set()
    for text, caution, canvas in _steps(of):
        told = f"cautions.{caution}{'_again' * (caution in seen)}"
        seen.add(caution)
        yield Step(text, of.words.say(told) if caution else "", canvas)


_Drawn = tuple[str, Literal["", "knife", "strike", "fumes", "needle"], Canvas | None]


def _steps(of: Design) -> Iterator[_Drawn]:
    say, belt = of.words.say, of.belt
    least, most = _window(of)
    kind = "sizes" if of.graded else "one"
    yield say("steps.scrap"), "", None
    yield say("steps.measure", least=least, most=most), "", None
    yield say("steps.straighten"), "knife", straight_edge()
    width, blank = of.exact(belt.width), of.length(belt.blank_length)
    yield say(f"steps.cut_{kind}", width=width, blank=blank), "knife", stage(belt)
    if belt.lining is not None and not of.graded:
        lining = next(piece.part for piece in of.order.pieces if piece.part.kind == "lining")
        low, bottom, high, top = lining.outline.bounding_box
        length, width = of.length(high - low), of.exact(top - bottom)
        yield say("steps.lining", length=length, width=width), "knife", None
    names = say("ends.buckle"), say("ends.tip")
    yield say("steps.ends"), "", stage(belt, names=names)
    yield say("steps.mark"), "needle", stage(belt, holes="marked", slots="marked")
    yield say(f"steps.check_{kind}", in_use=of.length(belt.figures.hole_in_use)), "", None
    yield _punch(of), "strike", stage(belt, holes="made", slots="marked")
    slot = next((place for place in of.places if place.what == "prong slot"), None)
    if slot is not None:
        told = say("steps.slot", count=str(len(slot.ys)), size=slot.size(of.units))
        yield told, "strike", stage(belt, holes="made", slots="made")
    drawn = [place.size(of.units) for place in of.places if place.what == CUT_OUT]
    if drawn:
        yield say("steps.drawn", openings=", ".join(drawn)), "knife", stage(belt, holes="made", slots="made")
    yield say("steps.tip"), "knife", stage(belt, cut=True, holes="made", slots="made")
    yield from _edges(of)
    yield from _keeper_strip(of)
    takes = belt.leather.tannage is Tannage.VEGETABLE
    yield say("steps.burnish" if takes else "steps.no_burnish"), "fumes", None
    yield from _keeper(of)
    yield from _folding(of)
    if of.graded:
        yield say("steps.try_sizes"), "", None
    else:
        girth = f"{girth_figure(belt.figures.girth_in_use, of.units)} {of.units}"
        yield say("steps.try_one", girth=girth), "", None


def _punch(of: Design) -> str:
    counts: dict[tuple[str, str], int] = {}
    for place in of.places:
        if place.what not in ("prong slot", CUT_OUT):
            punch = usual_punch(place.wide) if place.is_round else place.wide
            key = place.size(of.units), of.exact(punch)
            counts[key] = counts.get(key, 0) + len(place.ys)
    told = [
        of.words.say("steps.hole", count=str(count), size=size, punch=punch)
        for (size, punch), count in counts.items()
    ]
    return of.words.say("steps.punch", holes=", ".join(told))


def _edges(of: Design) -> Iterator[_Drawn]:
    """Yield what is done to the cut strap before it is folded."""
    say, belt, layers = of.words.say, of.belt, of.belt.figures.layers
    if layers.fold < layers.outer:
        yield say("steps.skive", thickness=of.exact(layers.fold)), "knife", None
    if belt.lining is not None:
        yield say("steps.glue_lining", start=of.length(belt.lining.start)), "fumes", None
    if belt.strap.crease:
        creased = stage(belt, cut=True, holes="made", slots="made", lines=True)
        yield say("steps.crease", distance=of.exact(belt.strap.crease)), "", creased
    number = edge_beveler(belt.thickness)
    if number is None:
        yield say("steps.no_bevel"), "", None
    else:
        yield say("steps.bevel", number=str(number)), "knife", bevelled_edge(belt)


def _keeper_strip(of: Design) -> Iterator[_Drawn]:
    """Yield how the keeper's strip is cut, while the strap's edges wait for their finish."""
    say, keeper, got = of.words.say, of.belt.keeper, of.belt.figures.keeper
    if keeper is None or got is None:
        return
    x0, y0, x1, y1 = keeper.outline.bounding_box
    cut = say("steps.keeper_cut", length=of.length(x1 - x0), width=of.exact(y1 - y0))
    yield cut, "knife", keeper_picture(keeper)
    if keeper.spare:
        yield say("steps.keeper_spare", spare=of.exact(keeper.spare)), "knife", None
    if got.skive:
        yield say("steps.keeper_skive", lap=of.exact(keeper.lap)), "knife", None


def _keeper(of: Design) -> Iterator[_Drawn]:
    """Yield how the keeper is closed and tried."""
    say, keeper = of.words.say, of.belt.keeper
    if keeper is None:
        return
    yield say(f"steps.keeper_{keeper.join}", lap=of.exact(keeper.lap)), "needle", None
    held = "slides" if of.belt.figures.end.keeper_held == "slides" else "held"
    yield say(f"steps.keeper_try_{held}"), "", None


def _folding(of: Design) -> Iterator[_Drawn]:
    say, belt, end = of.words.say, of.belt, of.belt.figures.end
    held, put = end.keeper_held, belt.keeper is None
    if end.dee:  # a keeper nearer the buckle cannot pass the ring any more
        kind = "dee_and_keeper" if not put and held == "between" else "dee"
        yield say(f"steps.{kind}", place=of.length(end.dee)), "", None
    fold = say(f"steps.fold_{('no_prong', 'one_prong', 'two_prongs')[len(end.slot_ys)]}")
    if belt.leather.tannage is Tannage.VEGETABLE:
        fold += " " + say("steps.damp")
    yield fold, "strike", fold_picture(belt)
    # A keeper between the rows goes in after the first of them; any other before all of them.
    keeper = say(f"steps.keeper_{held}") if not put else ""
    if held == "between" and not end.dee:
        keeper += " " + say("steps.keeper_over_tip")
    between = held == "between" and len(belt.posts) > 1
    for place, post in enumerate(belt.posts):
        if not put and (place == 1 or not between):
            yield keeper, "", fold_picture(belt, rows=place, keeper=True)
            put = True
        row = say(
            f"steps.{belt.spec.fastener}", row=post.row, count=str(len(end.fastener_ys)), size=post.size
        )
        if place == 0:
            row += " " + say("steps.nearest")
        shown = fold_picture(belt, rows=place + 1, keeper=put and belt.keeper is not None)
        yield row, "fumes" if belt.spec.fastener == "screw_post" else "strike", shown
    if not put:
        yield keeper, "", fold_picture(belt, keeper=True)
    if end.stitches:
        sewn = fold_picture(belt, rows=len(end.stitches), keeper=belt.keeper is not None)
        yield say("steps.sew"), "needle", sewn


def watch(of: Design) -> Iterator[Item]:
    """Yield what was found in the design that the person who makes it should know."""
    found = [one.in_units(of.units) for one in findings_of(of.belts) if one.severity is Severity.CAUTION]
    if found:
        lines = tuple(f"{one.what} {one.do}" for one in found)
        yield Paragraphs(of.words.say("document.watch"), lines, grave=True)


def scrap(of: Design) -> Iterator[Item]:
    """Yield what to try on scrap before the leather is cut."""
    say, belt, end = of.words.say, of.belt, of.belt.figures.end
    yield Heading(say("scrap.heading"))
    if belt.posts:
        yield Step(say("scrap.ends"))
        yield Step(say("scrap.fasteners"))
    if end.stitches:
        yield Step(say("scrap.stitches"))
    yield Step(say("scrap.width", width=of.exact(belt.width)))
    hole = next(place for place in of.places if place.what == "adjusting hole")
    yield Step(say("scrap.hole", size=hole.size(of.units)))
    if belt.keeper is not None:
        x0, y0, x1, y1 = belt.keeper.outline.bounding_box
        yield Step(say("scrap.keeper", length=of.length(x1 - x0), width=of.exact(y1 - y0)))
    if not belt.buckle.seat_is_measured:
        yield Step(say("scrap.seat", seat=of.exact(belt.buckle.seat)))
    yield Step(say("scrap.finish"))
