"""Two small parts as they were written when a person last looked at them.

``tests/write/golden/NAME.dxf.txt`` lists the DXF's entities and ``NAME.svg.txt`` the SVG's path data, one a
line, to be read in a diff. Words must be the same, numbers within 1e-6 mm. To write them anew after a change
that is meant: ``python -m tests.write.test_golden``.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from tests.machine.layouts import keeper, laser, layout, strap

from strapwright.machine.planning import plan
from strapwright.write.formats.format import FORMATS

FOLDER = Path(__file__).parent / "golden"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
PARTS = {
    "keeper": (keeper("ada"), 12.0, 20.0, 0.0),
    "short-strap": (strap("ada", length=250), 90.0, 70.0, 30.0),
}


def dxf_entities(text: str) -> str:
    lines = []
    for entity in ezdxf.read(io.StringIO(text)).modelspace():
        if entity.dxftype() == "CIRCLE":
            x, y, _ = entity.dxf.center
            lines.append(f"CIRCLE {entity.dxf.layer}: {x:.9g} {y:.9g} r {entity.dxf.radius:.9g}")
            continue
        lines.append(f"LWPOLYLINE {entity.dxf.layer} {'closed' if entity.closed else 'open'}:")
        lines += [f"    {x:.9g} {y:.9g} bulge {b:.9g}" for x, y, b in entity.get_points("xyb")]
    return "\n".join(lines) + "\n"


def svg_paths(text: str) -> str:
    lines = []

    def walk(element: ElementTree.Element, layer: str) -> None:
        for child in element:
            if child.tag.endswith("}g"):
                walk(child, child.get("id", ""))
            elif child.tag.endswith("}path"):
                lines.append(f"{layer}: {child.get('d')}")

    walk(ElementTree.fromstring(text), "")
    return "\n".join(lines) + "\n"


READABLE = {"dxf": dxf_entities, "svg": svg_paths}


def readable(part: str, name: str) -> str:
    made = plan(layout(PARTS[part]), laser(), kerf=0.2, job_name="golden")
    return READABLE[name](FORMATS[name].to_text(made.sheets[0], made))


def split(text: str) -> tuple[list[str], list[float]]:
    """The words between the numbers, and the numbers."""
    return NUMBER.split(text), [float(number) for number in NUMBER.findall(text)]


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("name", READABLE)
def test_a_part_is_written_as_it_was(part, name):
    words, numbers = split((FOLDER / f"{part}.{name}.txt").read_text(encoding="utf-8"))
    now_words, now_numbers = split(readable(part, name))
    assert now_words == words
    assert now_numbers == pytest.approx(numbers, abs=1e-6)


def test_every_golden_file_is_compared():
    expected = {f"{part}.{name}.txt" for part in PARTS for name in READABLE}
    assert {path.name for path in FOLDER.iterdir()} == expected


if __name__ == "__main__":
    for part in PARTS:
        for name in READABLE:
            (FOLDER / f"{part}.{name}.txt").write_text(readable(part, name), encoding="utf-8")
