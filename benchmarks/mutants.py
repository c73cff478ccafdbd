"""Put one mistake at a time into a copy of the program and see whether the tests of its area notice.

    python benchmarks/mutants.py                    # all
    python benchmarks/mutants.py 3 17 31            # some, by number; --list shows the numbers
    python benchmarks/mutants.py --area geometry

A mistake is found by its text, wherever in `src` that stands, so it keeps its place when files are renamed.
One that is found nowhere, or twice, is reported and counts as a failure. Each area's tests are run without
any mistake first. The exit status is 1 if a mistake survives.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
TIMES = 5
"""How many times as long as without a mistake the tests may take; an endless run counts as noticed."""


class Mutant(NamedTuple):
    """A mistake: the tests that should notice it, the text it stands in for, and the mistaken text."""

    area: str
    text: str
    mistake: str


MUTANTS = (
    # trade: fold, sizes, fasteners, keepers, punches, strength
    Mutant("rules", "return bar_diameter / 2 + fold_play", "return bar_diameter / 2 - fold_play"),
    Mutant(
        "rules",
        "return math.pi * (radius + neutral_axis * thickness)",
        "return math.pi * (radius + thickness)",
    ),
    Mutant("rules", "return thickness / (2 * radius + thickness)", "return thickness / (2 * radius)"),
    Mutant("rules", "return 2 * radius * strain / (1 - strain)", "return 2 * radius * strain / (1 + strain)"),
    Mutant("rules", "return prong_width + 1.5", "return prong_width + 1.4"),
    Mutant("rules", "return opening - clearance", "return opening"),
    Mutant("rules", "(size_inches + 2) * MM_PER_INCH", "(size_inches + 1) * MM_PER_INCH"),
    Mutant("rules", "min(max(2.5 * width, 90.0), 115.0)", "min(max(2.5 * width, 90.0), 120.0)"),
    Mutant(
        "rules", "- hole_length / 2 - hole_seat + holes_left", "+ hole_length / 2 - hole_seat + holes_left"
    ),
    Mutant(
        "rules", "return max(width - across * diameter, 0.0)", "return max(width + across * diameter, 0.0)"
    ),
    Mutant("rules", "return pins * 2 * thickness * length", "return pins * thickness * length"),
    Mutant("rules", "2 * inside + 2 * math.pi * neutral_axis", "2 * inside + math.pi * neutral_axis"),
    Mutant("rules", "for length in lengths if length <= stack", "for length in lengths if length < stack"),
    # geometry: contours, offsets, transforms, courses
    Mutant(
        "geometry", "(self.radii[arcs] ** 2 * excess).sum()) / 2", "(self.radii[arcs] ** 2 * excess).sum())"
    ),
    Mutant("geometry", "return self.area > 0", "return self.area < 0"),
    Mutant("geometry", "return 4.0 * math.atan(self.bulge)", "return 2.0 * math.atan(self.bulge)"),
    Mutant("geometry", "return c * x - s * y + self.x", "return c * x + s * y + self.x"),
    Mutant("geometry", "np.column_stack([cos * x - sin * y", "np.column_stack([cos * x + sin * y"),
    Mutant(
        "geometry",
        "chord / 2 + left * (1.0 - b * b) / (4.0 * b)",
        "chord / 2 - left * (1.0 - b * b) / (4.0 * b)",
    ),
    Mutant(
        "geometry", "return self.heading + self.curvature * (s", "return self.heading - self.curvature * (s"
    ),
    Mutant("geometry", "np.min(gaps) < abs(d) - OFFSET", "np.min(gaps) < abs(d) - 1.0"),
    Mutant("geometry", "if gap >= distance - COINCIDENT", "if gap >= 0.9 * distance"),
    Mutant("geometry", "if contour.closed and i == 0 and j == count - 1", "if i == 0 and j == count - 1"),
    # machine: kerf, beam and blade paths, times, windows
    Mutant("machine", "< SAME_THICKNESS - 1e-9", "<= SAME_THICKNESS + 1e-9"),
    Mutant("machine", "y + offset * math.sin(heading), swing", "y - offset * math.sin(heading), swing"),
    Mutant("machine", "y + offset * math.sin(into), bulge", "y + offset * math.sin(heading), bulge"),
    Mutant("machine", "last - first > bed + CLEARANCE", "last - first > bed + 1.0"),
    Mutant("machine", "self.x_sign * (x - self.x_zero)", "self.x_sign * (x + self.x_zero)"),
    Mutant(
        "machine",
        "math.sqrt(acceleration * length + (begin**2 + end**2) / 2)",
        "math.sqrt(acceleration * length)",
    ),
    Mutant(
        "machine",
        "if most is None or thickness <= most + COINCIDENT",
        "if most is None or thickness <= 2 * most",
    ),
    Mutant(
        "machine",
        "return sum(self.seconds.values()) + self.travel_seconds",
        "return sum(self.seconds.values())",
    ),
    Mutant("machine", 'f"{mean:.6g} / {drawn:g}", mean / drawn', 'f"{mean:.6g} / {drawn:g}", drawn / mean'),
    Mutant("machine", "max(kerfs) - min(kerfs) > MOST_SPREAD", "max(kerfs) - min(kerfs) > 2 * MOST_SPREAD"),
    # write: formats, their readers, drawings, proofs
    Mutant("write", "{decimal(top + way * point[1])}", "{decimal(point[1])}"),
    Mutant("write", "{mm / machine.unit_mm + 0.0:.", "{mm / machine.unit_mm + 1e-3:."),
    Mutant("write", "return 60.0 * ((run.setting or", "return 6.0 * ((run.setting or"),
    Mutant("write", "if far > most and who not in problems", "if far > 2 * most and who not in problems"),
    Mutant(
        "write", "np.maximum(np.maximum(strayed, short / 2)", "np.maximum(np.maximum(0 * strayed, short / 2)"
    ),
    Mutant("write", "OVERLAP: Final = 16.0", "OVERLAP: Final = 15.0"),
    Mutant(
        "write", "POINTS_PER_MM: Final = 72.0 / MM_PER_INCH", "POINTS_PER_MM: Final = 72.27 / MM_PER_INCH"
    ),
    Mutant("write", "min(want, most) for want in wants", "max(want, most) for want in wants"),
    Mutant(
        "drawing",
        "pools[-1][0] / pools[-1][1] > total / count",
        "pools[-1][0] / pools[-1][1] < total / count",
    ),
)


def place_of(mutant: Mutant, source: Path) -> tuple[Path | None, int]:
    """Return the file a mistake's text stands in, if it stands there just once, and how often it is found."""
    found = [(path, path.read_text("utf-8").count(mutant.text)) for path in sorted(source.rglob("*.py"))]
    holding = [(path, count) for path, count in found if count]
    total = sum(count for _, count in holding)
    return (holding[0][0] if total == 1 else None), total


def failure_of(tree: Path, area: str, limit: float | None = None) -> str:
    """Return how an area's tests fail in a tree; "" if they pass."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-m", "not slow"]
    command += [f"tests/{area}", f"src/strapwright/{area}"]  # there for the examples in docstrings
    environment = os.environ | {"PYTHONPATH": str(tree / "src")}
    try:
        done = subprocess.run(
            [*command, "-p", "no:cacheprovider"],
            cwd=tree,
            env=environment,
            capture_output=True,
            text=True,
            timeout=limit,
        )
    except subprocess.TimeoutExpired:
        return f"ended after {limit:.0f} s"
    if done.returncode not in {0, 1, 2}:
        raise SystemExit(f"tests/{area} could not be run:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return "" if done.returncode == 0 else done.stdout[-2000:] or "failed"


def try_out(numbers: list[int]) -> int:
    """Try mistakes in one copy of the tree, one after another; return the exit status."""
    survived, lost, taken = [], [], {}
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        leave = shutil.ignore_patterns(
            ".git", ".venv", "__pycache__", "out", "*.nbc", "*.nbi", ".*_cache", ".hypothesis"
        )
        shutil.copytree(ROOT, tree, ignore=leave)
        for number in numbers:
            mutant = MUTANTS[number - 1]
            path, count = place_of(mutant, tree / "src")
            if path is None:
                lost.append(number)
                print(f"{number:3} found {count} times: {mutant.text}", flush=True)
                continue
            if mutant.area not in taken:
                begun = time.monotonic()
                failure = failure_of(tree, mutant.area)
                if failure:
                    raise SystemExit(f"tests/{mutant.area} fails without any mistake:\n{failure}")
                taken[mutant.area] = time.monotonic() - begun
            before, begun = path.read_text("utf-8"), time.monotonic()
            path.write_text(before.replace(mutant.text, mutant.mistake), "utf-8")
            passed = not failure_of(tree, mutant.area, 60 + TIMES * taken[mutant.area])
            path.write_text(before, "utf-8")
            survived += [number] if passed else []
            word = "survived" if passed else "killed"
            place = path.relative_to(tree / "src")
            print(
                f"{number:3} {word:<9} {time.monotonic() - begun:4.0f} s  {place}: {mutant.mistake}",
                flush=True,
            )
    print(f"{len(numbers)} tried, {len(survived)} survived {survived}, {len(lost)} without a place {lost}")
    return 1 if survived or lost else 0


def main() -> int:
    """Run the command line of this script."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("numbers", type=int, nargs="*", help="which to try (default: all)")
    parser.add_argument("--area", choices=sorted({mutant.area for mutant in MUTANTS}))
    parser.add_argument("--list", action="store_true", help="only show each with its number and its place")
    asked = parser.parse_args()
    every = [n for n, mutant in enumerate(MUTANTS, 1) if asked.area in {None, mutant.area}]
    wanted = [n for n in every if not asked.numbers or n in asked.numbers]
    if not asked.list:
        return try_out(wanted)
    lost = 0
    for number in wanted:
        path, count = place_of(MUTANTS[number - 1], ROOT / "src")
        lost += path is None
        where = path.relative_to(ROOT / "src") if path else f"found {count} times"
        print(f"{number:3} {MUTANTS[number - 1].area:<9} {where}: {MUTANTS[number - 1].text}")
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
