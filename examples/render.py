"""Make the README's pictures from the examples: `make pictures`; needs what the tests need."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pypdfium2

from strapwright import api
from strapwright.drawing.belt.job_drawing import drawing
from strapwright.drawing.layout.picture import picture
from strapwright.drawing.png import png_of
from strapwright.solid.picture import picture_png

if TYPE_CHECKING:
    from strapwright.drawing.canvas import Canvas

HERE = Path(__file__).parent
FOLDER = HERE / "pictures"


def save(name: str, canvas: Canvas, width: int) -> None:
    """Render a drawing to a PNG of a given width in pixels."""
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / name).write_bytes(png_of(canvas, width / canvas.width))


def save_page(name: str, pdf: bytes, width: int) -> None:
    """Render the first page of a PDF to a PNG of a given width in pixels."""
    page = pypdfium2.PdfDocument(pdf)[0]
    page.render(scale=width / page.get_width()).to_pil().save(FOLDER / name)


def main() -> None:
    """Draft and nest the examples, and render what comes of it."""
    job = api.read_job(HERE / "one-belt.toml")
    one = api.draft(job)
    save("one-belt.png", drawing(one), 1200)
    (FOLDER / "worn.png").write_bytes(picture_png(api.model(job, drafted=one, worn=True)))
    shapes = api.draft(api.read_job(HERE / "shapes" / "gallery.toml"))
    save("drawn-shapes.png", drawing(shapes), 600)
    batch = api.read_job(HERE / "autumn-batch.toml")
    drafted = api.draft(batch)
    hides = api.read_hides([HERE / "side.toml"])
    layout = api.nest(drafted, hides, api.clearance_for(batch), steps=300, time_limit=600, seed=1)
    save("side-14.png", picture(layout, title=drafted.name), 1200)
    made = api.card(batch, drafted=drafted, layout=layout, machine=api.read_machine("wide-laser"))
    save_page("card.png", made.pdf(), 900)


if __name__ == "__main__":
    main()
