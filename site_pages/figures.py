"""The site's figures, drawn by the program itself from the examples, so that none can fall behind it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.job.draft import BeltDraft

EXAMPLES = Path(__file__).parents[1] / "examples"
GOODS = Path(__file__).parents[1] / "src" / "strapwright" / "starter" / "goods"


def drawn() -> dict[str, str | bytes]:
    """Return the figures, SVG texts but for photographs, by path within the site."""
    from strapwright import api
    from strapwright.drawing.belt.job_drawing import drawing, piece_drawing
    from strapwright.drawing.layout.picture import picture
    from strapwright.drawing.plan import plan_picture
    from strapwright.drawing.svg import svg
    from strapwright.machine.test_pieces.coupon import coupon
    from strapwright.rules.leather import Tannage

    one, batch = api.read_job(EXAMPLES / "one-belt.toml"), api.read_job(EXAMPLES / "autumn-batch.toml")
    drafted, belt = api.draft(batch), api.draft(one)
    goods = api.draft(api.read_job(EXAMPLES / "strap-goods.toml"))
    hides = api.read_hides([EXAMPLES / "side.toml"])
    layout = api.nest(drafted, hides, api.clearance_for(batch), steps=20, seed=1)
    alone = api.nest(belt, hides, api.clearance_for(one), steps=2, seed=1)
    bench = api.read_machine(str(EXAMPLES / "bench-laser.toml"))
    laser = api.read_machine("small-laser")
    collar = next(item for item in goods.belts if item.id == "pepper-collar")
    sewn = next(item for item in goods.straps if item.id == "flap-strap")
    figures = {
        "one-belt": svg(drawing(belt)),
        "strap-goods": svg(drawing(goods)),
        "drawn-shapes": svg(drawing(api.draft(api.read_job(EXAMPLES / "shapes" / "gallery.toml")))),
        "side": svg(picture(layout, title=drafted.name)),
        "blank": svg(piece_drawing(belt.belts[0])),
        "section": section(belt.belts[0]),
        "seat": seat(belt.belts[0]),
        "section-dee": section(collar),
        "sewn-end": svg(piece_drawing(sewn)),
        "windows": svg(plan_picture(api.plan(alone, bench))),
        "coupon": svg(plan_picture(coupon(laser, Tannage.VEGETABLE, 3.6))),
        "kerf": api.kerf_plot(bench),
    }
    figures |= {
        f"goods-{job.parent.name}": svg(drawing(api.draft(api.read_job(job))))
        for job in GOODS.glob("*/job.toml")
    }
    return {**{f"figures/{name}.svg": text for name, text in figures.items()}, **photograph()}


def photograph() -> dict[str, str | bytes]:
    """Return the photograph of the examples, and the picture to check what was measured from it."""
    from strapwright import api

    photo = EXAMPLES / "side-7.jpg"
    rings = {"blue": "mark", "red": "void", "yellow": "loose"}
    asked = api.PhotoAsked(
        (photo,), name="side-7", thickness=3.4, backbone="bottom", correct="240:240", flaws=rings
    )
    checked = api.measure_photos(asked).picture
    return {"figures/side-7.jpg": photo.read_bytes(), "figures/side-7-check.png": checked}


def seat(belt: BeltDraft) -> str:
    """Return how a belt closes in its buckle, by itself."""
    from strapwright.drawing.belt.fold_section import draw_seat
    from strapwright.drawing.drawing_sheet import MARGIN, document, new_board
    from strapwright.drawing.svg import svg

    board = new_board()
    bottom = draw_seat(board, belt, MARGIN, MARGIN, "mm")
    return svg(document(board, bottom + MARGIN, belt.id))


def section(belt: BeltDraft) -> str:
    """Return the section of a belt's fold by itself."""
    from strapwright.drawing.belt.fold_section import WIDTH as SECTION_WIDTH, draw_section
    from strapwright.drawing.drawing_sheet import MARGIN, WIDTH, document, new_board
    from strapwright.drawing.svg import svg

    board = new_board()
    bottom = draw_section(board, belt, (WIDTH - SECTION_WIDTH) / 2, MARGIN, "mm")
    return svg(document(board, bottom + MARGIN, belt.id))
