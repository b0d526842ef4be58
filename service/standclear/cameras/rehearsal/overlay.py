"""Things laid over the set: a hand, a tool that stays, a shadow, somebody passing by."""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import geometry, hand, lamp
from standclear.cameras.rehearsal.geometry import LIVE, STILL, RigShift
from standclear.cameras.rehearsal.scene import UNIT, Linear
from standclear.cameras.rehearsal.script import HandPlace, Happening, Visit
from standclear.cameras.rehearsal.sensor import Picture, srgb

Field = NDArray[np.float32]

#: How far above the foot of the cork the fingers hold it (px of a still).
GRIP_PX = 150
#: Where a tool that was left behind lies, from end to end (mm).
TOOL_LIES = ((52.0, -22.0), (104.0, 8.0))
_VEIL = (160, 90)


@dataclass(frozen=True, slots=True)
class LiveReach:
    """A hand for live pictures: code values times coverage, and what it lets through (0..255)."""

    colour: Picture = field(repr=False)
    keep: Picture = field(repr=False)


def live_reach(at: HandPlace | Visit, gains: tuple[float, float, float]) -> LiveReach:
    """The hand's drawing at live's size, developed with about those gains.

    The first use of each look takes some tenths of a second, so scripts have it done beforehand.
    Gains are taken in steps of 1/25 stop, so that a drifting lamp need not have it drawn anew.
    """
    b, g, r = (2.0 ** (round(25.0 * math.log2(max(gain, 1e-6))) / 25.0) for gain in gains)
    return _live_reach(at.edge, at.sleeve, at.tool, (b, g, r))


@lru_cache(maxsize=24)
def _live_reach(edge: str, sleeve: str, tool: bool, gains: tuple[float, float, float]) -> LiveReach:
    drawn = hand.reach(edge, sleeve, tool)
    size = (drawn.cover.shape[1] * 2 // 3, drawn.cover.shape[0] * 2 // 3)
    colour, keep, cover = (
        cv2.resize(part, size, interpolation=cv2.INTER_AREA)
        for part in (drawn.colour, drawn.keep, drawn.cover)
    )
    plain = colour / np.maximum(cover, 1e-3)[..., None] * np.array(gains, np.float32)
    shown = srgb(np.asarray(plain, np.float32)) * cover[..., None] * 255.0
    through = cv2.merge([np.round(srgb_factor(keep) * 255.0).astype(np.uint8)] * 3)
    return LiveReach(np.round(shown).astype(np.uint8), through)


def srgb_factor(linear: Field) -> Field:
    """A factor on light as a factor on code values, near enough (a power of 1/2.2)."""
    return np.asarray(np.power(np.clip(linear, 0.0, 1.0), 1.0 / 2.2), np.float32)


def place(at: HandPlace, grip: tuple[float, float]) -> tuple[int, int]:
    """Where the drawing's first pixel goes, in px of a still, for fingers that are to reach
    ``grip`` (px of a still)."""
    drawn = hand.reach(at.edge, at.sleeve, at.tool)
    x, y = grip
    out = 1.0 - at.inward
    spill = 90
    if at.edge == "right":
        x += out * (STILL[0] - grip[0] + drawn.tip[0] + spill)
    elif at.edge == "left":
        x -= out * (grip[0] + drawn.cover.shape[1] - drawn.tip[0] + spill)
    else:
        y += out * (STILL[1] - grip[1] + drawn.tip[1] + spill)
    return round(x - drawn.tip[0] + at.tremble_px), round(y - drawn.tip[1] + at.tremble_px * 0.6)


def covers_picture(at: HandPlace, grip: tuple[float, float]) -> bool:
    """Whether any of the hand (not only its shadow) is inside the picture."""
    drawn = hand.reach(at.edge, at.sleeve, at.tool)
    left, top = place(at, grip)
    here, there = _overlap(left, top, drawn.cover.shape, (STILL[1], STILL[0]))
    return here is not None and there is not None and bool((drawn.cover[there] > 0.02).any())


_Box = tuple[slice, slice]


def _overlap(
    left: int, top: int, shape: tuple[int, ...], frame: tuple[int, ...]
) -> tuple[_Box | None, _Box | None]:
    """The part of the frame that a drawing covers, and that part of the drawing."""
    x0, y0 = max(0, left), max(0, top)
    x1, y1 = min(frame[1], left + shape[1]), min(frame[0], top + shape[0])
    if x0 >= x1 or y0 >= y1:
        return None, None
    here = (slice(y0, y1), slice(x0, x1))
    return here, (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))


def lay_linear(frame: Linear, colour: Field, keep: Field, left: int, top: int) -> None:
    """Lay a drawing over a still in linear light, in place."""
    here, there = _overlap(left, top, keep.shape, frame.shape)
    if here is None or there is None:
        return
    mixed = frame[here] * keep[there][..., None] + colour[there] * UNIT
    frame[here] = np.clip(mixed, 0.0, 65535.0).astype(np.uint16)


def lay_live(frame: Picture, drawn: LiveReach, left: int, top: int) -> None:
    """Lay a drawing over a live picture, in place."""
    here, there = _overlap(left, top, drawn.keep.shape, frame.shape)
    if here is None or there is None:
        return
    part = cv2.multiply(frame[here], drawn.keep[there], scale=1.0 / 255.0)
    frame[here] = cv2.add(part, drawn.colour[there])


@lru_cache(maxsize=2)
def tool_on_table(rig: RigShift) -> tuple[Field, Field, int, int]:
    """A modelling stick that lies on the table: colour times coverage, keep, left, top."""
    ends = geometry.project(np.array([(*end, 2.0) for end in TOOL_LIES]), rig)
    left, top = (int(v) // 6 * 6 - 30 for v in ends.min(axis=0))
    right, bottom = (int(v) // 6 * 6 + 36 for v in ends.max(axis=0))
    cover = np.zeros((bottom - top, right - left), np.float32)
    a, b = (tuple(int(v * 16) for v in end - (left, top)) for end in ends)
    cv2.line(cover, a, b, 1.0, 17, cv2.LINE_8, 4)
    shade = np.roll(cv2.GaussianBlur(cover, (0, 0), 5.0), (7, -9), axis=(0, 1))
    gloss = np.zeros_like(cover)
    cv2.line(gloss, (a[0], a[1] - 50), (b[0], b[1] - 50), 0.5, 4, cv2.LINE_8, 4)
    cover = cv2.GaussianBlur(cover, (0, 0), 0.9)
    wood = np.array([0.17, 0.34, 0.56], np.float32) * lamp.LAMP_COLOUR * 0.75
    colour = (wood * (1.0 + cv2.GaussianBlur(gloss, (0, 0), 2.0))[..., None]) * cover[..., None]
    keep = (1.0 - cover) * (1.0 - 0.6 * shade)
    return np.asarray(colour, np.float32), np.asarray(keep, np.float32), left, top


@lru_cache(maxsize=2)
def live_tool(rig: RigShift, gains: tuple[float, float, float]) -> tuple[LiveReach, int, int]:
    """The same for live pictures."""
    colour, keep, left, top = tool_on_table(rig)
    size = (keep.shape[1] * 2 // 3, keep.shape[0] * 2 // 3)
    colour = cv2.resize(colour, size, interpolation=cv2.INTER_AREA)
    keep = cv2.resize(keep, size, interpolation=cv2.INTER_AREA)
    shown = np.round(srgb(colour * np.array(gains, np.float32)) * 255.0).astype(np.uint8)
    through = cv2.merge([np.round(srgb_factor(keep) * 255.0).astype(np.uint8)] * 3)
    return LiveReach(shown, through), left * 2 // 3, top * 2 // 3


_SHADE_WIDTH = 0.26
_SHADE_SLANT = 0.25


def _shade_middle(happening: Happening) -> float:
    """Where along the picture's width (0 to 1) the shadow's middle is, at the upper edge."""
    return -0.7 + 2.4 * (happening.shade or 0.0)


def darkened(happening: Happening) -> float:
    """What the passing shadow takes of the light (0 to 1) where it lies deepest in the picture."""
    if happening.shade is None:
        return 0.0
    middle = _shade_middle(happening)
    away = max(0.0, -middle, middle - 1.0 - _SHADE_SLANT)
    return float(happening.shade_depth * np.exp(-((away / _SHADE_WIDTH) ** 2)))


def veil(happening: Happening, bottle: Field) -> Field | None:
    """What a passing shadow and a passer-by leave of the light, as a small map (90×160)."""
    if happening.shade is None and happening.passer is None:
        return None
    x = np.linspace(0.0, 1.0, _VEIL[0], dtype=np.float32)[None, :]
    y = np.linspace(0.0, 1.0, _VEIL[1], dtype=np.float32)[:, None]
    left = np.ones((_VEIL[1], _VEIL[0]), np.float32)
    if happening.shade is not None:
        along = (x + _SHADE_SLANT * y - _shade_middle(happening)) / _SHADE_WIDTH
        left *= 1.0 - happening.shade_depth * np.exp(-(along**2))
    if happening.passer is not None:
        left *= 1.0 - 0.8 * _figure(x, y, happening) * (1.0 - cv2.resize(bottle, _VEIL))
    return left


def _figure(x: Field, y: Field, happening: Happening) -> Field:
    """A person behind the table, out of focus: shoulders and more, above the table's edge."""
    way = -0.25 + 1.5 * (happening.passer or 0.0)
    middle = way if happening.passer_edge == "left" else 1.0 - way
    body = np.clip((0.115 - np.abs(x - middle)) / 0.03 + 0.5, 0.0, 1.0)
    behind = np.clip((0.308 - y) / 0.012 + 0.5, 0.0, 1.0)
    return np.asarray(body * behind, np.float32)


def under_veil(frame: Linear, map_: Field) -> Linear:
    """A still with that much of its light."""
    full = cv2.merge([cv2.resize(map_, STILL, interpolation=cv2.INTER_LINEAR)] * 3)
    return np.asarray(cv2.multiply(frame, full, dtype=cv2.CV_16U), np.uint16)


def live_under_veil(frame: Picture, map_: Field) -> Picture:
    """A live picture with that much of its light."""
    small = np.round(srgb_factor(map_) * 255.0).astype(np.uint8)
    full = cv2.merge([cv2.resize(small, LIVE, interpolation=cv2.INTER_LINEAR)] * 3)
    return np.asarray(cv2.multiply(frame, full, scale=1.0 / 255.0), np.uint8)
