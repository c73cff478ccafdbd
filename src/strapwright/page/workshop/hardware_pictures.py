"""Pictures of hardware: to scale as it lies in the drawers, and a buckle under the calliper."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final

from strapwright.drawing.canvas import Canvas, Circle, Line, Text, polygon
from strapwright.drawing.measuring import buckle_items, rounded
from strapwright.drawing.svg import element
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.catalogue.hardware import LeatherStock, Rivet, ScrewPost, Snap
from strapwright.rules.punches import Punch

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Item, Point

BUCKLE_SCALE: Final = 1.3
"""Of buckles, px a mm."""

SMALL_SCALE: Final = 3.0
"""Of all that is small: fasteners, punches' holes, a leather's thickness; px a mm."""

_ROOM: Final = 4.0

_MOST: Final = 150.0
"""Nothing is drawn larger than this, px: a punch may be 100 mm long."""

WIDTH, HEIGHT = 300.0, 170.0
"""Of every picture, px."""

_METAL: Final = "sample-metal"

_AIR: Final = "gap"

_TIP, _ROOT = 3.0, 9.0
"""How broad a jaw is at its tip and at the beam, px."""


@cache
def calliper_pictures() -> dict[str, str]:
    """Return a picture for each question about a buckle, by the question's key, as SVG elements."""
    drawn: dict[str, list[Item]] = {
        "opening": [
            *_frame(60.0, 78.0, 92.0, 104.0),
            *_jaws(26.0, 130.0, 76.0, 190.0, inside=True, upright=True),
            *_reading(26.0, 130.0, 206.0, "opening", upright=True),
            _note("inside jaws, close to the bar"),
        ],
        "for_strap": [
            *_frame(80.0, 78.0, 70.0, 86.0, prongs=0)[:2],
            rounded("sample", 8.0, 38.0, 204.0, 118.0, 0.0),
            rounded(_METAL, 74.0, 23.0, 86.0, 133.0, 3.0),
            *_reading(38.0, 118.0, 214.0, "for_strap", upright=True),
            _note("the width on the card or in the list"),
        ],
        "bar_kind": [
            Circle(80.0, 70.0, 34.0, _METAL),
            rounded(_METAL, 165.0, 52.0, 245.0, 88.0, 3.0),
            Text("round", 80.0, 134.0, 14.0, "middle", bold=True),
            Text("flat", 205.0, 134.0, 14.0, "middle", bold=True),
            _note("the bar, cut through"),
        ],
        "bar_diameter": [
            Circle(130.0, 88.0, 36.0, _METAL),
            *_jaws(94.0, 166.0, 98.0, 22.0),
            *_reading(94.0, 166.0, 148.0, "bar_diameter"),
            _note("the bar, cut through"),
        ],
        "bar_width": [
            rounded(_METAL, 78.0, 74.0, 188.0, 112.0, 3.0),
            *_jaws(78.0, 188.0, 94.0, 22.0),
            *_reading(78.0, 188.0, 142.0, "bar_width"),
            _note("the bar, cut through: its wide way"),
        ],
        "bar_height": [
            rounded(_METAL, 40.0, 58.0, 150.0, 98.0, 3.0),
            *_jaws(58.0, 98.0, 120.0, 184.0, upright=True),
            *_reading(58.0, 98.0, 200.0, "bar_height", upright=True),
            _note("the bar, cut through: its thin way"),
        ],
        "bar": [
            *_frame(34.0, 70.0, 66.0, 72.0, prongs=1),
            *_frame(196.0, 70.0, 44.0, 72.0, rear=38.0, prongs=1),
            Text("heel", 72.0, 140.0, 14.0, "middle", bold=True),
            Text("centre", 198.0, 140.0, 14.0, "middle", bold=True),
            _note("from above"),
        ],
        "frame_depth": [
            *_frame(70.0, 92.0, 110.0, 56.0),
            Line(70.0, 36.0, 70.0, 92.0, "thin"),
            *_jaws(76.0, 180.0, 108.0, 142.0, inside=True),
            *_reading(70.0, 180.0, 40.0, "frame_depth"),
            _note("between the bars, then add half the bar"),
        ],
        "rear_depth": [
            *_frame(140.0, 92.0, 80.0, 56.0, rear=90.0),
            Line(140.0, 36.0, 140.0, 92.0, "thin"),
            *_jaws(50.0, 134.0, 108.0, 142.0, inside=True),
            *_reading(50.0, 140.0, 40.0, "rear_depth"),
            _note("between the bars, then add half the middle one"),
        ],
        "prongs": _prongs(),
        "prong_width": [
            rounded(_METAL, 34.0, 16.0, 54.0, 140.0, 4.0),
            rounded(_METAL, 26.0, 54.0, 62.0, 102.0, 8.0),
            rounded(_METAL, 60.0, 66.0, 172.0, 90.0, 8.0),
            *_jaws(66.0, 90.0, 116.0, 180.0, upright=True),
            *_reading(66.0, 90.0, 196.0, "prong_width", upright=True),
            _note("from above, where it sits in the hole"),
        ],
        "prong_thickness": [
            Circle(78.0, 84.0, 42.0, _METAL),
            Circle(78.0, 84.0, 25.0, _AIR),
            Circle(78.0, 84.0, 23.0, _METAL),
            rounded(_METAL, 78.0, 42.0, 178.0, 59.0, 5.0),
            Text("bar", 78.0, 88.5, 13.0, "middle"),
            *_jaws(42.0, 59.0, 128.0, 200.0, upright=True),
            *_reading(42.0, 59.0, 216.0, "prong_thickness", upright=True)[:-1],
            Text("prong", 222.0, 82.0, 13.0, bold=True),
            Text("thickness", 212.0, 98.0, 13.0, bold=True),
            _note("from the side: the metal, not the whole eye"),
        ],
        "prong_spacing": _prong_spacing(),
        "hook_depth": [
            rounded(_METAL, 60.0, 58.0, 232.0, 70.0, 3.0),
            Circle(60.0, 72.0, 14.0, _METAL),
            rounded(_METAL, 176.0, 66.0, 190.0, 104.0, 2.0),
            rounded(_METAL, 152.0, 94.0, 190.0, 104.0, 3.0),
            Line(60.0, 34.0, 60.0, 72.0, "thin"),
            Line(176.0, 34.0, 176.0, 80.0, "thin"),
            *_jaws(74.0, 176.0, 84.0, 136.0, inside=True),
            *_reading(60.0, 176.0, 38.0, "hook_depth"),
            Text("bar", 22.0, 76.0, 13.0),
            _note("bar to hook, then add half the bar"),
        ],
        "hole_seat": [
            rounded("sample", 96.0, 84.0, 158.0, 100.0, 0.0),
            rounded("sample", 176.0, 84.0, 246.0, 100.0, 0.0),
            Circle(50.0, 92.0, 15.0, _METAL),
            rounded(_METAL, 158.0, 62.0, 169.0, 124.0, 4.0),
            Line(50.0, 36.0, 50.0, 92.0, "thin"),
            Line(158.0, 36.0, 158.0, 92.0, "thin"),
            *_reading(50.0, 158.0, 40.0, "hole_seat"),
            Line(250.0, 92.0, 266.0, 92.0, "mark"),
            polygon("head", (274.0, 92.0), (265.0, 88.0), (265.0, 96.0)),
            Text("pull", 264.0, 80.0, 13.0, "middle"),
            Text("bar", 50.0, 126.0, 13.0, "middle"),
            Text("prong or hook", 164.0, 142.0, 13.0, "middle"),
            _note("from the side, with a holed offcut"),
        ],
    }
    drawn["given"] = drawn["opening"]
    return {
        key: element(Canvas(WIDTH, HEIGHT, f"Where to measure: {_words(key)}", items, paper="none"))
        for key, items in drawn.items()
    }


def _words(key: str) -> str:
    return key.replace("_", " ")


def _placed(upright: bool, *points: Point) -> tuple[Point, ...]:
    """Return points of a picture; where upright, their two coordinates change places."""
    return tuple((y, x) if upright else (x, y) for x, y in points)


def _jaws(
    low: float, high: float, tip: float, beam: float, *, inside: bool = False, upright: bool = False
) -> list[Item]:
    """Draw a calliper that reads from low to high.

    Args:
        low: where the first jaw touches, along what is measured, px.
        high: where the second does.
        tip: how far across the jaws' tips reach, px.
        beam: where the beam lies across, px.
        inside: whether the jaws stand between the two, and press outwards.
        upright: whether it measures from top to bottom.
    """
    way, out = (1 if beam > tip else -1), (1 if inside else -1)
    shapes = [
        [(at, tip), (at + side * out * _TIP, tip), (at + side * out * _ROOT, beam), (at, beam)]
        for at, side in ((low, 1), (high, -1))
    ]
    ends = low - 14.0, high + 26.0
    shapes.append([(ends[0], beam), (ends[1], beam), (ends[1], beam + 7 * way), (ends[0], beam + 7 * way)])
    return [polygon("jaw", *_placed(upright, *corners)) for corners in shapes]


def _reading(low: float, high: float, at: float, key: str, *, upright: bool = False) -> list[Item]:
    """Draw the length that is asked for: a line with a head at either end, and its name."""
    ends = _placed(upright, (low, at), (high, at))
    items: list[Item] = [Line(*ends[0], *ends[1], "mark")]
    for x, way in ((low, 1), (high, -1)):
        head = _placed(upright, (x, at), (x + way * 7.0, at - 3.0), (x + way * 7.0, at + 3.0))
        items.append(polygon("head", *head))
    middle = (low + high) / 2
    where = (at + 8.0, middle + 4.5) if upright else (middle, at - 6.0)
    return [*items, Text(_words(key), *where, 13.0, "start" if upright else "middle", bold=True)]


def _note(words: str) -> Text:
    return Text(words, WIDTH / 2, HEIGHT - 6.0, 12.5, "middle")


def _frame(
    x: float, y: float, wide: float, high: float, *, thick: float = 12.0, rear: float = 0.0, prongs: int = 1
) -> list[Item]:
    """Draw a buckle from above: its bar at x, the front to the right.

    Args:
        x: middle of the bar, px.
        y: middle of the frame, px.
        wide: from the bar's middle to the front's inner face, px.
        high: inside, along the bar, px.
        thick: every bar, px.
        rear: from the bar's middle to the rear bar's inner face; 0: the bar is at the heel.
        prongs: how many; 0 draws a hook.
    """
    half, top, low = thick / 2, y - high / 2, y + high / 2
    left = x - rear - thick if rear else x - half
    items: list[Item] = [
        rounded(_METAL, left, top - thick, x + wide + thick, low + thick, 9.0),
        rounded(_AIR, x + half, top, x + wide, low, 3.0),
    ]
    if rear:
        items.append(rounded(_AIR, x - rear, top, x - half, low, 3.0))
    for way in {0: (), 1: (0.0,), 2: (-0.24 * high, 0.24 * high)}[prongs]:
        items += [
            rounded(_METAL, x - half - 4, y + way - 9, x + half + 4, y + way + 9, 4.0),
            rounded(_METAL, x + half, y + way - 5, x + wide + thick - 2, y + way + 5, 3.0),
        ]
    if not prongs:
        items.append(Circle(x + 0.62 * wide, y, 6.0, _METAL))
    return items


def _prongs() -> list[Item]:
    items: list[Item] = []
    for x, count, words in ((24.0, 1, "1"), (116.0, 2, "2"), (208.0, 0, "0: a hook")):
        items += _frame(x, 68.0, 46.0, 64.0, thick=9.0, prongs=count)
        items.append(Text(words, x + 24.0, 138.0, 14.0, "middle", bold=True))
    return [*items, _note("from above")]


def _prong_spacing() -> list[Item]:
    frame = _frame(60.0, 80.0, 92.0, 104.0, prongs=2)
    middle, half = 0.24 * 104.0, 5.0
    low, high = 80.0 - middle, 80.0 + middle
    return [
        *frame,
        *_jaws(low - half, high + half, 112.0, 196.0, upright=True),
        *_reading(low, high, 214.0, "prong_spacing", upright=True)[:-1],
        Text("prong", 222.0, 78.0, 13.0, bold=True),
        Text("spacing", 222.0, 94.0, 13.0, bold=True),
        _note("over both, less one prong's width"),
    ]


def picture_of(entry: object, title: str, *, large: bool = False) -> str:
    """Return an entry of the catalogue drawn to the scale of its kind, as an SVG element.

    Args:
        entry: a buckle, fastener, leather or punch.
        title: what it is called.
        large: whether it is drawn twice that large, where it stands alone.
    """
    match entry:
        case Buckle():
            items, width, height = buckle_items(entry, BUCKLE_SCALE * (2 if large else 1))
        case ScrewPost():
            items, width, height = _post(entry, SMALL_SCALE * (2 if large else 1))
        case Rivet() | Snap():
            items, width, height = _set(entry, SMALL_SCALE * (2 if large else 1))
        case LeatherStock():
            items, width, height = _leather(entry, SMALL_SCALE * (2 if large else 1))
        case Punch():
            items, width, height = _punch(entry, SMALL_SCALE * (2 if large else 1))
        case _:
            raise TypeError(entry)
    return element(Canvas(width, height, title, items, paper="none"))


def scale_bar(scale: float, mm: float) -> str:
    """Return a bar of some millimetres at a scale, as an SVG element.

    Args:
        scale: px a mm.
        mm: how long it is.
    """
    end = 2.0 + scale * mm
    items: list[Item] = [Line(2.0, 8.0, end, 8.0, "mark")]
    items += [Line(x, 3.0, x, 13.0, "mark") for x in (2.0, end)]
    items.append(Text(f"{mm:g} mm", end + 6.0, 12.5, 12.0))
    return element(Canvas(end + 52.0, 16.0, f"{mm:g} mm at the scale of the drawings", items, paper="none"))


def _post(one: ScrewPost, scale: float) -> tuple[list[Item], float, float]:
    head, barrel, long = (scale * mm for mm in (one.head_diameter, one.barrel_diameter, one.length))
    middle, top, plate = _ROOM + head / 2, _ROOM + 5.0, 5.0
    return (
        [
            rounded(_METAL, middle - barrel / 2, top, middle + barrel / 2, top + long, 0.0),
            rounded(_METAL, middle - head / 2, _ROOM, middle + head / 2, top, 2.0),
            rounded(_METAL, middle - head / 2, top + long, middle + head / 2, top + long + plate, 2.0),
            Line(middle - barrel / 2, top + long / 2, middle + barrel / 2, top + long / 2, "mark"),
        ],
        head + 2 * _ROOM,
        top + long + plate + _ROOM,
    )


def _set(one: Rivet | Snap, scale: float) -> tuple[list[Item], float, float]:
    """Draw what is set by a blow: its caps, and between them the most leather it holds."""
    cap, stack = scale * one.cap_diameter, scale * one.most_stack
    post = scale * (one.hole if isinstance(one, Rivet) else one.stud_hole)
    middle, top, plate = _ROOM + cap / 2, _ROOM + 5.0, 5.0
    foot = cap if isinstance(one, Rivet) else 0.75 * cap
    return (
        [
            rounded("sample", _ROOM, top, _ROOM + cap, top + stack, 0.0),
            rounded(_METAL, middle - post / 2, top, middle + post / 2, top + stack, 0.0),
            rounded(_METAL, middle - cap / 2, _ROOM, middle + cap / 2, top, 5.0),
            rounded(_METAL, middle - foot / 2, top + stack, middle + foot / 2, top + stack + plate, 5.0),
        ],
        cap + 2 * _ROOM,
        top + stack + plate + _ROOM,
    )


def _leather(one: LeatherStock, scale: float) -> tuple[list[Item], float, float]:
    """Draw a leather's edge: its least thickness, and dashed how thick it may come."""
    least, most = (scale * mm for mm in one.thickness)
    return (
        [
            rounded("sample", _ROOM, _ROOM + most - least, _ROOM + 80.0, _ROOM + most, 0.0),
            Line(_ROOM, _ROOM, _ROOM + 80.0, _ROOM, "fold"),
        ],
        80.0 + 2 * _ROOM,
        most + 2 * _ROOM,
    )


def _punch(one: Punch, scale: float) -> tuple[list[Item], float, float]:
    long, wide = (scale * mm for mm in (one.length, one.width))
    shrunk = min(1.0, _MOST / max(long, wide))
    long, wide = shrunk * long, shrunk * wide
    round_end = 0.0 if one.kind == "slot" and wide < 4 else wide / 2
    hole = rounded(_AIR, _ROOM, _ROOM, _ROOM + long, _ROOM + wide, round_end)
    if one.kind == "round":
        return (
            [Circle(_ROOM + long / 2, _ROOM + long / 2, long / 2, _AIR)],
            long + 2 * _ROOM,
            long + 2 * _ROOM,
        )
    return [hole], long + 2 * _ROOM, wide + 2 * _ROOM
