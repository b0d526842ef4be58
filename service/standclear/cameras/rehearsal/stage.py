"""The set with everything on it, put together for a still or for a live picture.

What does not change is kept: the empty set through the camera as it stands, the cork in its pose,
the developed live picture. Only what changed is drawn again, so that a live picture is cheap.
"""

import sys
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal import cork, hand, lamp, overlay, scene, sensor
from standclear.cameras.rehearsal.acting import Pose
from standclear.cameras.rehearsal.cork import Sprite
from standclear.cameras.rehearsal.drawn import drawn_set
from standclear.cameras.rehearsal.geometry import LIVE, RigShift
from standclear.cameras.rehearsal.knobs import Recipe
from standclear.cameras.rehearsal.light import Light
from standclear.cameras.rehearsal.scene import UNIT, Linear
from standclear.cameras.rehearsal.script import Happening
from standclear.cameras.rehearsal.sensor import Code16, Picture

Field = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class View:
    """All that shows in one picture.

    ``slide`` moves the drawn cork by (right, down) px of a still, and ``shear`` tips it: px to the
    right for each px of height; both while a hand moves it or it wobbles to rest.
    """

    pose: Pose
    slide: tuple[float, float]
    shear: float
    foot_px: tuple[float, float]
    rig: RigShift
    light: Light
    recipe: Recipe
    happening: Happening

    @property
    def grip(self) -> tuple[float, float]:
        """Where the fingers hold the cork, in px of a still."""
        return (
            self.foot_px[0] + self.slide[0] + 50.0,
            self.foot_px[1] + self.slide[1] - overlay.GRIP_PX,
        )


@dataclass(slots=True)
class _Kept:
    """What was drawn last, with what it was drawn for."""

    rig: RigShift | None = None
    plain: Linear = field(default_factory=lambda: np.empty(0, np.uint16))
    bottle: Field = field(default_factory=lambda: np.empty(0, np.float32))
    small: Linear | None = None
    small_bottle: Field = field(default_factory=lambda: np.empty(0, np.float32))
    small_sprite: Sprite | None = None
    actor: tuple[Pose, RigShift] | None = None
    sprite: Sprite | None = None
    empty_for: object = None
    empty: Picture = field(default_factory=lambda: np.empty(0, np.uint8))
    posed_for: object = None
    posed: Picture = field(default_factory=lambda: np.empty(0, np.uint8))
    table_for: object = None
    table: NDArray[np.int16] = field(default_factory=lambda: np.empty(0, np.int16))


class Frames:
    """Live pictures' memory, lent out and used again once nobody holds it.

    Fresh memory for each picture costs more (page faults) than all the drawing in it.
    """

    _MOST = 24

    def __init__(self, shape: tuple[int, int, int]) -> None:
        self._shape = shape
        self._all: list[Picture] = []

    def lend(self) -> Picture:
        """A picture's memory with anything in it."""
        for place in range(len(self._all)):
            # Two references: the list's and the call's own argument.
            if sys.getrefcount(self._all[place]) <= 2:
                return self._all[place]
        frame = np.empty(self._shape, np.uint8)
        if len(self._all) < self._MOST:
            self._all.append(frame)
        return frame


def _smaller_of(kept: _Kept) -> Sprite:
    """The cork at live's size; there is one once it was drawn."""
    if kept.small_sprite is None:
        raise ValueError("The cork has not been drawn yet.")
    return kept.small_sprite


class Stage:
    """Draws views. Not for two threads at once."""

    def __init__(self, *, card: bool) -> None:
        self._set = drawn_set(card)
        self._kept = _Kept()
        self._frames = Frames((LIVE[1], LIVE[0], 3))

    def still(self, view: View) -> Code16:
        """The still, 1080×1920×3, in code steps, before noise."""
        frame = self._plain(view.rig).copy()
        self._put_cork(frame, view, self._sprite(view), self._kept.bottle)
        if view.happening.tool_left:
            overlay.lay_linear(frame, *overlay.tool_on_table(view.rig))
        self._put_hand(frame, view)
        veil = overlay.veil(view.happening, self._kept.bottle)
        if veil is not None:
            frame = overlay.under_veil(frame, veil)
        return self._develop(_soften(frame, view.recipe.blur_px), view)

    def live(self, view: View) -> Picture:
        """The live picture, 720×1280×3, before noise."""
        frame = self._posed_live(view)
        happening, gains = view.happening, _gains(view)
        if happening.tool_left:
            overlay.lay_live(frame, *overlay.live_tool(view.rig, gains))
        if happening.hand is not None:
            at = happening.hand
            drawn = overlay.live_reach(at, gains)
            left, top = overlay.place(at, view.grip)
            overlay.lay_live(frame, drawn, left * 2 // 3, top * 2 // 3)
        veil = overlay.veil(happening, self._kept.bottle)
        return frame if veil is None else overlay.live_under_veil(frame, veil)

    def _plain(self, rig: RigShift) -> Linear:
        kept = self._kept
        if kept.rig != rig:
            kept.plain = scene.photograph(self._set, rig)
            kept.bottle = scene.bottle_cover(self._set, rig)
            kept.rig, kept.small = rig, None
        return kept.plain

    def _sprite(self, view: View) -> Sprite:
        kept = self._kept
        if kept.sprite is None or kept.actor != (view.pose, view.rig):
            kept.sprite = cork.draw(view.pose, view.rig)
            kept.small_sprite = _smaller(kept.sprite)
            kept.actor = (view.pose, view.rig)
        return kept.sprite

    @staticmethod
    def _put_cork(frame: Linear, view: View, sprite: Sprite, bottle: Field) -> None:
        moved = _moved(sprite, view, 1.0)
        height, width = moved.cover.shape
        here = np.s_[moved.top : moved.top + height, moved.left : moved.left + width]
        frame[here] = _with_cork(frame[here], moved, _before(view, bottle[here]))

    @staticmethod
    def _put_hand(frame: Linear, view: View) -> None:
        at = view.happening.hand
        if at is not None:
            drawn = hand.reach(at.edge, at.sleeve, at.tool)
            overlay.lay_linear(frame, drawn.colour, drawn.keep, *overlay.place(at, view.grip))

    def _table(self, gains: tuple[float, float, float]) -> NDArray[np.int16]:
        kept = self._kept
        if kept.table_for != gains:
            kept.table, kept.table_for = sensor.tone_table(gains), gains
        return kept.table

    def _develop(self, frame: Linear, view: View) -> Code16:
        light = view.light
        if light.even:
            return sensor.develop(frame, self._table(_gains(view)))
        gain = light.field(frame.shape[1], frame.shape[0])
        lit = cv2.multiply(frame, cv2.merge([gain] * 3), dtype=cv2.CV_16U)
        return sensor.develop(lit, self._table(view.recipe.gains))

    def _posed_live(self, view: View) -> Picture:
        """The live picture with the cork, in a copy of its own."""
        kept = self._kept
        plain = self._plain(view.rig)
        self._sprite(view)
        if kept.small is None:
            kept.small = np.asarray(
                cv2.resize(plain, LIVE, interpolation=cv2.INTER_AREA), np.uint16
            )
            kept.small_bottle = cv2.resize(kept.bottle, LIVE, interpolation=cv2.INTER_AREA)
            kept.empty_for = None
        look = (view.rig, view.light, view.recipe.gains, view.recipe.blur_px)
        if kept.empty_for != look:
            small = _soften(kept.small, view.recipe.blur_px / 1.5)
            kept.empty = sensor.to_bytes(self._develop(small, view))
            kept.empty_for, kept.posed_for = look, None
        posed = (look, view.pose, view.slide, view.shear)
        if kept.posed_for != posed:
            if kept.posed.shape == kept.empty.shape:
                np.copyto(kept.posed, kept.empty)
            else:
                kept.posed = kept.empty.copy()
            self._put_live_cork(kept.posed, kept.small, _smaller_of(kept), view)
            kept.posed_for = posed
        frame = self._frames.lend()
        np.copyto(frame, kept.posed)
        return frame

    def _put_live_cork(self, picture: Picture, small: Linear, sprite: Sprite, view: View) -> None:
        moved = _moved(sprite, view, 2.0 / 3.0)
        height, width = moved.cover.shape
        here = np.s_[moved.top : moved.top + height, moved.left : moved.left + width]
        bottle = self._kept.small_bottle[here]
        lit = _with_cork(small[here], moved, _before(view, bottle))
        lit = _soften(lit, view.recipe.blur_px / 1.5)
        if not view.light.even:
            gain = view.light.field(LIVE[0], LIVE[1])[here]
            lit = cv2.multiply(lit, cv2.merge([gain] * 3), dtype=cv2.CV_16U)
            picture[here] = sensor.to_bytes(sensor.develop(lit, self._table(view.recipe.gains)))
        else:
            picture[here] = sensor.to_bytes(sensor.develop(lit, self._table(_gains(view))))


def _gains(view: View) -> tuple[float, float, float]:
    """The recipe's gains with an even light's folded in (else with its mean)."""
    light = view.light.left if view.light.even else 0.5 * (view.light.left + view.light.right)
    b, g, r = view.recipe.gains
    return (b * light, g * light, r * light)


def _before(view: View, bottle: Field) -> Field | None:
    """What the bottle leaves to be seen of the cork; ``None``: all, as it stands before it."""
    behind = view.pose.y_mm > lamp.BOTTLE_AT[1]
    return 1.0 - bottle if behind and bool(bottle.any()) else None


def _with_cork(ground: Linear, sprite: Sprite, seen: Field | None) -> Linear:
    """The sprite over the ground; ``seen`` is what the bottle leaves of it (``None``: all)."""
    cover, light, colour = sprite.cover, sprite.light, sprite.colour
    if seen is not None:
        cover, light = cover * seen, 1.0 - (1.0 - light) * seen
        colour = cv2.multiply(colour, cv2.merge([seen] * 3))
    through = light * (1.0 - cover)
    left = cv2.multiply(ground, cv2.merge([through] * 3), dtype=cv2.CV_32F)
    return np.asarray(cv2.add(left, cv2.multiply(colour, (UNIT,) * 4), dtype=cv2.CV_16U), np.uint16)


def _smaller(sprite: Sprite) -> Sprite:
    """The sprite at live's size."""
    size = (sprite.cover.shape[1] * 2 // 3, sprite.cover.shape[0] * 2 // 3)
    colour, cover, light = (
        cv2.resize(part, size, interpolation=cv2.INTER_AREA)
        for part in (sprite.colour, sprite.cover, sprite.light)
    )
    return Sprite(colour, cover, light, sprite.left * 2 // 3, sprite.top * 2 // 3)


def _moved(sprite: Sprite, view: View, size: float) -> Sprite:
    """The sprite, of a still's (1) or live's (2/3) size, slid and sheared as the view has it."""
    if view.slide == (0.0, 0.0) and view.shear == 0.0:
        return sprite
    left, top = sprite.left, sprite.top
    height, width = sprite.cover.shape
    whole = (round(view.slide[0] * size / 2) * 2, round(view.slide[1] * size / 2) * 2)
    rest = (view.slide[0] * size - whole[0], view.slide[1] * size - whole[1])
    foot = view.foot_px[1] * size - top
    move = np.array([[1.0, -view.shear, rest[0] + view.shear * foot], [0.0, 1.0, rest[1]]])
    edges = (0.0, 0.0, 1.0)
    layers = [
        cv2.warpAffine(a, move, (width, height), borderValue=(edge,) * 3)
        for a, edge in zip((sprite.colour, sprite.cover, sprite.light), edges, strict=True)
    ]
    return _inside(Sprite(layers[0], layers[1], layers[2], left + whole[0], top + whole[1]), size)


def _inside(sprite: Sprite, size: float) -> Sprite:
    """Cut off what was slid out of the frame (whole pairs of pixels)."""
    frame = (round(1920 * size), round(1080 * size))
    x0, y0 = max(0, -sprite.left), max(0, -sprite.top)
    height, width = sprite.cover.shape
    x1 = max(x0 + 2, min(width, frame[0] - sprite.left))
    y1 = max(y0 + 2, min(height, frame[1] - sprite.top))
    part = np.s_[y0:y1, x0:x1]
    return Sprite(
        sprite.colour[part],
        sprite.cover[part],
        sprite.light[part],
        sprite.left + x0,
        sprite.top + y0,
    )


def _soften(frame: Linear, blur_px: float) -> Linear:
    """Out of focus by that much."""
    if blur_px < 0.05:
        return frame
    return np.asarray(cv2.GaussianBlur(frame, (0, 0), blur_px), np.uint16)
