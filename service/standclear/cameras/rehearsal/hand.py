"""The animator's hand, drawn: fingers and palm as rounded bones, shaded by the lamp, in a sleeve.

It is drawn once at a still's size reaching in from the right, with the fingertips at :data:`TIP`;
for the other edges it is turned or mirrored.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import lamp
from standclear.cameras.rehearsal.noise import octaves

Field = NDArray[np.float32]

#: Where the fingertips meet in the drawing, and the drawing's size (px of a still).
TIP = (150, 285)
SIZE = (1980, 620)
EDGES = ("right", "left", "front")
SLEEVES = ("dark", "plain", "bare")
#: How far the fingertips stand off the cork when a tool is held between them (px of a still).
TOOL_PX = 190

#: Bones: from x, y, radius to x, y, radius, and height above the palm.
_BONES = (
    ((760, 300, 92), (1990, 330, 104), -10),
    ((560, 290, 100), (760, 300, 90), 0),
    ((470, 250, 62), (600, 262, 92), 4),
    ((470, 330, 58), (620, 320, 84), 2),
    # little, ring and middle finger, curled under
    ((470, 372, 40), (372, 398, 34), -18),
    ((372, 398, 34), (330, 372, 28), -22),
    ((455, 335, 44), (338, 352, 38), -12),
    ((338, 352, 38), (278, 330, 30), -18),
    ((440, 290, 46), (312, 292, 40), -4),
    ((312, 292, 40), (228, 298, 31), -14),
    ((228, 298, 31), (186, 300, 25), -18),
    # forefinger, from above
    ((450, 235, 48), (318, 178, 40), 10),
    ((318, 178, 40), (218, 205, 33), 8),
    ((218, 205, 33), (162, 262, 26), 4),
    # thumb, from below
    ((560, 372, 60), (420, 420, 46), 14),
    ((420, 420, 46), (290, 392, 38), 18),
    ((290, 392, 38), (182, 322, 29), 18),
)
_SLEEVE_FROM = 800.0
_NAILS = (((178, 250), (17, 11), -48), ((200, 322), (21, 13), 30))


@dataclass(frozen=True, slots=True)
class Reach:
    """A hand's drawing for one edge: linear BGR times coverage, what it lets through (coverage and
    shadow), its coverage, and where in it the fingertips are."""

    colour: Field = field(repr=False)
    keep: Field = field(repr=False)
    cover: Field = field(repr=False)
    tip: tuple[int, int]


def _bone(start: tuple[int, int, int], end: tuple[int, int, int], x: Field, y: Field) -> Field:
    """Height of a rounded, tapering bone over the drawing (negative outside)."""
    ax, ay, ar = start
    bx, by, br = end
    dx, dy = bx - ax, by - ay
    t = np.clip(((x - ax) * dx + (y - ay) * dy) / float(dx * dx + dy * dy), 0.0, 1.0)
    radius = ar + (br - ar) * t
    away = np.hypot(x - ax - t * dx, y - ay - t * dy) / radius
    return np.asarray(np.where(away < 1.0, np.sqrt(np.maximum(1 - away**2, 0)), 1 - away) * radius)


def _height(bones: tuple[tuple[tuple[int, int, int], tuple[int, int, int], int], ...]) -> Field:
    """The bones melted together where they meet (a smooth maximum)."""
    width, height = SIZE[0] // 2, SIZE[1] // 2
    x, y = np.meshgrid(
        np.arange(width, dtype=np.float32) * 2, np.arange(height, dtype=np.float32) * 2
    )
    total = np.full((height, width), -90.0, np.float32)
    soft = 9.0
    for start, end, lift in bones:
        bone = _bone(start, end, x, y)
        bone = np.where(bone > 0, bone + lift * np.clip(bone / 12.0, 0.0, 1.0), bone)
        mix = np.clip(0.5 + 0.5 * (bone - total) / soft, 0.0, 1.0)
        total = total + (bone - total) * mix + soft * mix * (1.0 - mix)
    return np.asarray(total, np.float32)


def _normals(height: Field) -> tuple[Field, Field, Field]:
    """Unit normals (right, down, toward the eye) of a height map sampled every 2 px."""
    smooth = cv2.GaussianBlur(np.maximum(height, 0.0), (0, 0), 2.2)
    dx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 16)
    dy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 16)
    long = np.sqrt(dx * dx + dy * dy + 1.0)
    return -dx / long, -dy / long, 1.0 / long


def _sleeve(height: Field, x: Field, y: Field, kind: str) -> tuple[Field, Field]:
    """Height and colour of the sleeve: a ribbed cuff, then knit with soft folds."""
    rng = np.random.default_rng(17)
    fold = octaves(rng, (height.shape[0], height.shape[1]), (60.0, 40.0), 3, 0.5)
    cuff = np.clip((_SLEEVE_FROM + 130.0 - x) / 14.0, 0.0, 1.0)
    inside = np.clip((x - _SLEEVE_FROM - 8.0 * np.sin(y / 90.0)) / 8.0, 0.0, 1.0)
    rib = np.abs(np.sin((y - 310.0) * 0.16)) * 3.2 * cuff
    knit = np.sin(x * 0.42 + 0.9 * np.sin(y * 0.21)) * 0.9 * (1.0 - cuff)
    raised = height + inside * np.where(
        height > 0, 15.0 + rib + knit + 4.5 * fold * (1 - cuff), 22.0
    )
    dye = {"dark": (0.070, 0.045, 0.030), "plain": (0.30, 0.36, 0.40)}.get(kind, (0.0, 0.0, 0.0))
    colour = np.array(dye, np.float32) * (1.0 + 0.10 * fold)[..., None]
    return np.asarray(raised, np.float32), np.asarray(colour * inside[..., None], np.float32)


def _skin(x: Field, y: Field) -> Field:
    """Skin with redder knuckles and tips, and two nails: linear BGR."""
    rng = np.random.default_rng(19)
    mottle = octaves(rng, (x.shape[0], x.shape[1]), (40.0, 40.0), 3, 0.5)
    base = np.array([0.165, 0.250, 0.480], np.float32) * (1.0 + 0.035 * mottle)[..., None]
    red = sum(
        np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * 30.0**2))
        for cx, cy in ((318, 178), (170, 262), (185, 318), (450, 240), (312, 292), (292, 392))
    )
    base = base * (1.0 + red[..., None] * np.array([-0.16, -0.10, 0.06], np.float32))
    nails = np.zeros(x.shape, np.float32)
    for (cx, cy), (a, b), turn in _NAILS:
        cv2.ellipse(nails, (cx // 2, cy // 2), (a // 2, b // 2), turn, 0, 360, 1.0, -1)
    nails = cv2.GaussianBlur(nails, (0, 0), 1.2)[..., None]
    nail = np.array([0.24, 0.31, 0.50], np.float32)
    return np.asarray(base + (nail - base) * nails * 0.8, np.float32)


@lru_cache(maxsize=6)
def _drawing(sleeve: str) -> tuple[Field, Field]:
    """The hand from the right: colour times coverage, and coverage, at a still's size."""
    height = _height(_BONES)
    rows, columns = height.shape
    x, y = np.meshgrid(
        np.arange(columns, dtype=np.float32) * 2, np.arange(rows, dtype=np.float32) * 2
    )
    colour = _skin(x, y)
    if sleeve != "bare":
        height, cloth = _sleeve(height, x, y, sleeve)
        inside = np.clip((x - _SLEEVE_FROM - 8.0 * np.sin(y / 90.0)) / 8.0, 0.0, 1.0)[..., None]
        colour = colour * (1.0 - inside) + cloth
    lit = _light(height)
    cover = cv2.GaussianBlur(np.clip(height / 4.0 + 0.5, 0.0, 1.0), (0, 0), 1.6)
    colour = cv2.GaussianBlur(colour * lit, (0, 0), 1.0) * cover[..., None]
    size = (columns * 2, rows * 2)
    return (
        np.asarray(cv2.resize(colour, size, interpolation=cv2.INTER_LINEAR), np.float32),
        np.asarray(cv2.resize(cover, size, interpolation=cv2.INTER_LINEAR), np.float32),
    )


def _light(height: Field) -> Field:
    """The lamp from the upper right, the room from everywhere, creases a little darker."""
    nx, ny, nz = _normals(height)
    key = np.clip(0.50 * nx - 0.58 * ny + 0.64 * nz + 0.16, 0.0, 1.2) / 1.16
    wide = cv2.GaussianBlur(np.maximum(height, 0.0), (0, 0), 14.0)
    crease = np.clip(1.0 + (np.maximum(height, 0.0) - wide) / 60.0, 0.45, 1.15)
    gloss = np.clip(0.42 * nx - 0.42 * ny + 0.80 * nz, 0.0, 1.0) ** 26 * 0.10
    light = (key * crease * 0.95 + gloss)[..., None] * lamp.LAMP_COLOUR
    return np.asarray(light + (0.9 * crease)[..., None] * lamp.ROOM_COLOUR, np.float32)


@lru_cache(maxsize=18)
def reach(edge: str, sleeve: str, tool: bool) -> Reach:
    """The hand's drawing for that edge, at a still's size."""
    colour, cover = _drawing(sleeve)
    if tool:
        pad = TOOL_PX
        colour = cv2.copyMakeBorder(colour, 0, 0, pad, 0, cv2.BORDER_CONSTANT)
        cover = cv2.copyMakeBorder(cover, 0, 0, pad, 0, cv2.BORDER_CONSTANT)
        tip = (TIP[0] + pad, TIP[1])
        colour, cover = _with_tool(colour, cover, tip)
        tip = (tip[0] - TOOL_PX, tip[1] + 14)
    else:
        tip = TIP
    shadow = _shadow(cover)
    keep = (1.0 - cover) * (1.0 - 0.55 * shadow)
    return _turned(colour, keep, cover, tip, edge)


def _shadow(cover: Field) -> Field:
    """The hand's soft shadow, down and to the left of it: 0 to 1."""
    size = (cover.shape[1], cover.shape[0])
    small = cv2.resize(cover, (size[0] // 4, size[1] // 4), interpolation=cv2.INTER_AREA)
    small = np.roll(cv2.GaussianBlur(small, (0, 0), 5.5), (11, -10), axis=(0, 1))
    return np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_LINEAR), np.float32)


def _with_tool(colour: Field, cover: Field, tip: tuple[int, int]) -> tuple[Field, Field]:
    """A wooden modelling stick from between the fingertips (at ``tip``) to the cork."""
    stick = np.zeros(cover.shape, np.float32)
    end = (tip[0] - TOOL_PX, tip[1] + 14)
    cv2.line(stick, (end[0] + 70, end[1] - 6), (tip[0] + 150, tip[1] - 10), 1.0, 13)
    cv2.line(stick, end, (end[0] + 72, end[1] - 6), 1.0, 8)
    stick = cv2.GaussianBlur(stick, (0, 0), 1.3) * (1.0 - cover)
    wood = np.array([0.20, 0.38, 0.60], np.float32) * lamp.LAMP_COLOUR
    return colour + stick[..., None] * wood, cover + stick


def _turned(colour: Field, keep: Field, cover: Field, tip: tuple[int, int], edge: str) -> Reach:
    """Mirror for the left edge, turn by a quarter for the front."""
    width, height = cover.shape[1], cover.shape[0]
    if edge == "left":
        tip = (width - 1 - tip[0], tip[1])
        parts = [np.ascontiguousarray(part[:, ::-1]) for part in (colour, keep, cover)]
    elif edge == "front":
        tip = (height - 1 - tip[1], tip[0])
        parts = [cv2.rotate(part, cv2.ROTATE_90_CLOCKWISE) for part in (colour, keep, cover)]
    else:
        parts = [colour, keep, cover]
    return Reach(parts[0], parts[1], parts[2], tip)
