"""The words of the page: labels and groups of fields; messages with fields named for keys and options."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from strapwright.core.findings import Finding
    from strapwright.core.units import Units

WAY: Final = "way"
"""Name of the choice between keys of which just one may stand."""

WAYS: Final[dict[str, tuple[tuple[str, str], ...]]] = {
    "size": (
        ("girth", "Tape round the body"),
        ("worn_to_hole", "A belt that fits"),
        ("belt_size", "Belt size as sold"),
        ("trousers", "Trouser size"),
        ("sizes", "A run of sizes"),
    ),
    "buckle": (("name", "catalogue"), ("measured", "this belt")),
    "ends": (
        ("tip", "Cut to a tip"),
        ("bar_diameter", "Round a ring or hook"),
        ("bar_section", "Round a flat bar"),
    ),
}
"""Where one of several ways is chosen, and what each is called."""

OPTIONAL: Final = {
    "belt": ("keeper", "lining", "dee", "crease", "marks", "leather", "stitch"),
    "strap": ("holes", "leather", "stitch"),
}
"""Tables that may be left out as a whole, each with a tick."""

_TURNED: Final = "bar_diameter|bar_section"

WHEN: Final = {
    "sizes": ("size.way", "sizes"),
    "tip.nose_radius": ("tip.shape", "english_point|spear"),
    "tip.length": ("tip.shape", "english_point|spear|bridle_point"),
    "tip.corner_radius": ("tip.shape", "square|bridle_point"),
    "tip.shoulder_radius": ("tip.shape", "spear"),
    "holes.length": ("holes.shape", "oval"),
    "fastener_holes.spacing_along": ("fastener_holes.rows", "2"),
    "keeper.lap": ("keeper.join", "lap"),
    "keeper.skive": ("keeper.join", "lap"),
    "buckle.rear_depth": ("buckle.bar", "centre"),
    "buckle.prong_spacing": ("buckle.prongs", "2"),
    "buckle.hook_depth": ("buckle.prongs", "0"),
    "stitch.given": ("fastener", "stitched"),
    "size.old": ("size.way", "worn_to_hole"),
    "fastener_holes": ("fastener", "screw_post|rivet|snap"),
    "ends.depth": ("way", _TURNED),
    "ends.turn_back": ("way", _TURNED),
    "ends.price": ("way", _TURNED),
}
"""Fields and tables that belong to a value of another field; several such values stand with ``|`` between."""

LEFT_OUT: Final = {
    "hole_in_use",
    "buckle.name",
    "buckle.price",
    "tip.sketch",
    "tip.drawing",
    "drawing",
    "hole",
    "ornament",
    "keeper.turn_step",
    "sketch",
    "turn_step",
}
"""Keys that have no field: runs of sizes, prices, and what only a file says."""

Groups = tuple[tuple[str, tuple[str, ...]], ...]
"""Titles, and the keys that stand below each."""

_WHO: Final = ("Who it is for", ("id", "name", "quantity", "due", "price", "use"))

BELT: Final[Groups] = (
    _WHO,
    ("Size", ("size", "sizes")),
    ("Buckle", ("buckle",)),
    ("Tip", ("tip",)),
    ("Holes", ("holes",)),
    ("Fasteners", ("fastener", "fastener_holes", "stitch", "turn_back", "corner_radius")),
    ("Keeper", ("keeper",)),
    ("Leather of this belt", ("leather", "fold_thickness", "tip_thickness", "lining")),
    ("Dee, crease and marks", ("dee", "crease", "marks")),
)
"""What stands together of a belt, in the order of the work."""

_STRAP_LEATHER: Final = ("Leather of this strap", ("leather", "fold_thickness", "face_up"))

STRAP: Final[Groups] = (
    _WHO,
    ("Size", ("width", "length")),
    ("First end", ("ends.0",)),
    ("Second end", ("ends.1",)),
    ("Holes", ("holes",)),
    ("Fasteners of a turned end", ("fastener", "fastener_holes", "stitch", "corner_radius")),
    _STRAP_LEATHER,
)
"""The same of another strap."""

SKETCH: Final[Groups] = (_WHO, ("Leather of this strap", ("leather", "face_up")))
"""The same of a strap that a program of one's own draws."""

ABOUT: Final[Groups] = (
    ("The job", ("job",)),
    ("Its leather", ("leather",)),
    ("Kept clear on a hide", ("layout",)),
)
"""The same of a job itself."""

LABELS: Final = {
    "job.name": "Called",
    "leather.of": "As in the catalogue",
    "layout.gap": "Between parts",
    "layout.margin": "From edge and flaws",
    "id": "Short name",
    "name": "Who or what for",
    "quantity": "How many",
    "use": "Used for",
    "size.girth": "Waist or girth",
    "size.worn_to_hole": "Fold to worn hole",
    "size.trousers": "Trouser size, in",
    "size.hole_in_use": "Hole that fits",
    "size.old.thickness": "Old belt: thickness",
    "size.old.bar_diameter": "Old belt: bar",
    "size.old.frame_depth": "Old belt: frame depth",
    "size.old.hole_seat": "Old belt: hole seat",
    "holes.given": "It has holes",
    "holes.count": "How many",
    "holes.spacing": "Hole to hole",
    "holes.last_to_tip": "Last hole to tip",
    "holes.first": "Tip to the nearest hole",
    "holes.end": "Measured from end",
    "fastener": "Held by",
    "fastener_holes.across": "Holes across",
    "fastener_holes.diameter": "Hole diameter",
    "fastener_holes.spacing_along": "Row to row",
    "fastener_holes.spacing_across": "Across",
    "fastener_holes.stacks": "Leather under the heads",
    "keeper.cut_long": "Cut longer by",
    "keeper.held": "Kept in place",
    "keeper.guides": "Joined by",
    "marks.text": "Your mark",
    "marks.number": "Short name of the belt",
    "turn_back": "Turn-back",
    "leather.given": "Unlike the job's leather",
    "leather.price_per_m2": "Price of a m²",
    "lining.price_per_m2": "Price of a m²",
    "lining.given": "Lined",
    "dee.given": "A dee ring",
    "dee.bar_diameter": "Its bar",
    "crease.given": "A crease line",
    "crease.distance": "From the edge",
    "marks.given": "Marks on the turn-back",
    "stitch.given": "Stitched otherwise than usual",
    "stitch.iron": "Pricking iron no.",
    "stitch.inset": "From the edge",
    "keeper.given": "A keeper",
    "keeper.skive": "Ends skived over the lap",
    "keeper.width": "Width along the belt",
    "size.way": "Sized by",
    "buckle.way": "Kept in",
    "ends.way": "Made how",
    "ends.bar_diameter": "Thickness of the bar",
    "ends.bar_section": "Bar, wide and high",
    "ends.depth": "Bar to the far side",
    "ends.tip.shape": "Tip",
    "ends.price": "Price of the ring or hook",
    "face_up": "Drawn from the",
}
"""Labels where the key alone says too little."""

WORDS: Final = {
    "english_point": "English point",
    "screw_post": "screw posts (Chicago screws)",
    "rivet": "rivets",
    "snap": "press studs",
    "row_a": "under row A",
    "row_b": "under row B",
    "between": "between the rows",
    "load_carrying": "carrying loads",
    "butt": "butted",
    "lap": "lapped",
    "stitch": "stitches",
    "staple": "a staple",
}
"""Words of choices, where the key's own are not plain."""

FONT_WORDS: Final = r"Put a \1 into the shop's folder “fonts”, then choose it in “Font”."
"""What to do about letters that a font lacks."""

_IN_PAGE_WORDS: Final = (
    (
        r"\s+the\s+strapwright\s+cut\s+command\s+of\s+these\s+files.*?what\s+the\s+machine\s+showed\.",
        r"\n     under “Write one window again” type what the machine showed.",
    ),
    (r"Write backbone = .*? along the back;", "Say where it is in Leather, on the hide's own page;"),
    (r' "X,Y=X,Y"', ""),
    (r"\b(with|pass) --touch\b", "under “Where the hide lies on the bed”"),
    (
        r"strapwright kerf coupon .*? --out coupon, or give",
        "“Make a test piece” on the machine's own page; or give",
    ),
    (r"Then: strapwright kerf record\b[^\n]*", "Then record here what you measured."),
    (
        r"compiling the search, once for this machine",
        "getting the search ready, which happens once on a machine and usually takes 10 to 40 seconds",
    ),
    (
        r"compiling the search; it cannot be kept, since (.*?) \(NUMBA_CACHE_DIR can name another\)",
        r"getting the search ready, usually 10 to 40 seconds; it has to be done each time, since \1",
    ),
    (r"--paper roll:WIDTH\b", "“a roll” in “Paper”"),
    (r", --paper [^\s;]+", " in “Paper”"),
    (r"Give a (TrueType font that has them) with --font FILE\.ttf\.", FONT_WORDS),
    (r"choose one with --belt\b", "choose one"),
    (r"; if they allow it, pass --accept-fume-risk\.", ". If they allow it, confirm it below."),
    (r"\bnest it again\b", "lay it out again"),
    (r"\b(with|pass) --kerf\b", "under “Kerf by hand”"),
    (r"--touch\b", "“Where the hide lies on the bed”"),
    (r"--kerf\b", "“Kerf by hand”"),
    (r"--window\b", "Window"),
    (r"--partial\b", "“Partial”"),
    (r"--layout\b", "layout"),
)
"""Each as a pattern, and what stands for it."""

_TABLE: Final = re.compile(r"\[{1,2}([a-z_]+)\]{1,2}")

_KEY: Final = re.compile(r"""(?<!["\w.])(?P<key>[a-z][a-z0-9_]*)(?: = "?(?P<value>[\w.-]+)"?)?(?!["\w])""")


def in_field_words(text: str, labels: Mapping[str, str], tables: Mapping[str, str]) -> str:
    """Return a message of a file's reader with the page's fields named where it names keys.

    Args:
        text: the message.
        labels: of the fields, by their keys.
        tables: titles of what stands together, by the tables' names.

    Example:
        >>> in_field_words('no [gcode]; set group_by = "tool"', {"group_by": "Group by"}, {"gcode": "G-code"})
        'no “G-code”; set “Group by” to tool'
    """

    def table(found: re.Match[str]) -> str:
        return f"“{tables[found[1]]}”" if found[1] in tables else found[0]

    def named(found: re.Match[str]) -> str:
        key, value = found["key"], found["value"]
        if key not in labels or (value is None and "_" not in key):
            return found[0]
        if value is None:
            return f"“{labels[key]}”"
        link = " to " if found.string[: found.start()].endswith("set ") else " as "
        return f"“{labels[key]}”{link}{value.replace('_', ' ')}"

    return _KEY.sub(named, _TABLE.sub(table, text))


def in_page_words(text: str) -> str:
    """Return a message with the page's fields named where it names options of a command.

    Example:
        >>> in_page_words("--kerf 9 mm: expected a width over 0")
        '“Kerf by hand” 9 mm: expected a width over 0'
    """
    for words, on_page in _IN_PAGE_WORDS:
        text = re.sub(words, on_page, text, flags=re.DOTALL)
    return text


def finding_words(findings: Iterable[Finding], units: Units) -> list[tuple[str, str]]:
    """Return how much each finding matters, and what was seen and what to do in the page's words."""
    seen = (one.in_units(units) for one in findings)
    return [(one.severity, in_page_words(f"{one.what} {one.do}")) for one in seen]
