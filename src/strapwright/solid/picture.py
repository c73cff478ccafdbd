"""A still picture of a belt in the round: its buckle end near, and the whole of it."""

from __future__ import annotations

from io import BytesIO
from itertools import product
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from PIL import Image

from strapwright.solid.raster import Screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from strapwright.core.arrays import Floats
    from strapwright.solid.model import BeltModel


WIDTH: Final = 1600
HEIGHT: Final = 1060
"""Of the picture, pixels."""

FINER: Final = 2
"""It is drawn this many times finer each way and then averaged."""

SHOWN: Final = 115.0
"""The near view shows the buckle end up to this x, mm."""

MARGIN: Final = 1.05
"""A view is this much wider than what it shows."""

DETAIL: Final = 0.01
"""How far a drawn triangle may stray from the solid, mm."""

TURN: Final = 0.12
"""How far neighbouring triangles may turn from each other, rad."""

STEP: Final = 0.5
"""Where something lies this much nearer than what is behind it, mm, a line is drawn."""

BEND: Final = 0.45
"""Where faces meet at more than this, rad, a line is drawn."""

METALS: Final = ("buckle", "prongs", "posts", "dee ring")
"""Pieces that shine."""

BACKGROUND: Final = (0.97, 0.97, 0.96)
LIGHTS: Final = ((0.62, (-0.4, 0.7, 0.9)), (0.28, (0.8, -0.1, 0.7)))
"""How bright each light is, and where it stands from the eye: right, up, towards it."""

AMBIENT: Final = 0.30
LINE: Final = 0.40
"""A line is this much of what it is drawn on."""

_NEAR: Final = ((-0.50, -0.75, 0.85), (0.0, 0.0, 1.0))
_ABOVE: Final = ((0.0, -0.5, 1.0), (0.0, 1.0, 0.0))
_WORN: Final = ((-0.25, 0.55, 1.0), (0.0, 1.0, 0.0))


def picture_png(model: BeltModel) -> bytes:
    """Return a picture as PNG.

    Args:
        model: the belt.
    """
    meshes = [_mesh(piece.shape) for piece in model.pieces]
    every = np.concatenate([corners.reshape(-1, 3) for corners, _ in meshes])
    low, high = every.min(axis=0), every.max(axis=0)
    buckle = next(k for k, piece in enumerate(model.pieces) if piece.name == "buckle")
    first = np.min(meshes[buckle][0][:, :, 0])
    near = np.array([first, low[1], -12.0]), np.array([min(high[0], SHOWN), high[1], 14.0])
    share = round(HEIGHT * (0.52 if model.worn else 0.22))
    colours = np.array([piece.colour for piece in model.pieces])
    shine = np.array([0.35 if piece.name in METALS else 0.04 for piece in model.pieces])
    views = ((_NEAR, near, HEIGHT - share), (_WORN if model.worn else _ABOVE, (low, high), share))
    pictures = [_view(meshes, colours, shine, way, box, height) for way, box, height in views]
    file = BytesIO()
    Image.fromarray(np.concatenate(pictures)).save(file, "PNG")
    return file.getvalue()


def _mesh(shape: Any) -> tuple[Floats, Floats]:
    """Return a shape's triangles and the normals at their corners, smooth within a face; (N, 3, 3) each."""
    shape.mesh(DETAIL, TURN)
    corners, normals = [], []
    for face in shape.Faces():
        vertices, triangles = face.tessellate(DETAIL, TURN)
        points, index = np.array([vertex.toTuple() for vertex in vertices]), np.array(triangles)
        some = points[index]
        flat = np.cross(some[:, 1] - some[:, 0], some[:, 2] - some[:, 0])
        smooth = np.zeros_like(points)
        for k in range(3):
            np.add.at(smooth, index[:, k], flat)
        corners.append(some)
        normals.append(smooth[index])
    every = np.concatenate(normals)
    lengths = np.linalg.norm(every, axis=2, keepdims=True)
    return np.concatenate(corners), every / np.maximum(lengths, 1e-12)


def _view(
    meshes: Sequence[tuple[Floats, Floats]],
    colours: Floats,
    shine: Floats,
    way: tuple[tuple[float, ...], tuple[float, ...]],
    box: tuple[Floats, Floats],
    height: int,
) -> NDArray[np.uint8]:
    """Return a view from one side that shows a box whole, (H, W, 3)."""
    axes = _axes(*way)
    seen = np.array(list(product(*zip(*box, strict=True)))) @ axes.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    wide, tall = WIDTH * FINER, height * FINER
    scale = min(wide / (high[0] - low[0]), tall / (high[1] - low[1])) / MARGIN
    middle = (low + high) / 2
    screen = Screen.empty(wide, tall)
    for owner, (corners, normals) in enumerate(meshes):
        at = corners @ axes.T
        x = wide / 2 + (at[..., 0] - middle[0]) * scale
        y = tall / 2 - (at[..., 1] - middle[1]) * scale
        screen.draw(np.stack([x, y, -at[..., 2]], axis=-1), normals @ axes.T, owner)
    colour = _lit(screen, colours, shine)
    colour[screen.edges(STEP + 2.0 / scale, BEND)] *= LINE
    fine = colour.reshape(height, FINER, WIDTH, FINER, 3).mean(axis=(1, 3))
    pixels: NDArray[np.uint8] = np.round(np.clip(fine, 0.0, 1.0) * 255).astype(np.uint8)
    return pixels


def _axes(towards: tuple[float, ...], up: tuple[float, ...]) -> Floats:
    """Return the eye's axes as rows: right, up and towards it."""
    out = np.array(towards) / np.linalg.norm(towards)
    right = np.cross(np.array(up), out)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(out, right), out])


def _lit(screen: Screen, colours: Floats, shine: Floats) -> Floats:
    """Return the colour of each pixel, (H, W, 3)."""
    colour = np.empty((*screen.owner.shape, 3))
    colour[:] = BACKGROUND
    solid = screen.owner >= 0
    normal, owner = screen.normal[solid], screen.owner[solid]
    light, gleam = np.full(len(owner), AMBIENT), np.zeros(len(owner))
    for bright, place in LIGHTS:
        way = np.array(place) / np.linalg.norm(place)
        half = way + np.array([0.0, 0.0, 1.0])
        half /= np.linalg.norm(half)
        light += bright * np.maximum(normal @ way, 0.0)
        gleam += bright * np.maximum(normal @ half, 0.0) ** 30
    colour[solid] = colours[owner] * light[:, None] + (shine[owner] * gleam)[:, None]
    return colour
