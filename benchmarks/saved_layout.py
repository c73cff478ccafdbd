"""Measure `cut --layout`: 200 straps and 200 keepers on 11 hides from a saved layout, in all five formats.

Run: python benchmarks/saved_layout.py. Job and hides are made here; the layout is the first one found. Each
line gives the whole process's seconds of processor time, and the most memory any process held so far: over a
second of it renders the layout's picture, and half a second loads the program.
"""

from __future__ import annotations

import re
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
TIPS = ("english_point", "round", "spear", "square", "bridle_point")
FORMATS = 'formats = ["dxf", "dxf_r12", "svg", "gcode", "hpgl"]'


def write_case(folder: Path) -> list[str]:
    """Write job, hides and machines, and return the hides as options."""
    belts = [
        f'[[belt]]\nid = "b{n}"\nsize = {{ worn_to_hole = "{800 + n * 37 % 200} mm" }}\nbuckle = "crew-46"\n'
        f'tip = "{TIPS[n % 5]}"\ncrease = {{ distance = "3 mm" }}\n'
        for n in range(200)
    ]
    head = '[job]\nname = "two hundred"\n[leather]\nthickness = "3.6 mm"\ntannage = "vegetable"\n'
    (folder / "job.toml").write_text(head + "\n".join(belts), "utf-8")
    (folder / "catalogue.toml").write_bytes((ROOT / "examples/catalogue.toml").read_bytes())
    corners = "[0, 0], [2100, 0], [2140, 240], [2060, 790], [1600, 960], [940, 1000], [300, 1170], [60, 620]"
    for n in range(11):
        flaw = '[[flaw]]\nkind = "void"\nat = [820, 230]\nsize = "26 mm"\n'
        text = f'[hide]\nname = "side {n}"\nthickness = "3.6 mm"\npoints = [{corners}]\n{flaw}'
        (folder / f"side{n}.toml").write_text(text, "utf-8")
    for name in ("wide-laser", "drag-knife"):
        text = (ROOT / f"profiles/{name}.toml").read_text("utf-8")
        text = re.sub(r"^formats = .*$", FORMATS, text, count=1, flags=re.M)
        text = re.sub(r"^\[limits\]$", "[limits]\nhpgl_units = 1_000_000", text, count=1, flags=re.M)
        for pen, operation in enumerate(("cut", "score", "punch"), 1):
            table = f"[operation.{operation}]"
            text = re.sub(
                rf"^{re.escape(table)}.*$", f"{table}\npen = {pen}\nvelocity = 12", text, flags=re.M
            )
        (folder / f"{name}.toml").write_text(text, "utf-8")
    return [part for n in range(11) for part in ("--hide", str(folder / f"side{n}.toml"))]


def run(*arguments: str) -> float:
    """Run a command in a process of its own and return its seconds of processor time."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    code = "from strapwright.cli.main import main; main()"
    subprocess.run([sys.executable, "-c", code, *arguments], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        hides = write_case(folder)
        job, layout = str(folder / "job.toml"), str(folder / "layout.json")
        run("nest", job, *hides, "--steps", "1", "--out", name)
        for machine in ("wide-laser", "drag-knife"):
            out = str(folder / machine)
            profile = str(folder / f"{machine}.toml")
            taken = run("cut", job, *hides, "--machine", profile, "--layout", layout, "--out", out)
            arcs = sum(path.read_text("utf-8").count("\nAA") for path in Path(out).glob("*.plt"))
            memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            print(f"{machine:10} {taken:6.2f} s (limit 8 s), {arcs} arcs of HP-GL, {memory:.0f} MB")


if __name__ == "__main__":
    main()
