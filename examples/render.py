"""Make the README's two pictures from the examples: `make pictures`."""

from __future__ import annotations

from pathlib import Path

import resvg_py

from strapwright import api
from strapwright.write.drawing import drawing_svg
from strapwright.write.picture import picture_svg

HERE = Path(__file__).parent
FOLDER = HERE / "pictures"
FONT = "DejaVu Sans"


def save(name: str, svg: str, width: int) -> None:
    """Render an SVG to a PNG of a given width in pixels."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=96, width=width, font_family=FONT))
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / name).write_bytes(png)


def main() -> None:
    """Draft and nest the examples, and render what comes of it."""
    one = api.draft(api.read_job(HERE / "one-belt.toml"))
    save("one-belt.png", drawing_svg(one), 1200)
    batch = api.read_job(HERE / "autumn-batch.toml")
    drafted = api.draft(batch)
    hides = api.read_hides([HERE / "side.toml"])
    layout = api.nest(drafted, hides, api.clearance_for(batch), steps=300, time_limit=600, seed=1)
    save("side-14.png", picture_svg(layout, title=drafted.name), 1200)


if __name__ == "__main__":
    main()
