"""The cork, drawn: every pixel's ray is met with a leaning cylinder, exactly, and lit by the lamp.

Coverage at the outline is the exact outline of the solid (the convex hull of its two rims) taken at
eight times the resolution, so that a move of a tenth of a pixel shows as one.
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import geometry, lamp
from standclear.cameras.rehearsal.acting import Pose
from standclear.cameras.rehearsal.geometry import RigShift
from standclear.cameras.rehearsal.noise import octaves, smooth_noise

Field = NDArray[np.float32]
Matrix = NDArray[np.float64]

HEIGHT_MM = 45.0
RADIUS_MM = 12.0
#: Pixels of the bark's texture: around, and along.
_BARK = (1024, 612)
_FINE = 8
_LAMP_SPOTS = 14
_MARGIN = 9


@dataclass(frozen=True, slots=True)
class Sprite:
    """The drawn cork: linear BGR already times its coverage, its coverage, and the light that its
    shadow leaves on the table (1 = all), with the place of the first pixel in the still."""

    colour: Field = field(repr=False)
    cover: Field = field(repr=False)
    light: Field = field(repr=False)
    left: int
    top: int


def frame_of(pose: Pose) -> tuple[Matrix, Matrix]:
    """The cork's own axes as columns (3×3) and the middle of its foot (mm)."""
    lean = math.radians(math.hypot(pose.lean_right_deg, pose.lean_away_deg))
    toward = math.atan2(pose.lean_away_deg, pose.lean_right_deg)
    c, s = math.cos(lean), math.sin(lean)
    kx, ky = -math.sin(toward), math.cos(toward)
    # Rodrigues' rotation by the lean about the level axis (kx, ky, 0).
    tilt = np.array(
        [
            [c + kx * kx * (1 - c), kx * ky * (1 - c), ky * s],
            [kx * ky * (1 - c), c + ky * ky * (1 - c), -kx * s],
            [-ky * s, kx * s, c],
        ]
    )
    turn = math.radians(pose.turn_deg)
    spin = np.array(
        [
            [math.cos(turn), -math.sin(turn), 0.0],
            [math.sin(turn), math.cos(turn), 0.0],
            [0.0, 0.0, 1.0],
        ]
    )
    foot = np.array([pose.x_mm, pose.y_mm, RADIUS_MM * s + pose.hop_mm])
    return tilt @ spin, foot


def _rims(axes: Matrix, foot: Matrix, count: int = 72) -> Matrix:
    """Points around both rims (2·count×3, mm)."""
    a = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
    ring = np.stack([np.cos(a), np.sin(a), np.zeros(count)], axis=1) * RADIUS_MM
    both = np.vstack([ring, np.add(ring, (0.0, 0.0, HEIGHT_MM))])
    return np.asarray(both @ axes.T + foot)


@lru_cache(maxsize=1)
def _bark() -> Field:
    """The side of the cork, unrolled: rows along its height from the foot, linear BGR."""
    rng = np.random.default_rng(23)
    around, along = _BARK
    shape = (along, around)
    growth = octaves(rng, shape, (220.0, 46.0), 4, 0.62)
    mottle = octaves(rng, shape, (26.0, 26.0), 3, 0.7)
    tone = 0.60 + 0.095 * growth + 0.065 * mottle
    pores, eyes = _lenticels(rng, shape), _eyes(shape)
    tone -= 0.50 * pores
    dark = np.array([0.060, 0.125, 0.235], np.float32)
    light = np.array([0.300, 0.470, 0.640], np.float32)
    colour = dark + (light - dark) * np.clip(tone, 0.0, 1.15)[..., None]
    colour = colour * (1.0 - 0.86 * eyes)[..., None]
    height = np.linspace(0.0, HEIGHT_MM, along, dtype=np.float32)[:, None]
    ragged = height + 1.3 * smooth_noise(rng, shape, (40.0, 60.0))
    wine = np.clip((ragged - HEIGHT_MM + 5.2) / 2.4, 0.0, 1.0)[..., None]
    stain = np.array([0.042, 0.028, 0.200], np.float32)
    colour = colour * (1.0 - 0.82 * wine) + 0.82 * wine * stain * (0.6 + 0.6 * tone[..., None])
    rim = np.minimum(height, HEIGHT_MM - height)
    colour = colour * (1.0 - 0.35 * np.exp(-((rim / 0.7) ** 2)))[..., None]
    # One column of the other end on either side, so that sampling need not wrap round.
    return np.asarray(cv2.copyMakeBorder(colour, 0, 0, 1, 1, cv2.BORDER_WRAP), np.float32)


def _lenticels(rng: np.random.Generator, shape: tuple[int, int]) -> Field:
    """The dark pores of cork bark: 0 to 1. The face is left free of them."""
    canvas = np.zeros(shape, np.float32)
    for _ in range(300):
        x, y = int(rng.integers(0, shape[1])), int(rng.integers(0, shape[0]))
        long, thick = int(rng.integers(4, 20)), int(rng.integers(1, 4))
        depth = float(rng.uniform(0.3, 1.0))
        facing = abs(x - shape[1] // 2) < 110 and 350 < y < 500
        if not facing:
            cv2.ellipse(canvas, (x, y), (thick, long), float(rng.normal(0, 9)), 0, 360, depth, -1)
    return np.asarray(cv2.GaussianBlur(canvas, (0, 0), 1.2), np.float32)


def _eyes(shape: tuple[int, int]) -> Field:
    """The two pores that look like eyes: 0 to 1."""
    eyes = np.zeros(shape, np.float32)
    for x in (-54, 54):
        cv2.ellipse(eyes, (shape[1] // 2 + x, 420), (16, 27), x * 0.12, 0, 360, 1.0, -1)
    return np.asarray(cv2.GaussianBlur(eyes, (0, 0), 2.0), np.float32)


@lru_cache(maxsize=1)
def _crown() -> Field:
    """The top of the cork, soaked with wine: 512×512, linear BGR, the disc filling the square."""
    rng = np.random.default_rng(29)
    shape = (512, 512)
    rings = octaves(rng, shape, (46.0, 130.0), 3, 0.65)
    mottle = octaves(rng, shape, (60.0, 60.0), 4, 0.6)
    y, x = np.mgrid[-1.0:1.0:512j, -1.0:1.0:512j].astype(np.float32)
    radius = np.hypot(x, y)
    tone = 0.62 + 0.07 * rings + 0.07 * mottle - 0.28 * _lenticels(rng, shape)
    stain = np.array([0.040, 0.026, 0.190], np.float32)
    raw = np.array([0.260, 0.400, 0.560], np.float32)
    soaked = np.clip(0.86 + 0.16 * mottle - 0.35 * np.exp(-(((radius - 1.0) / 0.10) ** 2)), 0, 1)
    colour = raw + (stain - raw) * soaked[..., None]
    return np.asarray(colour * np.clip(tone, 0.1, 1.2)[..., None], np.float32)


def draw(pose: Pose, rig: RigShift) -> Sprite:
    """The cork in that pose, with its shadow, through the camera as it stands."""
    axes, foot = frame_of(pose)
    rims = geometry.project(_rims(axes, foot), rig)
    shades = _shadow_outlines(axes, foot, rig)
    left, top, right, bottom = _bounds([rims, *shades, _contact_outline(foot, rig)])
    size = (right - left, bottom - top)
    light = _shadow(shades, _contact_outline(foot, rig), pose.hop_mm, (left, top), size)
    colour, cover = _body(axes, foot, rims, rig, (left, top, *size))
    return Sprite(colour, cover, light, left, top)


def _bounds(outlines: list[Matrix]) -> tuple[int, int, int, int]:
    """A box around them within the still, on multiples of 6 px (so that it fits live's 2/3)."""
    every = np.vstack(outlines)
    low, high = every.min(axis=0) - _MARGIN, every.max(axis=0) + _MARGIN
    left, top = (max(0, math.floor(v / 6) * 6) for v in low)
    right = min(geometry.STILL[0], math.ceil(high[0] / 6) * 6)
    bottom = min(geometry.STILL[1], math.ceil(high[1] / 6) * 6)
    return left, top, max(right, left + 6), max(bottom, top + 6)


def _outline_cover(outline: Matrix, corner: tuple[int, int], size: tuple[int, int]) -> Field:
    """How much of each pixel lies inside the convex outline (px of a still): H×W, 0 to 1."""
    fine = np.zeros((size[1] * _FINE, size[0] * _FINE), np.uint8)
    places = (outline - corner + 0.5) * _FINE - 0.5
    hull = cv2.convexHull(places.astype(np.float32))
    cv2.fillConvexPoly(fine, np.round(hull * 16).astype(np.int32), 255, shift=4)
    small = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / 255.0


def _body(
    axes: Matrix, foot: Matrix, rims: Matrix, rig: RigShift, box: tuple[int, int, int, int]
) -> tuple[Field, Field]:
    """The lit cork times its coverage, and its coverage, over the whole box."""
    left, top, width, height = box
    colour = np.zeros((height, width, 3), np.float32)
    cover = np.zeros((height, width), np.float32)
    x0, y0, x1, y1 = _bounds([rims])
    lit = _lit(axes, foot, rig, (x0, y0, x1 - x0, y1 - y0))
    soft = cv2.GaussianBlur(_outline_cover(rims, (x0, y0), (x1 - x0, y1 - y0)), (0, 0), 0.55)
    part = np.s_[y0 - top : y1 - top, x0 - left : x1 - left]
    cover[part] = soft
    colour[part] = lit * soft[..., None]
    return colour, cover


def _lit(axes: Matrix, foot: Matrix, rig: RigShift, box: tuple[int, int, int, int]) -> Field:
    """Colour of the cork at each pixel of the box, continued a little beyond its outline."""
    left, top, width, height = box
    x = (left + (np.arange(2 * width, dtype=np.float32) + 0.5) / 2 - 0.5)[None, :]
    y = (top + (np.arange(2 * height, dtype=np.float32) + 0.5) / 2 - 0.5)[:, None]
    eye, back = geometry.eye_and_back(rig)
    origin = ((eye - foot) @ axes).astype(np.float32)
    seen = (axes.T @ back).astype(np.float32)
    direction = [seen[i, 0] * x + (seen[i, 1] * y + seen[i, 2]) for i in range(3)]
    colour = _shade(_meet(origin, direction), _Lighting.of(axes, foot))
    return np.asarray(cv2.resize(colour, (width, height), interpolation=cv2.INTER_AREA), np.float32)


def _meet(origin: Field, direction: list[Field]) -> tuple[Field, Field, Field]:
    """Where rays meet the cork, in its own axes (mm); on the top, z is its height exactly."""
    dx, dy, dz = direction
    a = dx * dx + dy * dy
    b = origin[0] * dx + origin[1] * dy
    c = float(origin[0] ** 2 + origin[1] ** 2) - RADIUS_MM**2
    run = (-b - np.sqrt(np.maximum(b * b - a * c, 0.0))) / a
    run = np.maximum(run, (HEIGHT_MM - origin[2]) / dz)
    z = np.minimum(origin[2] + run * dz, np.float32(HEIGHT_MM))
    return origin[0] + run * dx, origin[1] + run * dy, z


@dataclass(frozen=True, slots=True)
class _Lighting:
    """The lamp's direction and the table's "up" in the cork's own axes, the lamp's strength."""

    to_lamp: tuple[float, float, float]
    up: tuple[float, float, float]
    strength: float

    @classmethod
    def of(cls, axes: Matrix, foot: Matrix) -> "_Lighting":
        away = np.array(lamp.LAMP_AT) - (foot + axes[:, 2] * HEIGHT_MM / 2)
        lit = (away / np.linalg.norm(away)) @ axes
        here = np.array([foot[0]], np.float32), np.array([foot[1]], np.float32)
        strength = float((lamp.pool(*here) * lamp.bottle_shade(*here))[0])
        up = axes[2]
        return cls(
            (float(lit[0]), float(lit[1]), float(lit[2])),
            (float(up[0]), float(up[1]), float(up[2])),
            strength,
        )


def _shade(at: tuple[Field, Field, Field], lighting: _Lighting) -> Field:
    """Texture times light at points on the cork."""
    x, y, z = at
    on_top = z > HEIGHT_MM - 1e-2
    per_radian = np.float32(_BARK[0] / (2.0 * np.pi))
    around = np.arctan2(x, -y) * per_radian + np.float32(_BARK[0] / 2 + 1)
    along = np.maximum(z * np.float32((_BARK[1] - 1) / HEIGHT_MM), 0.0)
    colour = cv2.remap(_bark(), around, along, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    rows = int(np.flatnonzero(on_top.any(axis=1)).max(initial=-1)) + 1
    if rows:
        px, py = (v[:rows] * np.float32(255.5 / RADIUS_MM) + np.float32(255.5) for v in (x, y))
        crown = cv2.remap(_crown(), px, py, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        np.copyto(colour[:rows], crown, where=on_top[:rows, :, None])
    return _lighten(colour, at, on_top, lighting)


def _lighten(
    colour: Field, at: tuple[Field, Field, Field], on_top: NDArray[np.bool_], lighting: _Lighting
) -> Field:
    """Lamp, room, and what the lit table throws back, on that colour."""
    x, y, z = at
    flat = 1.0 / RADIUS_MM
    lit, up = lighting.to_lamp, lighting.up
    facing = np.where(on_top, np.float32(lit[2]), x * (lit[0] * flat) + y * (lit[1] * flat))
    level = np.where(on_top, np.float32(up[2]), x * (up[0] * flat) + y * (up[1] * flat))
    low = np.clip(z * (1.0 / HEIGHT_MM), 0.0, 1.0)
    ground = 1.0 - 0.5 * np.exp(low * (-HEIGHT_MM / 3.0))
    key = np.clip((facing + 0.30) / 1.30, 0.0, 1.0)
    key = key * np.sqrt(key) * ground * (1.30 * lighting.strength)
    bounce = np.clip(0.65 - 0.5 * level, 0.0, 1.0) * (1.0 - 0.75 * low) * ground
    bounce *= 0.17 * lighting.strength
    room = (0.75 + 0.35 * level) * ground
    for channel, warm in enumerate((0.32, 0.62, 1.0)):
        light = key * lamp.LAMP_COLOUR[channel] + bounce * np.float32(warm)
        colour[..., channel] *= light + room * lamp.ROOM_COLOUR[channel]
    return colour


def _shadow_outlines(axes: Matrix, foot: Matrix, rig: RigShift) -> list[Matrix]:
    """The cork's shadow on the table from several spots of the lamp's shade (px of a still)."""
    rims = _rims(axes, foot, 24)
    outlines = []
    for spot in range(_LAMP_SPOTS):
        a, reach = spot * 2.39996, 15.0 * math.sqrt((spot + 0.5) / _LAMP_SPOTS)
        at = np.add(lamp.LAMP_AT, (reach * math.cos(a), 0.0, reach * math.sin(a)))
        run = at[2] / (at[2] - rims[:, 2:])
        flat = at + (rims - at) * run
        outlines.append(geometry.project(flat, rig))
    return outlines


def _contact_outline(foot: Matrix, rig: RigShift) -> Matrix:
    a = np.linspace(0.0, 2.0 * math.pi, 32, endpoint=False)
    ring = np.stack([np.cos(a), np.sin(a), np.zeros(32)], axis=1) * (RADIUS_MM + 1.6)
    return geometry.project(np.add(ring, (foot[0], foot[1], 0.0)), rig)


def _shadow(
    outlines: list[Matrix],
    contact: Matrix,
    hop_mm: float,
    corner: tuple[int, int],
    size: tuple[int, int],
) -> Field:
    """The light that is left on the table: H×W, 1 = untouched."""
    half = (size[0] // 2, size[1] // 2)
    total = np.zeros((half[1], half[0]), np.float32)
    layer = np.zeros((half[1], half[0]), np.uint8)
    for outline in outlines:
        layer[:] = 0
        places = ((outline - corner + 0.5) / 2 - 0.5).astype(np.float32)
        hull = np.round(cv2.convexHull(places) * 16).astype(np.int32)
        cv2.fillConvexPoly(layer, hull, 255, lineType=cv2.LINE_AA, shift=4)
        total += layer
    total = cv2.GaussianBlur(total / (255.0 * len(outlines)), (0, 0), 1.6)
    shade = cv2.resize(total, size, interpolation=cv2.INTER_LINEAR)
    layer[:] = 0
    places = np.round(((contact - corner + 0.5) / 2 - 0.5) * 16).astype(np.int32)
    cv2.fillConvexPoly(layer, places, 255, lineType=cv2.LINE_AA, shift=4)
    close = cv2.GaussianBlur(layer.astype(np.float32) / 255.0, (0, 0), 2.0)
    close = cv2.resize(close, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(
        (1.0 - 0.80 * shade) * (1.0 - 0.55 * close * math.exp(-hop_mm / 4.0)), np.float32
    )
