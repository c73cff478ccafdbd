"""Patterns of the examples, made once for all tests."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from strapwright import api

EXAMPLES = Path(__file__).parents[2] / "examples"

ODD = """
[job]
name = "Ćwierć & Syn, 注文"
[leather]
thickness = "3.6 mm"
tannage = "vegetable"
[[belt]]
id = "Żofia Świątek-Łąck"
size = { worn_to_hole = "915 mm" }
buckle.for_strap = "60 mm"
buckle.bar_diameter = "6 mm"
buckle.frame_depth = "48 mm"
buckle.prongs = 2
buckle.prong_spacing = "25 mm"
buckle.prong_width = "5 mm"
buckle.prong_thickness = "4 mm"
tip = "spear"
crease = { distance = "3 mm" }
fastener = "stitched"
marks = { text = "OKA", size = true }
lining = { thickness = "1.2 mm" }
[[belt]]
id = "岡田"
size = { girth = "400 mm" }
buckle.for_strap = "20 mm"
buckle.bar_diameter = "4 mm"
buckle.frame_depth = "18 mm"
buckle.prong_width = "3 mm"
buckle.prong_thickness = "2.5 mm"
holes = { shape = "oval", count = 5, spacing = "18 mm" }
tip = "bridle_point"
keeper = { width = "12 mm" }
[[belt]]
id = "a long one"
size = { worn_to_hole = "1500 mm" }
buckle.for_strap = "38 mm"
buckle.bar_diameter = "4 mm"
buckle.frame_depth = "32 mm"
buckle.prong_width = "4 mm"
buckle.prong_thickness = "3 mm"
"""


@cache
def drafted(name: str):
    """Return the draft of an example, or of the odd job."""
    if name == "odd":
        from tempfile import TemporaryDirectory

        with TemporaryDirectory() as folder:
            path = Path(folder) / "odd.toml"
            path.write_text(ODD, "utf-8")
            return api.draft(api.read_job(path))
    return api.draft(api.read_job(EXAMPLES / f"{name}.toml"))


@cache
def pattern(name: str, paper: str, **options):
    """Return the pattern of an example."""
    return api.pattern(drafted(name), paper, **options)
