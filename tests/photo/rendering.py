"""Photographs of a hide on a floor whose truth is known: textures, shadow, tilt, lens, noise, JPEG.

All in millimetres on the floor, x to the right and y up; light is added up as light and written as sRGB
(IEC 61966-2-1). Every point of a picture is worked out four times and averaged, then blurred as a lens does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import cv2
import numpy as np

from strapwright.photo.mark_sheet import CELLS, MARK, SIZES, SQUARE, mark_bits

if TYPE_CHECKING:
    from strapwright.photo.mark_sheet import SheetSize

SUB = 2
"""Points worked out to a pixel, each way."""

MASK = 0.25
"""Side of a cell of the hide's mask, mm."""


@dataclass(frozen=True)
class Ring:
    """A flaw ringed in colour.

    Args:
        colour: linear light, RGB.
        centre: of the flaw.
        radius: of the flaw itself, which the ring's inner edge goes round.
        width: of the ring.
        open: from where, radians from x, and how far it is open.
        beyond: whether it goes on over whatever it lies across.
    """

    colour: tuple[float, float, float]
    centre: tuple[float, float]
    radius: float
    width: float = 9.0
    open: tuple[float, float] = (0.0, 0.0)
    beyond: bool = False


@dataclass(frozen=True)
class Patch:
    """A part of what is photographed that is of another colour, or in another light.

    Args:
        polygon: of it, (N, 2) mm.
        colour: linear light, RGB; as factors where it is a light.
        on: the ``floor``, the ``hide``, ``all`` that lies there, or the ``light`` on it all.
        soft: sigma of its border, mm.
    """

    polygon: np.ndarray
    colour: tuple[float, float, float]
    on: str
    soft: float = 0.0


@dataclass(frozen=True)
class Scene:
    """What is photographed.

    Args:
        outline: of the hide, (N, 2) mm.
        sheets: x, y and turn in radians of each, and whether it lies on the hide.
        holes: through the hide, each (N, 2) mm.
        rings: of chalk.
        leather: its colour, linear RGB.
        floor: likewise.
        thickness: of the hide, mm.
        printed: by how much each sheet is printed larger or smaller.
        seed: of textures.
        shadow: how much light is lost close to the hide's edge.
        boards: how much the floor's boards differ from one another; 0 for a floor without any.
        size: of the mark sheets.
        grain: of floor and leather, 1 for a coarse one.
        patches: that are of another colour, or in another light.
    """

    outline: np.ndarray
    sheets: list[tuple[float, float, float, bool]]
    holes: list[np.ndarray] = field(default_factory=list)
    rings: list[Ring] = field(default_factory=list)
    leather: tuple[float, float, float] = (0.42, 0.22, 0.10)
    floor: tuple[float, float, float] = (0.30, 0.31, 0.32)
    thickness: float = 0.0
    printed: tuple[float, ...] = ()
    seed: int = 0
    shadow: float = 0.35
    boards: float = 0.0
    size: SheetSize = SIZES["a4"]
    grain: float = 1.0
    patches: list[Patch] = field(default_factory=list)


@dataclass(frozen=True)
class Camera:
    """Where it is photographed from.

    Args:
        width: px.
        height: px.
        focal: px.
        tilt: off straight down, radians.
        heading: the way it is tilted to, radians from x.
        roll: about its own axis, radians.
        distance: from what is in the middle of the picture, mm.
        aim: that point on the floor, mm.
        k1: of the lens, radii in focal lengths.
        blur: sigma, px.
        noise: of full light, at full light.
        falloff: light lost in the corners.
        exposure: factor on all light.
        quality: of the JPEG.
    """

    width: int = 4000
    height: int = 3000
    focal: float = 3000.0
    tilt: float = 0.0
    heading: float = 0.0
    roll: float = 0.0
    distance: float = 2600.0
    aim: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    blur: float = 0.7
    noise: float = 0.01
    falloff: float = 0.25
    exposure: float = 1.0
    quality: int = 90

    def pose(self) -> tuple[np.ndarray, np.ndarray]:
        """Return the turn from floor to camera (x right, y down, z away) and the place of the camera."""
        c, s = np.cos(self.heading), np.sin(self.heading)
        back = np.array([c * np.sin(self.tilt), s * np.sin(self.tilt), np.cos(self.tilt)])
        place = np.array([*self.aim, 0.0]) + self.distance * back
        away = -back
        up = np.array([-s, c, 0.0]) if self.tilt < 1e-9 else np.cross(away, np.cross([0, 0, 1.0], away))
        if self.tilt < 1e-9:
            up = np.array([0.0, 1.0, 0.0])
        up = up / np.linalg.norm(up)
        right = np.cross(away, up)
        cr, sr = np.cos(self.roll), np.sin(self.roll)
        right, up = cr * right + sr * up, -sr * right + cr * up
        return np.array([right, -up, away]), place

    def project(self, points: np.ndarray) -> np.ndarray:
        """Return where points (N, 2 or 3) mm are in the picture, px; 0, 0 is the middle of its first."""
        points = np.asarray(points, dtype=float)
        if points.shape[1] == 2:
            points = np.column_stack([points, np.zeros(len(points))])
        turn, place = self.pose()
        seen = (points - place) @ turn.T
        flat = seen[:, :2] / seen[:, 2:]
        bent = flat * (1 + self.k1 * (flat**2).sum(1, keepdims=True))
        return bent * self.focal + [(self.width - 1) / 2, (self.height - 1) / 2]


def linear_to_srgb(light: np.ndarray) -> np.ndarray:
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


WRITTEN = np.round(linear_to_srgb(np.arange(65536) / 65535) * 255).astype(np.uint8)
"""How 65536 steps of light are written."""


def _texture(seed: int, sizes: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Return a tile of 1024 px, mean 1, of several grains: side in px and strength."""
    chance = np.random.default_rng(seed)
    out = np.zeros((1024, 1024), np.float32)
    for side, strength in sizes:
        small = max(8, int(1024 / side))
        grain = chance.standard_normal((small, small)).astype(np.float32)
        grain = np.pad(grain, 2, mode="wrap")
        big = cv2.resize(grain, None, fx=1024 / small, fy=1024 / small, interpolation=cv2.INTER_CUBIC)
        edge = int(2 * 1024 / small)
        out += strength * cv2.resize(big[edge:-edge, edge:-edge], (1024, 1024))
    return np.exp(out - out.var() / 2).astype(np.float32)


def _boards(seed: int, differ: float) -> np.ndarray:
    """Return a tile of boards 128 mm wide with dark joints, mean about 1."""
    chance = np.random.default_rng(seed)
    out = np.ones((1024, 1024), np.float32)
    for n in range(8):
        out[n * 128 : (n + 1) * 128] *= np.exp(chance.normal(0, differ))
        out[n * 128 : n * 128 + 2] *= 0.35
    return out * np.exp(0.05 * np.sin(np.arange(1024) / 1024 * 2 * np.pi * 130))[:, None].astype(np.float32)


def _sheet_raster(scene: Scene, number: int) -> np.ndarray:
    """Return a sheet's light at 4 px to a mm, y down."""
    scale = 4
    width, height = (round(side * scale) for side in scene.size.paper)
    out = np.full((height, width), 0.82, np.float32)
    x0, y0 = scene.size.paper[0] / 2, scene.size.paper[1] / 2
    cell = MARK / CELLS

    def black(x: float, y: float, side: float) -> None:
        out[round(y * scale) : round((y + side) * scale), round(x * scale) : round((x + side) * scale)] = 0.03

    for row, line in enumerate(mark_bits(number)):
        for column, white in enumerate(line):
            if not white:
                black(x0 - MARK / 2 + column * cell, y0 - MARK / 2 + row * cell, cell)
    for dx, dy in scene.size.crosses:
        black(x0 + dx - SQUARE, y0 - dy - SQUARE, SQUARE)
        black(x0 + dx, y0 - dy, SQUARE)
    return out


def render(scene: Scene, camera: Camera, seed: int = 0) -> np.ndarray:
    """Return the photograph, (height, width, 3) BGR of 0 to 255 as OpenCV has it."""
    turn, place = camera.pose()
    low = scene.outline.min(0) - 60
    high = scene.outline.max(0) + 60
    shape = tuple(int(v) for v in np.ceil((high - low) / MASK).astype(int)[::-1])
    mask = np.zeros(shape, np.uint8)

    def cells(points: np.ndarray) -> np.ndarray:
        return np.round(((points - low) / MASK - 0.5) * 16).astype(np.int32)

    cv2.fillPoly(mask, [cells(scene.outline)], 1, shift=4)
    for hole in scene.holes:
        cv2.fillPoly(mask, [cells(hole)], 0, shift=4)
    coarse = cv2.resize(mask.astype(np.float32), None, fx=MASK / 4, fy=MASK / 4, interpolation=cv2.INTER_AREA)
    moved = cv2.warpAffine(coarse, np.float32([[1, 0, 2], [0, 1, -1.5]]), coarse.shape[::-1])
    dark = 1 - scene.shadow * np.clip(cv2.GaussianBlur(moved, (0, 0), 4.0) * 1.6, 0, 1)
    fine = 0.05 * scene.grain
    ground = _texture(scene.seed + 1, ((2.2, fine), (9, fine), (60, 0.08), (300, 0.06)))
    if scene.boards:
        ground *= _boards(scene.seed + 3, scene.boards)
    grain = _texture(scene.seed + 2, ((2.0, fine), (6, 0.8 * fine), (80, 0.06), (400, 0.08)))
    sheets = [_sheet_raster(scene, n) for n in range(len(scene.sheets))]
    colour_leather = np.array(scene.leather[::-1], np.float32)[:, None]
    colour_floor = np.array(scene.floor[::-1], np.float32)[:, None]
    rows = []
    strip = 120
    xs = (np.arange(camera.width * SUB, dtype=np.float32) + 0.5) / SUB - 0.5 - (camera.width - 1) / 2
    for first in range(0, camera.height, strip):
        count = min(strip, camera.height - first)
        ys = (np.arange(count * SUB, dtype=np.float32) + 0.5) / SUB - 0.5 + first - (camera.height - 1) / 2
        u, v = np.meshgrid(xs / camera.focal, ys / camera.focal)
        if camera.k1:
            bend = camera.k1 * (u**2 + v**2)
            nearer = np.ones_like(bend)
            for _ in range(8):
                nearer = 1 / (1 + bend * nearer * nearer)
            u, v = u * nearer, v * nearer
        ray = [float(turn[0, k]) * u + float(turn[1, k]) * v + float(turn[2, k]) for k in range(3)]

        def on(height: float, ray: list[np.ndarray] = ray) -> tuple[np.ndarray, np.ndarray]:
            far = float(height - place[2]) / ray[2]
            return float(place[0]) + far * ray[0], float(place[1]) + far * ray[1]

        x, y = on(0.0)
        tile = cv2.remap(ground, _tiled(x), _tiled(y), cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        shade = cv2.remap(
            dark.astype(np.float32),
            ((x - low[0]) / 4 - 0.5).astype(np.float32),
            ((y - low[1]) / 4 - 0.5).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=1.0,
        )
        light = cv2.transform(tile * shade, colour_floor)
        _patch(scene, "floor", x, y, light, tile * shade)
        self_sheets = [(n, one) for n, one in enumerate(scene.sheets)]
        _lay(scene, camera, sheets, [one for one in self_sheets if not one[1][3]], first, x, y, light, shade)
        xh, yh = on(scene.thickness)
        near = cv2.remap(
            mask,
            ((xh - low[0]) / MASK - 0.5).astype(np.float32),
            ((yh - low[1]) / MASK - 0.5).astype(np.float32),
            cv2.INTER_NEAREST,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=0,
        )
        skin = cv2.remap(grain, _tiled(xh), _tiled(yh), cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        top = cv2.transform(skin, colour_leather)
        _patch(scene, "hide", xh, yh, top, skin)
        _ring(scene, False, xh, yh, top, skin)
        np.copyto(light, top, where=near[..., None] > 0)
        bright = np.ones_like(xh)
        _lay(scene, camera, sheets, [one for one in self_sheets if one[1][3]], first, xh, yh, light, bright)
        _ring(scene, True, xh, yh, light, skin)
        _patch(scene, "all", xh, yh, light, bright)
        _patch(scene, "light", xh, yh, light, None)
        rows.append(cv2.resize(light, (camera.width, count), interpolation=cv2.INTER_AREA))
    light = np.concatenate(rows)
    v, u = (np.linspace(-1, 1, count, dtype=np.float32) for count in (camera.height, camera.width))
    light *= (camera.exposure * (1 - camera.falloff * (u**2 + v[:, None] ** 2) / 2))[..., None]
    if camera.blur:
        light = cv2.GaussianBlur(light, (0, 0), camera.blur)
    chance = np.random.default_rng(seed)
    noise = chance.standard_normal(light.shape, dtype=np.float32)
    light += noise * camera.noise * np.sqrt(np.clip(light, 0.002, None))
    return WRITTEN[(np.clip(light, 0, 1) * 65535 + 0.5).astype(np.uint16)]


def _ring(scene, beyond, x, y, light, grain) -> None:
    for ring in scene.rings:
        if ring.beyond is not beyond:
            continue
        row = (np.abs(x - ring.centre[0]) < ring.radius + ring.width) & (
            np.abs(y - ring.centre[1]) < ring.radius + ring.width
        )
        if not row.any():
            continue
        where = np.nonzero(row)
        box = slice(where[0].min(), where[0].max() + 1), slice(where[1].min(), where[1].max() + 1)
        dx, dy = x[box] - ring.centre[0], y[box] - ring.centre[1]
        away = np.hypot(dx, dy)
        painted = (away >= ring.radius) & (away <= ring.radius + ring.width)
        if ring.open[1]:
            painted &= np.mod(np.arctan2(dy, dx) - ring.open[0], 2 * np.pi) > ring.open[1]
        light[box][painted] = np.array(ring.colour[::-1], np.float32) * grain[box][painted][:, None]


def _patch(scene, on, x, y, light, grain) -> None:
    for patch in scene.patches:
        room = 3 * patch.soft + 2
        low, high = patch.polygon.min(0) - room, patch.polygon.max(0) + room
        if patch.on != on or x.max() < low[0] or x.min() > high[0] or y.max() < low[1] or y.min() > high[1]:
            continue
        mask = np.zeros(np.ceil(high - low).astype(int)[::-1], np.float32)
        cv2.fillPoly(mask, [np.round((patch.polygon - low - 0.5) * 16).astype(np.int32)], 1.0, shift=4)
        if patch.soft:
            mask = cv2.GaussianBlur(mask, (0, 0), patch.soft)
        at = [(one - first - 0.5).astype(np.float32) for one, first in zip((x, y), low, strict=True)]
        share = cv2.remap(mask, at[0], at[1], cv2.INTER_LINEAR)[..., None]
        colour = np.array(patch.colour[::-1], np.float32)
        other = light * colour if grain is None else grain[..., None] * colour
        light += share * (other - light)


def _tiled(at: np.ndarray) -> np.ndarray:
    """Return where places are in a tile of 1024."""
    return at - 1024 * np.floor(at / 1024)


def _lay(scene, camera, sheets, which, first, x, y, light, shade) -> None:
    for n, (cx, cy, turned, on_hide) in which:
        reach = max(scene.size.paper)
        around = [
            (cx + dx, cy + dy, scene.thickness * on_hide) for dx in (-reach, reach) for dy in (-reach, reach)
        ]
        seen = camera.project(np.array(around)) - (0, first)
        low, high = (np.clip(end * SUB, 0, x.shape[::-1]).astype(int) for end in (seen.min(0), seen.max(0)))
        if (low >= high).any():
            continue
        box = slice(low[1], high[1]), slice(low[0], high[0])
        dx, dy = x[box] - cx, y[box] - cy
        c, s = np.cos(turned), np.sin(turned)
        size = scene.printed[n] if scene.printed else 1.0
        px = (dx * c + dy * s) / size + scene.size.paper[0] / 2
        py = scene.size.paper[1] / 2 - (-dx * s + dy * c) / size
        inside = (px > 0) & (py > 0) & (px < scene.size.paper[0]) & (py < scene.size.paper[1])
        seen = cv2.remap(
            sheets[n],
            (px * 4 - 0.5).astype(np.float32),
            (py * 4 - 0.5).astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        part = light[box]
        part[inside] = (seen * np.sqrt(shade[box]))[inside][:, None]


def jpeg(picture: np.ndarray, quality: int = 90) -> bytes:
    """Return it as a JPEG file."""
    return cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()


def side_outline(length: float, width: float, seed: int, step: float = 6.0) -> np.ndarray:
    """Return the outline of a side: a fairly straight back, legs, belly; (N, 2) mm about its middle."""
    chance = np.random.default_rng(seed)
    back = [(-0.5, -0.44), (-0.3, -0.5), (0.0, -0.49), (0.3, -0.5), (0.46, -0.47), (0.5, -0.3)]
    rest = [
        (0.48, 0.0),
        (0.5, 0.2),
        (0.44, 0.42),
        (0.36, 0.3),
        (0.2, 0.36),
        (0.0, 0.4),
        (-0.2, 0.36),
        (-0.3, 0.44),
        (-0.38, 0.5),
        (-0.44, 0.34),
        (-0.48, 0.1),
        (-0.5, -0.2),
    ]
    points = np.array(back + rest) * [length, width]
    points += chance.normal(0, 0.012, points.shape) * [length * 0.5, width]
    from scipy.interpolate import CubicSpline

    closed = np.vstack([points, points[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    spline = CubicSpline(along, closed, bc_type="periodic")
    s = np.arange(0, along[-1], step)
    out = spline(s)
    for wave, high in ((90.0, 1.2), (37.0, 0.6)):
        phase = chance.uniform(0, 6)
        turns = round(along[-1] / wave)
        out = out + (high * np.sin(2 * np.pi * turns * s / along[-1] + phase))[:, None] * [0.5, 0.9]
    return out
