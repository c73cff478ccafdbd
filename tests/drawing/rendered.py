"""Drawings as the SVG files they are written to."""

from __future__ import annotations

from strapwright.drawing.belt.job_drawing import drawing, piece_drawing
from strapwright.drawing.layout.picture import picture
from strapwright.drawing.plan import plan_picture
from strapwright.drawing.svg import svg


def drawing_svg(*args, **options) -> str:
    return svg(drawing(*args, **options))


def piece_svg(*args, **options) -> str:
    return svg(piece_drawing(*args, **options))


def picture_svg(*args, **options) -> str:
    return svg(picture(*args, **options))


def plan_svg(*args, **options) -> str:
    return svg(plan_picture(*args, **options))
