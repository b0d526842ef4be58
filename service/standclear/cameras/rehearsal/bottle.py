"""The cork's own bottle, behind which it hides: green glass with a plain paper label."""

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import geometry, lamp
from standclear.cameras.rehearsal.noise import octaves

Field = NDArray[np.float32]

#: The label's lower edge above the table, in mm.
LABEL_FROM = 33.0


def _hit(columns: Field, rows: Field) -> tuple[Field, Field, Field]:
    """Where each pixel's ray meets the bottle: sideways place -1..1, height in mm, coverage."""
    eye, back = geometry.eye_and_back()
    dx, dy, dz = (
        np.float32(r[0]) * columns + (np.float32(r[1]) * rows + np.float32(r[2])) for r in back
    )
    ox, oy = eye[0] - lamp.BOTTLE_AT[0], eye[1] - lamp.BOTTLE_AT[1]
    flat = np.hypot(dx, dy)
    side = (ox * dy - oy * dx) / flat / lamp.BOTTLE_RADIUS
    depth = np.sqrt(np.maximum(0.0, 1.0 - side**2)) * lamp.BOTTLE_RADIUS
    run = -(ox * dx + oy * dy) / flat - depth
    height = eye[2] + run / flat * dz
    per_mm = geometry.FOCAL_PX / np.hypot(ox, oy)
    edge = np.clip((1.0 - np.abs(side)) * lamp.BOTTLE_RADIUS * per_mm + 0.5, 0.0, 1.0)
    # The foot is rounded: the glass ends a little higher where it turns away.
    foot = height + 1.6 * side**8
    cover = edge * np.clip(foot * per_mm * 0.9 + 0.5, 0.0, 1.0)
    return (
        np.clip(side, -1.0, 1.0).astype(np.float32),
        height.astype(np.float32),
        cover.astype(np.float32),
    )


def _bump(value: Field, middle: float, width: float) -> Field:
    return np.asarray(np.exp(-(((value - middle) / width) ** 2)), np.float32)


def _glass(side: Field, height: Field) -> Field:
    """Bottle-green glass: dark heart, a glow opposite the lamp, strips of mirrored light."""
    glow = 0.9 * _bump(side, -0.62, 0.27) + 0.25 * _bump(side, 0.15, 0.5)
    thick = 1.0 + 1.6 * _bump(height, 5.0, 3.5) - 0.7 * _bump(height, 10.5, 2.0)
    green = np.array([0.012, 0.060, 0.026], np.float32)
    colour = (0.10 + glow * thick)[..., None] * green
    lamp_strip = _bump(side, 0.52, 0.055) * np.clip((height - 7.0) / 6.0, 0.0, 1.0)
    lamp_strip += 0.18 * _bump(side, 0.66, 0.05)
    room_strip = 0.10 * _bump(side, -0.86, 0.05) + 0.22 * _bump(side, 0.95, 0.022)
    colour = colour + lamp_strip[..., None] * lamp.LAMP_COLOUR * 0.62
    colour = colour + room_strip[..., None] * np.array([0.8, 0.9, 0.8], np.float32)
    table = np.clip(1.0 - height / 26.0, 0.0, 1.0) * (0.25 + 0.5 * np.clip(side, 0.0, 1.0))
    colour = colour + (table * (1.0 - side**6))[..., None] * np.array(
        [0.012, 0.036, 0.052], np.float32
    )
    return np.asarray(colour, np.float32)


def _label(side: Field, height: Field) -> tuple[Field, Field]:
    """The paper label: its colour and where it is. A ruled border and a vine leaf, no words."""
    angle = np.asarray(np.arcsin(side), np.float32)
    reach = 1.02
    inside = np.clip((height - LABEL_FROM) * 6.0 + 0.5, 0.0, 1.0)
    inside = inside * np.clip((reach - np.abs(angle)) * 240.0 + 0.5, 0.0, 1.0)
    rng = np.random.default_rng(41)
    fibre = octaves(rng, (side.shape[0], side.shape[1]), (6.0, 9.0), 2, 0.7)
    paper = np.array([0.46, 0.60, 0.68], np.float32) * (1.0 + 0.02 * fibre)[..., None]
    arc = np.asarray(angle * lamp.BOTTLE_RADIUS, np.float32)
    up = np.asarray(height - LABEL_FROM, np.float32)
    border = np.minimum(up, (reach - np.abs(angle)) * lamp.BOTTLE_RADIUS)
    ink = np.clip(1.0 - np.abs(border - 3.0) * 2.2, 0.0, 1.0)
    ink = np.maximum(ink, np.clip(1.0 - np.abs(border - 4.6) * 4.0, 0.0, 1.0))
    ink = np.maximum(ink, _leaf(arc, up))
    wine = np.array([0.055, 0.030, 0.130], np.float32)
    paper = paper * (1.0 - 0.85 * ink[..., None]) + 0.85 * ink[..., None] * wine
    return np.asarray(paper, np.float32), np.asarray(inside, np.float32)


def _leaf(across: Field, up: Field) -> Field:
    """A five-lobed vine leaf 24 mm up the label, drawn as a wavy circle with veins."""
    up = np.asarray(up - 24.0, np.float32)
    radius = np.hypot(across, up)
    turn = np.arctan2(across, up)
    outline = 9.0 + 2.2 * np.cos(5.0 * turn) + 0.5 * np.cos(25.0 * turn)
    leaf = np.clip((outline - radius) * 2.0 + 0.5, 0.0, 1.0)
    vein = np.abs(np.sin(2.5 * turn)) * radius
    leaf = leaf * np.clip(vein * 1.5 - 0.2, 0.0, 1.0)
    return np.asarray(leaf, np.float32)


def draw(columns: Field, rows: Field) -> tuple[Field, Field]:
    """The bottle as it stands: colour (H×W×3, linear BGR) and coverage (H×W, 0 to 1)."""
    side, height, cover = _hit(columns, rows)
    colour = _glass(side, height)
    paper, inside = _label(side, height)
    angle = np.arcsin(side)
    # The lamp stands to the right and in front: the label is brightest there.
    lit = np.clip(np.cos(angle - 0.72), 0.0, 1.0) * 0.62 + 0.02
    light = lit[..., None] * lamp.LAMP_COLOUR + 0.6 * lamp.ROOM_COLOUR
    colour = colour * (1.0 - inside[..., None]) + inside[..., None] * paper * light
    colour = np.asarray(cv2.GaussianBlur(colour, (0, 0), 1.0), np.float32)
    return colour, np.asarray(cv2.GaussianBlur(cover, (0, 0), 0.9), np.float32)
