"""What `record.py` runs: job, hide and machine files of its own, all invented, and the commands, in groups.

A group is run in a folder of its own and in order, since a later command may read what an earlier one wrote.
The examples and profiles of the tree that is recorded are copied beside these files; all lie in `in/`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

EXAMPLES = "../in/examples/"
OWN = "../in/own/"
FORMATS = ("dxf", "dxf_r12", "svg", "gcode", "hpgl")

LEATHER = '[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\nprice_per_m2 = 90\n'
PRICE = '[price]\ncurrency = "EUR"\nhourly_rate = 31\nmachine_rate = 20\nmargin = 0.3\nsundries = 1.25\n'

FILES = {
    "collar.toml": f"""{LEATHER}
[[belt]]
id = "bramble"
name = "Bramble, size M"
size = {{ girth = "430 mm" }}
buckle = {{ for_strap = "25 mm", bar_diameter = "4 mm", frame_depth = "21 mm", prong_width = "3 mm" }}
tip = {{ shape = "bridle_point", corner_radius = "4 mm" }}
holes = {{ count = 5, spacing = "20 mm", shape = "oval" }}
keeper = {{ width = "12 mm", guides = "staple" }}
dee = {{ bar_diameter = "4 mm", width = "25 mm", price = 0.9 }}
marks = {{ text = "fen works", number = true, height = "4 mm" }}
""",
    "lined.toml": f"""{LEATHER}{PRICE}
[[belt]]
id = "quill"
size = {{ belt_size = "965 mm" }}
buckle = "single-40"
tip = "round"
use = "dress"
fastener = "stitched"
stitch = {{ iron = 7, inset = "5 mm" }}
lining = {{ thickness = "1.2 mm", tannage = "vegetable", price_per_m2 = 40 }}
leather = {{ thickness = "2.4 mm" }}
keeper = {{ width = "16 mm", join = "lap", thickness = "2 mm" }}
""",
    "skived.toml": f"""{LEATHER}
[[belt]]
id = "orla"
size = {{ trousers = 34 }}
buckle = "single-45"
tip = {{ shape = "spear", length = "50 mm", shoulder_radius = "30 mm" }}
fold_thickness = "3 mm"
tip_thickness = "4 mm"
leather = {{ thickness = "4.3 mm", temper = "firm" }}
crease = {{ distance = "4 mm" }}
use = "load_carrying"
turn_back = "130 mm"

[belt.keeper]
width = "22 mm"
join = "lap"
thickness = "3 mm"
skive = true
cut_long = "8 mm"
turn_step = "45 deg"
""",
    "graded.toml": f"""{LEATHER}
[[belt]]
id = "run"
sizes = "30-38/2"
hole_in_use = 3
buckle = "single-40"
tip = "english_point"
corner_radius = "6 mm"
marks = {{ size = true }}
""",
    "stitched.toml": f"""{LEATHER}
[[belt]]
id = "sewn"
quantity = 2
size = {{ girth = "37 1/2 in" }}
buckle = {{ opening = "37 mm", bar_section = ["5 mm", "2 mm"], frame_depth = "30 mm", hole_seat = "26.5 mm" }}
tip = {{ shape = "english_point", nose_radius = "3 mm", length = "44 mm" }}
fastener = "stitched"
stitch = {{ iron = 9 }}
keeper = {{ width = "15 mm", held = "slides" }}
""",
    "hook.toml": f"""{LEATHER}
[[belt]]
id = "plate"
size = {{ worn_to_hole = "905 mm", hole_in_use = 4, old = {{ thickness = "3 mm", hole_seat = "30 mm" }} }}
buckle = "hook-40"
tip = {{ shape = "square", corner_radius = "6 mm" }}
holes = {{ count = 6, spacing = "strap_width", diameter = "6 mm", last_to_tip = "95 mm" }}
fastener = "snap"
leather = {{ thickness = "2.4 mm" }}
keeper = "none"
""",
    "centre.toml": f"""{LEATHER}
[[belt]]
id = "thin"
size = {{ girth = "74 cm" }}
buckle = "single-25"
tip = "round"
leather = {{ thickness = "2 mm" }}
keeper = {{ width = "10 mm", held = "row_a" }}
fastener = "rivet"
""",
    "two-prong.toml": f"""[leather]
thickness = "9 oz"
tannage = "vegetable"

[house]
neutral_axis = 0.45
fold_play = "0.3 mm"
keeper_ease_height = "2 mm"
strap_clearance = "1.5 mm"

[layout]
gap = "3 mm"
margin = "5 mm"
{PRICE}minutes = {{ hole = 0.7, finish = 12 }}

[[belt]]
id = "heavy"
size = {{ girth = "110 cm" }}
buckle = "double-60"
holes = {{ count = 5, spacing = "30 mm" }}
fastener_holes = {{ rows = 2, across = 2, stacks = ["7.4 mm", "7.2 mm"] }}
price = 160
due = 2027-02-01

[[belt]]
id = "second"
size = {{ girth = "98 cm" }}
buckle = "double-46"
fastener_holes = {{ rows = 1, spacing_across = "24 mm" }}
price = 140
due = 2027-01-15
""",
    "sketched.toml": f"""{LEATHER}
[[belt]]
id = "own-tip"
size = {{ girth = "900 mm" }}
buckle = "single-40"
tip = {{ sketch = "own_tip.py" }}

[[strap]]
id = "plate"
sketch = "own_plate.py"
turn_step = "30 deg"
face_up = "flesh"
""",
    "own_tip.py": """import cadquery as cq


def sketch(width):
    half = width / 2
    return (cq.Workplane().moveTo(-40, -half).lineTo(-25, -half)
            .threePointArc((-6, -6), (0, 0)).threePointArc((-6, 6), (-25, half)).lineTo(-40, half))
""",
    "own_plate.py": """import cadquery as cq


def part():
    return cq.Workplane().rect(90, 40).moveTo(-30, 0).circle(4).moveTo(25, 5).circle(3)
""",
    "rings.toml": f"""{LEATHER}
[[strap]]
id = "sling"
width = "38 mm"
length = "900 mm"
fastener = "rivet"
use = "load_carrying"

[[strap.ends]]
bar_diameter = "6 mm"
depth = "30 mm"
price = 2.2

[[strap.ends]]
bar_section = ["6 mm", "3 mm"]
depth = "25 mm"

[[strap]]
id = "tab"
quantity = 3
width = "30 mm"
length = "140 mm"
ends = [{{ tip = "round" }}, {{ tip = {{ shape = "spear", length = "30 mm" }} }}]
holes = {{ count = 2, spacing = "20 mm", first = "40 mm", end = 1 }}
turn_step = "30 deg"

[[strap]]
id = "sewn-tab"
width = "24 mm"
length = "260 mm"
ends = [{{ bar_diameter = "5 mm" }}, {{ tip = "bridle_point" }}]
fastener = "stitched"
""",
    "tabs.toml": f"""{LEATHER}
[[strap]]
id = "tab"
leather = {{ thickness = "3 mm" }}
quantity = 4
width = "28 mm"
length = "180 mm"
ends = [{{ tip = "english_point" }}, {{ tip = "square" }}]
holes = {{ count = 3, spacing = "18 mm", first = "35 mm" }}
""",
    "pair.toml": f"""{LEATHER}
[[strap]]
id = "rein"
quantity = 3
width = "30 mm"
length = "700 mm"
holes = {{ count = 3 }}
""",
    "shop.toml": LEATHER + PRICE,
    "small-hide.toml": """[hide]
name = "offcut 3"
thickness = "3 mm"
backbone = "bottom"
face_up = "flesh"
points = [[0, 0], [420, 0], [425, 180], [300, 260], [10, 250]]

[[flaw]]
kind = "hole"
at = [200, 150]
size = "20 mm"
""",
    "raw-hide.toml": """[hide]
name = "raw 8"
thickness = "3.6 mm"
backbone = [[0, 20], [1600, 60]]
strap_direction = "along"
tolerance = 3
true_edge = false
points = [[0, 20], [1600, 60], [1590, 380], [1100, 420], [600, 400], [15, 360]]

[[zone]]
thickness = "3.2 mm"
points = [[1200, 40], [1600, 60], [1590, 380], [1200, 400]]

[[flaw]]
kind = "mark"
points = [[400, 200], [520, 210], [500, 240]]
""",
    "edge-hide.toml": """[hide]
name = "edge 2"
thickness = "3.4 mm"
backbone = "bottom"
true_edge = true
points = [[0, 8], [700, 0], [1500, 6], [1500, 420], [0, 430]]
""",
    "any-hide.toml": """[hide]
name = "any 1"
backbone = "bottom"
points = [[0, 0], [1400, 10], [1390, 500], [20, 480]]
""",
    "thin-hide.toml": """[hide]
name = "thin 5"
thickness = "2 mm"
backbone = "bottom"
points = [[0, 0], [1300, 0], [1300, 300], [0, 300]]
""",
}


def orders(count: int = 50) -> str:
    """Return a CSV of orders, each line another belt, with its shop's leather and prices."""
    tips = ("english_point", "round", "spear", "square", "bridle_point")
    buckles = ("single-40", "single-45", "double-46", "hook-40", "single-30")
    lines = ["# job: shop.toml", "id;name;waist;buckle;tip;holes;qty;thickness;price;due"]
    for number in range(count):
        waist = f"{76 + number * 37 % 410 / 10:.1f}".replace(".", ",") + " cm"
        thickness = ("3,6 mm", "9 oz", "3.2 mm", "")[number % 4]
        lines.append(
            f"o{number + 1};Order {number + 1};{waist};{buckles[number * 3 % 5]};{tips[number % 5]};"
            f"{5 + number % 4};{1 + (number % 17 == 0)};{thickness};{80 + number};"
            f"2027-01-{1 + number % 28:02d}"
        )
    return "\n".join(lines) + "\n"


FILES["orders.csv"] = orders()
FILES["few-orders.csv"] = (
    "\n".join(orders(3).split("\n")) + "o9;Bad;9 cm;single-40;round;5;1;;80;2027-01-01\n"
)

REFUSED = {
    "syntax.toml": "[leather\n",
    "no-leather.toml": '[[belt]]\nid = "a"\nsize = { girth = "90 cm" }\nbuckle = "single-40"\n',
    "empty.toml": "",
    "unit.toml": f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "38" }}\nbuckle = "single-40"\n',
    "unit-slip.toml": f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = 38 }}\nbuckle = "single-40"\n',
    "two-sizes.toml": (
        f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "90 cm", trousers = 36 }}\nbuckle = "single-40"\n'
    ),
    "no-buckle.toml": f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "90 cm" }}\nbuckle = "singel-40"\n',
    "key.toml": (
        f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "90 cm" }}\nbuckle = "single-40"\ntipp = "round"\n'
    ),
    "many.toml": (
        '[leather]\nthickness = "90 mm"\ntannage = "oak"\n[[belt]]\nid = "a/b"\nsize = { trousers = 90 }\n'
        'buckle = { opening = 400, frame_depth = -1 }\nholes = { count = 0, spacing = "2 mm" }\nkeeper = 3\n'
    ),
    "twice.toml": LEATHER + '[[belt]]\nid = "a"\nsize = { girth = "90 cm" }\nbuckle = "single-40"\n' * 2,
    "wide-keeper.toml": (
        f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "90 cm" }}\nbuckle = "single-40"\n'
        'turn_back = "40 mm"\nkeeper = { width = "60 mm" }\n'
    ),
    "short.toml": f'{LEATHER}[[belt]]\nid = "a"\nsize = {{ girth = "160 mm" }}\nbuckle = "double-60"\n',
    "strap.toml": f'{LEATHER}[[strap]]\nid = "a"\nwidth = "30 mm"\n',
    "bad-tip.py.toml": f'{LEATHER}[[strap]]\nid = "a"\nsketch = "../away.py"\n',
    "lines.csv": (
        "id,size.girth,buckle,leather.thickness,leather.tannage\na,38,single-40,9 oz,vegetable\nb,,x,1,y\n"
    ),
    "hide-crossed.toml": '[hide]\nname = "x"\npoints = [[0, 0], [500, 400], [500, 0], [0, 400]]\n',
    "hide-flaw.toml": (
        '[hide]\nname = "x"\npoints = [[0, 0], [500, 0], [500, 400]]\n'
        '[[flaw]]\nkind = "hole"\nat = [900, 900]\nsize = 5\n'
    ),
    "machine.toml": '[machine]\nname = "m"\nkind = "lazer"\nbed = [10, "x"]\nformats = ["pdf"]\n',
    "chrome.toml": (
        '[leather]\nthickness = "3.6 mm"\ntannage = "chrome"\n[[strap]]\nid = "a"\nwidth = 30\nlength = 200\n'
    ),
    "vinyl.toml": (
        '[leather]\nthickness = "3.6 mm"\ntannage = "synthetic"\n'
        '[[strap]]\nid = "a"\nwidth = 30\nlength = 200\n'
    ),
}

THIN_KERF = (
    '\n[[kerf]]\nmaterial = "vegetable"\nthickness = "1 mm"\nwidth = "0.11 mm"\nmeasured = 2026-03-02\n'
)

CHANGED = {
    # name: (profile or example it is made from, what is replaced in it, what is added)
    "short-bed": ("examples/bench-laser", {'"700 mm", "450 mm"': '"300 mm", "450 mm"'}, ""),
    "pins": (
        "examples/bench-laser",
        {"pass_through = true": 'pass_through = true\nregistration = "bed_pins"\npin_pitch = "50 mm"'},
        "",
    ),
    "sharing": (
        "profiles/wide-laser",
        {"share_edges = false": "share_edges = true"},
        '\n[bridges]\ncount = 2\nwidth = "1 mm"\n',
    ),
    "thin": ("profiles/wide-laser", {}, THIN_KERF),
    "inches": (
        "profiles/wide-laser",
        {'units = "mm"': 'units = "in"', 'corner = "round"': 'corner = "miter"'},
        "",
    ),
    "by-tool": (
        "profiles/drag-knife",
        {"[machine]": '[machine]\ngroup_by = "tool"\ntool_change = "by_hand"'},
        "",
    ),
}
"""Machines that are shipped ones with something changed; each also writes every format."""


@dataclass
class Command:
    """One command: its name in the record, its arguments, and what is typed to it."""

    name: str
    arguments: list[str]
    typed: str = ""


@dataclass
class Group:
    """Commands that are run one after another in one folder."""

    name: str
    commands: list[Command] = field(default_factory=list)

    def run(self, name: str, *arguments: str, typed: str = "") -> None:
        """Add a command."""
        self.commands.append(Command(name, list(arguments), typed))


def write_inputs(folder: Path, tree: Path) -> None:
    """Write all files the commands read: our own, and the tree's examples and profiles.

    Args:
        folder: where to; it is made.
        tree: a checkout, with `examples` and `profiles`.
    """
    own = folder / "own"
    (own / "bad").mkdir(parents=True)
    for source in sorted(
        p for top in ("examples", "profiles") for p in (tree / top).rglob("*") if p.is_file()
    ):
        if source.suffix in {".toml", ".svg", ".csv", ".dxf"} and "pictures" not in source.parts:
            target = folder / source.relative_to(tree)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(source.read_bytes())
    for name, text in FILES.items():
        (own / name).write_text(text, "utf-8")
    for name, text in REFUSED.items():
        (own / "bad" / name).write_text(text, "utf-8")
    for path in sorted((tree / "profiles").glob("*.toml")) + [
        tree / "examples" / f"{name}.toml" for name in ("bench-laser", "router-knife")
    ]:
        (own / f"all-{path.name}").write_text(_every_format(path.read_text("utf-8")), "utf-8")
    for name, (base, replaced, added) in CHANGED.items():
        text = (tree / f"{base}.toml").read_text("utf-8")
        for old, new in replaced.items():
            if old not in text:
                raise SystemExit(f"{base}.toml: {old!r} is not in it, so machine {name!r} cannot be made")
            text = text.replace(old, new, 1)
        (own / f"all-{name}.toml").write_text(_every_format(text) + added, "utf-8")


def _every_format(text: str) -> str:
    """Return a machine file that reads every format."""
    every = ", ".join(f'"{name}"' for name in FORMATS)
    text, found = re.subn(r"(?m)^formats = \[[^\]]*\]", f"formats = [{every}]", text)
    if found != 1:
        raise SystemExit("a machine file without one line of formats")
    if "max_power" not in text and 'kind = "laser"' in text:
        text = text.replace("[machine]", "[machine]\nmax_power = 1000", 1)
    if "hpgl_units" not in text:
        text = text.replace("[limits]", "[limits]\nhpgl_units = 400000", 1)  # as far as a long bed reaches
    return text


def _of_job(name: str, job: str, hides: tuple[str, ...], machines: tuple[str, ...], *, more: bool) -> Group:
    """Return what is made of a job: draft, drawing, layout, card, bill, pattern, and cut files.

    Args:
        name: the group's.
        job: its file.
        hides: what it is laid on.
        machines: what it is cut with.
        more: also inches, PDF and PNG drawings, whole patterns, and a picture of the cuts.
    """
    group = Group(name)
    on = [word for hide in hides for word in ("--hide", hide)]
    group.run("draft", "draft", job, "--explain", "--drawing", "view-draft.svg")
    group.run("draft-json", "draft", job, "--json")
    search = ("--steps", "2", "--seed", "1", "--out", "layout")
    group.run("nest", "nest", job, *on, *search, "--picture", "view-layout.svg")
    group.run("nest-json", "nest", job, *on, "--from", "layout/layout.json", "--steps", "1", "--json")
    group.run("card", "card", job, "--out", "view-card.html", "--out", "view-card.pdf", "--bom", "bill.csv")
    group.run("pattern", "pattern", job, "--paper", "a4", "--out", "pattern-ends.pdf")
    laid = ("--layout", "layout/layout.json", *on)
    for machine in machines:
        short = Path(machine).stem
        cut = ("cut", job, *laid, "--machine", machine, "--partial")
        group.run(f"cut-{short}", *cut, "--out", f"cut-{short}")
        if more:
            shown = ("--picture", f"view-plan-{short}.svg", "--json", "--units", "in")
            group.run(f"plan-{short}", *cut, "--out", f"cut-{short}-inches", *shown)
    if more:
        group.run("draft-inches", "draft", job, "--units", "in", "--drawing", "view-draft.pdf")
        group.run("explain-json", "draft", job, "--explain", "--json", "--units", "in")
        whole = ("--paper", "letter", "--whole", "--out", "pattern-whole.pdf")
        group.run("pattern-whole", "pattern", job, *whole)
        card = ("card", job, *laid, "--machine", machines[0], "--bom", "bill-laid.csv", "--units", "in")
        group.run("card-laid", *card, "--out", "view-card-laid.html")
    return group


def own(name: str) -> str:
    """Return the path of a machine, hide or job of our own."""
    return f"{OWN}{name}"


def groups(*, quick: bool) -> list[Group]:
    """Return everything that is run.

    Args:
        quick: leave out models, sketches, the 50 orders, pictures and most machines.
    """
    side = f"{EXAMPLES}side.toml"
    raw, edge, thin, small, free = (
        own(f"{name}-hide.toml") for name in ("raw", "edge", "thin", "small", "any")
    )
    wide, knife = own("all-wide-laser.toml"), own("all-drag-knife.toml")
    plotter, closed = own("all-knife-plotter.toml"), own("all-closed-laser.toml")
    more = not quick

    def machines(*names: str) -> tuple[str, ...]:
        return tuple(own(f"all-{name}.toml") for name in names)[: None if more else 2]

    every = machines(
        "wide-laser", "drag-knife", "small-laser", "bench-laser", "router-knife", "inches", "short-bed"
    )
    one = _of_job("one-belt", f"{EXAMPLES}one-belt.toml", (side,), every, more=more)
    batch = _of_job(
        "autumn-batch", f"{EXAMPLES}autumn-batch.toml", (side,), machines("sharing", "by-tool"), more=more
    )
    goods = _of_job("strap-goods", f"{EXAMPLES}strap-goods.toml", (edge,), (wide, knife), more=more)
    made = [batch, one, goods]
    for name, hide, on in (
        ("collar", edge, (wide, knife)),
        ("lined", free, (own("all-thin.toml"),)),
        ("skived", free, (wide,)),
        ("graded", side, (wide,)),
        ("stitched", raw, (wide,)),
        ("hook", free, (wide,)),
        ("centre", thin, (plotter,)),
        ("two-prong", side, (wide,)),
        ("rings", side, (wide, knife)),
        ("tabs", small, (closed,)),
    ):
        made.append(_of_job(name, own(f"{name}.toml"), (hide,), on if more else on[:1], more=more))
    made.append(
        _of_job("pair", own("pair.toml"), (raw,), machines("sharing", "short-bed", "pins"), more=False)
    )
    made += [_windows_and_ends(side), _kerf(), _stock(), _shop(), _refusals()]
    if more:
        made += [_orders(side), _sketched(raw), _models(), _more_models(), _belly()]
    return made


def _windows_and_ends(side: str) -> Group:
    """Return what the cut command can do beside: touch, window, ends, straps cut by hand, kerf given."""
    group, job = Group("options"), f"{EXAMPLES}one-belt.toml"
    short, wide = own("all-short-bed.toml"), own("all-wide-laser.toml")
    touch = ("--touch", "20,35=41.5,60.2", "--touch", "1850,40=1871.3,71.9")
    nest = ("--steps", "1", "--seed", "3")
    group.run("nest", "nest", job, "--hide", side, *nest, "--out", "layout", "--remnants", "remnants")
    laid = (job, "--hide", side, "--layout", "layout/layout.json")
    group.run("touch", "cut", *laid, "--machine", wide, "--out", "cut-touch", *touch)
    group.run("by-hand", "cut", *laid, "--machine", wide, "--out", "cut-by-hand", "--long-edges-by-hand")
    group.run(
        "kerf", "cut", *laid, "--machine", wide, "--out", "cut-kerf", "--kerf", "0.3 mm", "--units", "in"
    )
    group.run("windows", "cut", *laid, "--machine", short, "--out", "cut-windows")
    again = ("--window", "2", "--touch", "A=12.42,59.57", "--touch", "B=38.31,438.12")
    group.run("window-again", "cut", *laid, "--machine", short, "--out", "cut-windows", *again)
    group.run("send", "send", "cut-touch/Halvards-work-belt.dxf", "--machine", wide, "--to", "layout")
    ends = ("--ends-only", *nest)
    group.run("ends", "cut", job, "--hide", side, "--machine", wide, *ends, "--out", "cut-ends")
    group.run("ends-draft", "draft", job, "--ends-only", "--drawing", "view-ends.svg")
    group.run("avoid", "nest", job, "--hide", side, *nest, "--avoid", "700,100,300", "--out", "avoided")
    both = ("--hide", f"{EXAMPLES}hides/shoulder.toml", "--hide", side)
    for aim in ("least", "price"):
        pair = ("nest", own("two-prong.toml"), *both, *nest, "--aim", aim, "--out", f"aim-{aim}")
        group.run(f"aim-{aim}", *pair)
    group.run("nofit", "nest", job, "--hide", side, *nest, "--avoid", "1000,350,900", "--out", "nofit")
    group.run("remnants", "hides", "remnants")
    group.run("record", "card", job, "--out", "view-kept.html", "--record", "kept")
    group.run("brief", "card", job, "--out", "view-brief.html", "--brief")
    roll = ("--paper", "roll:914mm", "--correct", "100:99.4", "--whole", "--units", "in")
    group.run("roll", "pattern", job, *roll, "--out", "pattern-roll.pdf")
    return group


def _kerf() -> Group:
    """Return the kerf commands."""
    group = Group("kerf")
    leather = ("--material", "vegetable", "--thickness", "3.6mm")
    wide, knife, plotter = (own(f"all-{name}.toml") for name in ("wide-laser", "drag-knife", "knife-plotter"))
    group.run("coupon", "kerf", "coupon", "--machine", wide, *leather, "--out", "cut-coupon")
    group.run("coupon-knife", "kerf", "coupon", "--machine", knife, *leather, "--out", "cut-coupon-knife")
    group.run(
        "coupon-plotter", "kerf", "coupon", "--machine", plotter, "--thickness", "2mm", "--out", "cut-plotter"
    )
    group.run("coupon-json", "kerf", "coupon", "--machine", "closed-laser", "--out", "cut-small", "--json")
    speeds = ("--speed", "8;12", "--power", "50;90")
    group.run("trial", "kerf", "trial", "--machine", wide, *leather, *speeds, "--out", "cut-trial")
    group.run("trial-knife", "kerf", "trial", "--machine", knife, *leather, "--out", "cut-trial-knife")
    group.run("copy", "machines", "copy", "small-laser", "mine.toml")
    read = (
        "--strips",
        "98.1mm,98.0mm,98.1mm",
        "--strips-y",
        "97.9mm,98.0mm",
        "--hole",
        "5.24mm",
        "--slot",
        "9.6mm",
    )
    cross = ("--cross-x", "200.1mm", "--cross-y", "199.9mm")
    group.run("record", "kerf", "record", "--machine", "mine.toml", *leather, *read, *cross)
    group.run(
        "record-json", "kerf", "record", "--machine", "mine.toml", *leather, "--strips", "98.2;98.3", "--json"
    )
    group.run("show", "kerf", "show", "--machine", "mine.toml", "--out", "view-kerf.svg")
    group.run("show-json", "kerf", "show", "--machine", "mine.toml", "--json")
    return group


def _stock() -> Group:
    """Return the lists: hides, machines, schemas."""
    group = Group("stock")
    group.run("hides", "hides", f"{EXAMPLES}hides", "--strap-width", "32mm", "--out", "view-stock.html")
    group.run("hides-svg", "hides", OWN, "--units", "in", "--out", "view-stock.svg")
    group.run("hides-json", "hides", f"{EXAMPLES}hides", "--margin", "5mm", "--json")
    group.run("machines", "machines")
    group.run("machines-json", "machines", "--json")
    for name in ("closed-laser", "drag-knife", "knife-plotter", "small-laser", "wide-laser"):
        group.run(f"show-{name}", "machines", "show", name)
    group.run("check", "machines", "check", own("all-by-tool.toml"))
    for name in ("job", "house", "catalogue", "hide", "machine"):
        group.run(f"schema-{name}", "schema", name)
    group.run("version", "--version")
    for name in ("draft", "nest", "cut", "card", "pattern", "model", "hides", "kerf", "send", "start"):
        group.run(f"help-{name}", name, "--help")
    group.run("help-machines", "machines", "--help")
    return group


def _shop() -> Group:
    """Return the start of a shop, a buckle measured into its catalogue, and its first job."""
    group = Group("shop")
    group.run("start", "start", "shop")
    typed = "\n54\n\n5 mm\n\n44 mm\n\n4.5 mm\n\n\nbrass-54\nyes\n"
    group.run("measure", "measure", "buckle", "--catalogue", "shop/catalogue.toml", typed=typed)
    hook = "mild\nback\n\n40\n\n4 mm\nquit\n"
    group.run("measure-quit", "measure", "buckle", "--catalogue", "shop/catalogue.toml", typed=hook)
    group.run("draft", "draft", "shop/jobs/first/job.toml", "--explain")
    group.run("start-again", "start", "shop")
    return group


def _refusals() -> Group:
    """Return bad inputs, of which the message and the exit status count."""
    group, one = Group("refused"), f"{EXAMPLES}one-belt.toml"
    bad, side, tabs = f"{OWN}bad/", f"{EXAMPLES}side.toml", own("tabs.toml")
    for name in REFUSED:
        if name.startswith("hide-"):
            group.run(name, "nest", one, "--hide", bad + name, "--steps", "1")
        elif name == "machine.toml":
            group.run(name, "machines", "check", bad + name)
        elif name in {"chrome.toml", "vinyl.toml"}:
            arguments = (
                "--hide",
                own("small-hide.toml"),
                "--machine",
                "wide-laser",
                "--steps",
                "1",
                "--out",
                "cut-no",
            )
            group.run(name, "cut", bad + name, *arguments)
        else:
            group.run(name, "draft", bad + name)
    group.run("no-file", "draft", "none.toml")
    group.run("no-command", "draught", one)
    group.run("no-option", "draft", one, "--explian")
    group.run(
        "no-machine",
        "cut",
        tabs,
        "--hide",
        side,
        "--machine",
        "wide-lazer",
        "--steps",
        "1",
        "--out",
        "cut-no",
    )
    thick = ("--machine", "knife-plotter", "--steps", "1", "--out", "cut-no")
    group.run("too-thick", "cut", one, "--hide", side, *thick)
    group.run(
        "too-short",
        "cut",
        one,
        "--hide",
        side,
        "--machine",
        "closed-laser",
        "--steps",
        "1",
        "--out",
        "cut-no",
    )
    group.run("paper", "pattern", one, "--paper", "a9", "--out", "pattern.pdf")
    group.run("ending", "draft", one, "--drawing", "drawing.bmp")
    group.run(
        "format",
        "cut",
        one,
        "--hide",
        side,
        "--machine",
        "wide-laser",
        "--format",
        "gcode",
        "--out",
        "cut-no",
    )
    group.run("reading", "kerf", "record", "--machine", own("all-wide-laser.toml"), "--strips", "9.8 mm")
    group.run("correct", "pattern", one, "--paper", "a4", "--correct", "100:70", "--out", "pattern.pdf")
    return group


def _orders(side: str) -> Group:
    """Return what is made of a CSV of 50 orders, and of one with a bad line."""
    group, job = Group("orders"), own("orders.csv")
    group.run("draft", "draft", job)
    group.run("draft-json", "draft", job, "--json", "--explain")
    group.run("card", "card", job, "--out", "view-card.html", "--bom", "bill.csv", "--brief")
    hides = ("--hide", side, "--hide", own("raw-hide.toml"))
    group.run("nest", "nest", job, *hides, "--steps", "1", "--aim", "due", "--out", "layout")
    sort = ("--partial", "--good", "good.csv", "--bad", "bad.csv")
    group.run("partial", "draft", own("few-orders.csv"), *sort)
    return group


def _sketched(hide: str) -> Group:
    """Return what is made of a job with a tip and a part by sketch."""
    return _of_job("sketched", own("sketched.toml"), (hide,), (own("all-wide-laser.toml"),), more=False)


def _models() -> Group:
    """Return belts in the round."""
    group, one = Group("models"), f"{EXAMPLES}one-belt.toml"
    group.run("step", "model", one, "--out", "flat.step", "--json")
    group.run("glb", "model", own("collar.toml"), "--out", "collar.glb")
    group.run("worn", "model", one, "--worn", "--out", "worn.stl")
    group.run("template", "model", one, "--template", "template.step", "--template-of", "tip")
    return group


def _more_models() -> Group:
    """Return further belts in the round, to be made beside the others."""
    group = Group("models-2")
    group.run("double", "model", own("two-prong.toml"), "--belt", "heavy", "--out", "double.stl")
    group.run("hook", "model", own("hook.toml"), "--out", "hook.step")
    group.run("centre", "model", own("centre.toml"), "--out", "centre.png")
    group.run("template", "model", own("skived.toml"), "--template", "template.stl")
    return group


def _belly() -> Group:
    """Return layouts on the drawn and the measured hides of the examples."""
    group, job = Group("hides"), f"{EXAMPLES}one-belt.toml"
    for name in ("belly.dxf", "bend.svg", "bend.toml", "butt.toml", "shoulder.toml"):
        picture = ("--out", f"on-{name}", "--picture", f"view-{name}.pdf")
        group.run(name, "nest", job, "--hide", f"{EXAMPLES}hides/{name}", "--steps", "1", *picture)
    return group
