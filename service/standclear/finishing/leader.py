"""The card before a film: the shot's name and its rate, plain and legible."""

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from standclear.finishing.develop import Pixels, as_sixteen_bits

_GROUND = 16
_LETTERS = 220


def leader_card(name: str, rate: str, size: tuple[int, int], *, deep: bool = False) -> Pixels:
    """A card of ``size`` (width, height), (height, width, 3), grey letters on near black."""
    width, height = size
    card = Image.new("L", size, _GROUND)
    draw = ImageDraw.Draw(card)
    lines = (name, f"{rate} frames per second")
    for place, line in enumerate(lines):
        font = _fitting(line, width * 0.86, max(8.0, height * (0.11, 0.06)[place]))
        draw.text(
            (width / 2, height * (0.44, 0.6)[place]), line, fill=_LETTERS, font=font, anchor="mm"
        )
    picture = np.repeat(np.asarray(card)[:, :, None], 3, axis=2)
    return as_sixteen_bits(picture) if deep else picture


def _fitting(line: str, room: float, size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    font = ImageFont.load_default(size)
    width = font.getlength(line)
    return font if width <= room else ImageFont.load_default(max(6.0, size * room / width))
