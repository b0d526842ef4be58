"""The set without its actor: table, wall, bottle, lamp. Drawn once, at twice a still's size.

The *master* holds linear light as 16-bit numbers, :data:`UNIT` for what makes white. It is drawn
twice as fine as a still and softened as a lens does (the blur is wider than the grid), so that a
picture taken from a camera that was moved by a fraction of a pixel is sampled from it by linear
interpolation without a bias.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import bottle, lamp
from standclear.cameras.rehearsal.geometry import STILL, RigShift, table_to_picture
from standclear.cameras.rehearsal.noise import octaves, wood

Field = NDArray[np.float32]
Linear = NDArray[np.uint16]

#: The 16-bit number that stands for white (1.0); above it there is headroom before it clips.
UNIT = 40000.0
#: The master's pixels for one of a still.
FINE = 2
#: The back edge of the table, in mm.
TABLE_END = 232.0
#: An ISO/IEC 7810 ID-1 card: width, height and corner radius in mm (the standard's nominal).
CARD_MM = (85.60, 53.98)
CARD_CORNER_MM = 3.18
#: Where the card's centre lies and how it is turned (mm, degrees).
CARD_AT = (88.0, 24.0, 9.0)

_TEXTURE_PX_PER_MM = 6.0
_TEXTURE_MM = (500.0, 400.0)
_GRAIN_TURN_DEG = -7.0


@dataclass(frozen=True, slots=True)
class Scene:
    """The empty set. ``master`` is 2160×3840×3; ``bottle`` its coverage in a still, 1080×1920."""

    master: Linear = field(repr=False)
    bottle: Field = field(repr=False)


def master_matrix() -> NDArray[np.float64]:
    """From pixels of a still to pixels of the master."""
    middle = (FINE - 1) / 2
    return np.array([[FINE, 0.0, middle], [0.0, FINE, middle], [0.0, 0.0, 1.0]])


@lru_cache(maxsize=2)
def empty_set(card: bool = False) -> Scene:
    """The set, drawn; the same every time. ``card`` lays an ID-1 card on the table."""
    light, wall = _light_and_wall()
    picture = _table()
    if card:
        _lay_card(picture)
    picture *= light
    edge = _table_cover()[..., None]
    picture = _far_blur(picture * edge + wall * (1.0 - edge))
    cover = _stand_bottle(picture)
    picture *= _vignette()[..., None]
    picture = cv2.GaussianBlur(picture, (0, 0), 1.1)
    master = np.clip(picture * UNIT, 0.0, 65535.0).astype(np.uint16)
    return Scene(master, cover)


def photograph(scene: Scene, rig: RigShift) -> Linear:
    """The empty set through the camera as it stands: a still in linear light, 1080×1920×3."""
    back = (master_matrix() @ np.linalg.inv(rig.matrix()))[:2]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    seen = cv2.warpAffine(scene.master, back, STILL, flags=flags, borderMode=cv2.BORDER_REFLECT_101)
    return _as_sharp_anywhere(seen, back)


def _as_sharp_anywhere(seen: Linear, back: NDArray[np.float64]) -> Linear:
    """Give back what linear interpolation took, so that sharpness does not tell a shift's fraction.

    At a fraction t between two pixels of the master it lessens a wave of angular frequency w by
    t(1-t)w²/2 to second order; the same share of the second difference is put back.
    """
    if back[0, 1] == 0.0 and back[0, 0] == FINE:
        ax, ay = (_lost(back[i, 2]) for i in range(2))
        kernel = np.array([[0, -ay, 0], [-ax, 1 + 2 * (ax + ay), -ax], [0, -ay, 0]])
        return np.asarray(cv2.filter2D(seen, -1, kernel), np.uint16)
    columns = np.arange(STILL[0], dtype=np.float32)[None, :]
    rows = np.arange(STILL[1], dtype=np.float32)[:, None]
    whole = seen.astype(np.float32)
    sharp = whole.copy()
    for axis, across in enumerate((np.array([[-1.0, 2.0, -1.0]]), np.array([[-1.0], [2.0], [-1]]))):
        m = back[axis].astype(np.float32)
        share = _lost(m[0] * columns + (m[1] * rows + m[2]))
        sharp += cv2.filter2D(whole, -1, across) * np.asarray(share, np.float32)[..., None]
    return np.clip(sharp, 0.0, 65535.0).astype(np.uint16)


def _lost(place: Any) -> Any:
    """The share of the still's second difference that is lost at that place of the master.

    1/8 is t(1-t)w²/2 with w halved from still to master; 1.35 makes up for the second difference
    being less than w² toward the finest detail.
    """
    t = place - np.floor(place)
    return 1.35 * t * (1.0 - t) / 8.0


def bottle_cover(scene: Scene, rig: RigShift) -> Field:
    """The bottle's coverage through the camera as it stands."""
    if rig == RigShift():
        return scene.bottle
    back = np.linalg.inv(rig.matrix())[:2]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(scene.bottle, back, STILL, flags=flags), np.float32)


def _size(step: int) -> tuple[int, int]:
    return STILL[0] * FINE // step, STILL[1] * FINE // step


def _grid(step: int) -> tuple[Field, Field]:
    """Pixel centres of the master, every ``step``-th, in pixels of a still."""
    width, height = _size(step)
    x = ((np.arange(width) + 0.5) * step / FINE - 0.5).astype(np.float32)
    y = ((np.arange(height) + 0.5) * step / FINE - 0.5).astype(np.float32)
    columns, rows = np.meshgrid(x, y)
    return columns, rows


def _table_places(step: int) -> tuple[Field, Field, Field]:
    """Table x, y (mm) under each pixel, and whether the ray meets the table at all."""
    columns, rows = _grid(step)
    back = np.linalg.inv(table_to_picture()).astype(np.float32)
    down = back[2, 0] * columns + back[2, 1] * rows + back[2, 2]
    x = (back[0, 0] * columns + back[0, 1] * rows + back[0, 2]) / down
    y = (back[1, 0] * columns + back[1, 1] * rows + back[1, 2]) / down
    return x, y, np.asarray(down * np.sign(back[2, 2]) > 0, np.float32)


def _enlarge(small: Field) -> Field:
    return np.asarray(cv2.resize(small, _size(1), interpolation=cv2.INTER_LINEAR), np.float32)


def _table() -> Field:
    """The boards in the master's perspective, unlit: linear BGR."""
    px = _TEXTURE_PX_PER_MM
    shape = (int(_TEXTURE_MM[1] * px), int(_TEXTURE_MM[0] * px))
    tone, shade = wood(np.random.default_rng(7), shape, int(82 * px))
    turn = np.deg2rad(_GRAIN_TURN_DEG)
    place = np.array(
        [
            [np.cos(turn) / px, np.sin(turn) / px, -_TEXTURE_MM[0] / 2],
            [np.sin(turn) / px, -np.cos(turn) / px, 0.5 * _TEXTURE_MM[1] + 72.0],
            [0.0, 0.0, 1.0],
        ]
    )
    through = master_matrix() @ table_to_picture() @ place
    seen = [
        cv2.warpPerspective(layer, through, _size(1), borderMode=cv2.BORDER_REFLECT_101)
        for layer in (tone, shade)
    ]
    dark = np.array([0.012, 0.030, 0.075], np.float32)
    light = np.array([0.175, 0.350, 0.620], np.float32)
    return np.asarray((dark + (light - dark) * seen[0][..., None]) * seen[1][..., None], np.float32)


def _table_cover() -> Field:
    """1 on the table, 0 on the wall, with a soft edge."""
    _, y, meets = _table_places(1)
    return np.asarray(np.clip((TABLE_END - y) / 3.0 + 0.5, 0.0, 1.0) * meets, np.float32)


def _light_and_wall() -> tuple[Field, Field]:
    """The light on the table and the wall behind it, both at the master's size."""
    x, y, meets = _table_places(4)
    far = np.where(meets > 0, np.clip(y, -300.0, 900.0), 900.0).astype(np.float32)
    return _enlarge(lamp.on_table(x, far)), _enlarge(_wall())


def _wall() -> Field:
    """A dim plastered wall, far out of focus, with the lamp's glow and a shelf of dark shapes."""
    columns, rows = _grid(4)
    rng = np.random.default_rng(11)
    shape = (columns.shape[0], columns.shape[1])
    mottle = 1.0 + 0.10 * octaves(rng, shape, (90.0, 120.0), 3, 0.5)
    glow = np.exp(-(((columns - 1330.0) / 620.0) ** 2) - ((rows - 330.0) / 420.0) ** 2)
    colour = np.array([0.048, 0.036, 0.018], np.float32) * mottle[..., None]
    colour = colour + (glow * mottle)[..., None] * np.array([0.036, 0.060, 0.085], np.float32)
    shapes = _shelf(shape)
    colour = colour * (1.0 - 0.72 * shapes[..., None])
    return np.asarray(cv2.GaussianBlur(colour, (0, 0), 5.0), np.float32)


def _shelf(shape: tuple[int, int]) -> Field:
    """Shapes of bottles and jars on a far shelf, quite blurred: 0 to 1."""
    canvas = np.zeros(shape, np.float32)
    foot = int(0.30 * shape[0])
    for x, wide, high in ((0.44, 26, 170), (0.53, 38, 92), (0.86, 30, 190), (0.93, 44, 110)):
        middle = int(x * shape[1])
        cv2.rectangle(canvas, (middle - wide, foot - high), (middle + wide, foot), 1.0, -1)
        cv2.ellipse(canvas, (middle, foot - high), (wide, wide), 0, 0, 360, 1.0, -1)
    return np.asarray(cv2.GaussianBlur(canvas, (0, 0), 13.0), np.float32)


def _far_blur(picture: Field) -> Field:
    """Depth of field: what lies behind the stage goes soft, the farther the softer."""
    rows = int(picture.shape[0] * 0.52)
    band = picture[:rows]
    soft = cv2.GaussianBlur(band, (0, 0), 6.0)
    start, end = 0.50 * picture.shape[0], 0.27 * picture.shape[0]
    weight = np.clip((start - np.arange(rows)) / (start - end), 0.0, 1.0).astype(np.float32)
    picture[:rows] = band + (soft - band) * weight[:, None, None]
    return picture


def _stand_bottle(picture: Field) -> Field:
    """Stand the bottle on the table; returns its coverage in a still."""
    columns, rows = _grid(FINE)
    right, bottom = 700, 760
    colour, cover = bottle.draw(columns[:bottom, :right], rows[:bottom, :right])
    whole = np.zeros((STILL[1], STILL[0]), np.float32)
    whole[:bottom, :right] = cover
    size = (right * FINE, bottom * FINE)
    colour, cover = (cv2.resize(a, size, interpolation=cv2.INTER_LINEAR) for a in (colour, cover))
    part = picture[: size[1], : size[0]]
    part += (colour - part) * cover[..., None]
    return whole


def _lay_card(picture: Field) -> None:
    """Lay a plain ID-1 card on the table, flat and 0.76 mm thin, so drawn in the plane itself."""
    x, y, _ = _table_places(1)
    turn = np.deg2rad(CARD_AT[2])
    across = (x - CARD_AT[0]) * np.cos(turn) + (y - CARD_AT[1]) * np.sin(turn)
    up = -(x - CARD_AT[0]) * np.sin(turn) + (y - CARD_AT[1]) * np.cos(turn)
    qx = np.abs(across) - CARD_MM[0] / 2 + CARD_CORNER_MM
    qy = np.abs(up) - CARD_MM[1] / 2 + CARD_CORNER_MM
    outside = np.hypot(np.maximum(qx, 0.0), np.maximum(qy, 0.0)) + np.minimum(
        np.maximum(qx, qy), 0.0
    )
    gap = outside - CARD_CORNER_MM
    cover = np.clip(0.5 - gap * 6.4 * FINE * 0.7, 0.0, 1.0)[..., None]
    shade = 1.0 - 0.5 * np.exp(-np.maximum(gap, 0.0) / 0.9)[..., None]
    stripe = np.clip(0.5 - (np.abs(up - 16.0) - 5.0) * 8.0, 0.0, 1.0)[..., None]
    face = np.array([0.62, 0.55, 0.46], np.float32) * (1.0 - 0.75 * stripe)
    picture *= shade
    picture += (face - picture) * cover


def card_corners_mm() -> NDArray[np.float64]:
    """The card's four corners on the table if they were sharp (4×2, mm), anticlockwise from the
    near left one as the card lies."""
    turn = np.deg2rad(CARD_AT[2])
    half = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * CARD_MM
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(half @ spin + CARD_AT[:2])


def _vignette() -> Field:
    """The lens's own fall-off toward the corners."""
    columns, rows = _grid(8)
    reach = np.hypot((columns - STILL[0] / 2) / STILL[0], (rows - STILL[1] / 2) / STILL[0])

    return _enlarge(np.asarray((1.0 - 0.62 * reach**2 / 0.33), np.float32))
