"""The lamp over the table: how much of it reaches a point, and from where.

Quantities are relative: 1.0 is what makes a white card in the middle of the pool of light white.
"""

import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]

#: Where the lamp hangs, in mm on the table.
LAMP_AT = (290.0, -60.0, 330.0)
#: Colours of the lamp and of what the dark room gives back, BGR in linear light.
LAMP_COLOUR = np.array([0.74, 1.00, 1.24], np.float32)
ROOM_COLOUR = np.array([0.105, 0.080, 0.058], np.float32)
#: The pool of light: its middle and its reach, in mm.
POOL_AT = (8.0, 20.0)
POOL_REACH = 128.0
#: The bottle: its axis and radius, in mm.
BOTTLE_AT = (-108.0, 72.0)
BOTTLE_RADIUS = 37.5


def pool(x: Field, y: Field) -> Field:
    """How strongly the lamp lights the point (x, y) mm, 0 to 1, bottle aside."""
    distance = np.hypot(x - POOL_AT[0], (y - POOL_AT[1]) * 1.12)
    return np.asarray(1.0 / (1.0 + (distance / POOL_REACH) ** 3.2), np.float32)


def bottle_shade(x: Field, y: Field) -> Field:
    """1 where the bottle leaves the lamp free, down to 0 in the core of its shadow."""
    to_lamp = np.hypot(LAMP_AT[0] - x, LAMP_AT[1] - y)
    ux, uy = (LAMP_AT[0] - x) / to_lamp, (LAMP_AT[1] - y) / to_lamp
    bx, by = BOTTLE_AT[0] - x, BOTTLE_AT[1] - y
    along = bx * ux + by * uy
    aside = np.abs(bx * uy - by * ux)
    soft = 3.0 + 0.09 * np.maximum(along, 0.0)
    covered = np.clip((BOTTLE_RADIUS - aside) / soft + 0.5, 0.0, 1.0)
    covered = covered * covered * (3.0 - 2.0 * covered)
    return np.asarray(1.0 - covered * np.clip(along / 12.0, 0.0, 1.0), np.float32)


def bottle_contact(x: Field, y: Field) -> Field:
    """The dark around the bottle's foot, as a factor."""
    gap = np.hypot(x - BOTTLE_AT[0], y - BOTTLE_AT[1]) - BOTTLE_RADIUS
    return np.asarray(1.0 - 0.75 * np.exp(-np.maximum(gap, 0.0) / 7.0), np.float32)


def on_table(x: Field, y: Field) -> Field:
    """Light on the table at (x, y) mm, H×W×3 linear BGR."""
    key = pool(x, y) * bottle_shade(x, y)
    contact = bottle_contact(x, y)
    return np.asarray(contact[..., None] * (key[..., None] * LAMP_COLOUR + ROOM_COLOUR), np.float32)
