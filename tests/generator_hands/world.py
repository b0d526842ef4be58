"""The set, drawn: grain, props, an object with stripes, a hand of strokes, light, noise, JPEG.

Everything is drawn in 8-bit codes of a plain power law; a tone curve of the camera's own follows.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.generator_hands.plan import Act, Truth

WIDTH, HEIGHT = 640, 360
HORIZON = 120
LEAST_HAND_PX = 12
"""Fewer are drawn by nobody's hand: a fingertip's rounding at the border."""
_SIDES = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, 1.0), "top": (0.0, -1.0)}

Codes = NDArray[np.uint8]
Pair = NDArray[np.float64]


class World:
    """One set. ``show`` draws the moment ``t`` seconds into an act."""

    def __init__(self, seed: int, *, jpeg: int | None = None, noise: float = 1.2) -> None:
        self.rng = np.random.default_rng([seed, 4711])
        self.jpeg = jpeg
        self.pose = 0
        self.left_tool = False
        self.shift = (0.0, 0.0)
        self.lamp = 1.0
        self._empty = self._furnish()
        self._sprite, self._cover = self._object()
        self._path = self._steps()
        self._curve = self._tone_curve(float(self.rng.uniform(-0.25, 0.25)))
        grain = np.round(self.rng.standard_normal((HEIGHT + 64, WIDTH + 64, 3)) * noise)
        self._more = np.maximum(grain, 0).astype(np.uint8)
        self._less = np.maximum(-grain, 0).astype(np.uint8)

    # -- the set ---------------------------------------------------------------------------------

    def _furnish(self) -> Codes:
        rng = self.rng
        picture = np.empty((HEIGHT, WIDTH, 3), np.float32)
        picture[:HORIZON] = rng.uniform(70, 140, 3)
        picture[HORIZON:] = rng.uniform(90, 170, 3)
        for size, depth in ((60, 0.12), (9, 0.06), (2, 0.05)):
            field = rng.standard_normal((HEIGHT // size + 2, WIDTH // size + 2)).astype(np.float32)
            picture *= (1 + depth * cv2.resize(field, (WIDTH, HEIGHT)))[..., None]
        for _ in range(int(rng.integers(2, 5))):
            x, y = int(rng.integers(40, WIDTH - 90)), int(rng.integers(60, 130))
            size = rng.integers(15, 45, 2)
            corner = (x + int(size[0]), y + int(size[1]))
            cv2.rectangle(picture, (x, y), corner, rng.uniform(30, 220, 3).tolist(), -1)
        fall = np.linspace(float(rng.uniform(0.8, 1)), float(rng.uniform(0.8, 1)), WIDTH)
        picture = cv2.GaussianBlur(picture * fall[None, :, None], (0, 0), 0.7)
        return np.clip(picture, 12, 240).astype(np.uint8)

    def _object(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """A striped lozenge, 92×92, and its coverage."""
        cover = np.zeros((92, 92), np.float32)
        size = (int(self.rng.integers(16, 26)), int(self.rng.integers(24, 36)))
        cv2.ellipse(cover, (46, 46), size, 0, 0, 360, 1.0, -1, cv2.LINE_8)
        skin = np.empty((92, 92, 3), np.float32)
        skin[:] = self.rng.uniform(120, 225, 3)
        for y in range(4, 92, int(self.rng.integers(7, 13))):
            cv2.line(skin, (0, y), (92, y + 8), self.rng.uniform(30, 110, 3).tolist(), 2)
        return cv2.GaussianBlur(skin, (0, 0), 0.8), cv2.GaussianBlur(cover, (0, 0), 0.9)

    def _steps(self) -> NDArray[np.float64]:
        """x, y, turn for each pose: a wandering path, 1.2 to 9 px and 1° to 6° a step."""
        rng, count = self.rng, 400
        x, y, turn = 320.0, 240.0, 0.0
        steps = []
        for angle in np.cumsum(rng.uniform(-0.5, 0.5, count)) + rng.uniform(0, 6.28):
            step = rng.uniform(1.2, 9)
            turn += float(rng.choice((-1, 1)) * rng.uniform(1, 6))
            dx, dy = np.cos(angle) * step, np.sin(angle) * step * 0.5
            x += dx if 200 < x + dx < 440 else -dx
            y += dy if 200 < y + dy < 280 else -dy
            steps.append((x, y, turn))
        return np.array(steps)

    @staticmethod
    def _tone_curve(bend: float) -> Codes:
        """An S-curve (or its inverse) over the power law."""
        x = np.arange(256) / 255.0
        bent = x + bend * np.sin(2 * np.pi * x) / (2 * np.pi)
        return np.round(np.clip(bent, 0, 1) * 255).astype(np.uint8)

    # -- a moment --------------------------------------------------------------------------------

    def show(self, act: Act | None, t: float) -> tuple[Codes, Truth]:
        """The picture (360×640×3, BGR codes) and the truth."""
        picture = self._empty.copy()
        passing = act is not None and act.passer is not None and _within(t, act.passer)
        if passing and act is not None:
            self._passer(picture, act, t)
        there, sway = self._where(act, t), self._sway(act, t)
        self._lay_object(picture, there, sway)
        left = self.left_tool or (act is not None and act.leaves and t > act.gone - 0.2)
        if left:
            cv2.line(picture, (470, 262), (548, 292), (60, 120, 200), 4, cv2.LINE_AA)
        hand = False
        if act is not None and act.way[0][0] < t < act.gone:
            hand = self._lay_hand(picture, act, t, there)
        shaded = act is not None and act.shadow is not None and _within(t, act.shadow)
        if shaded and act is not None:
            picture = self._shaded(picture, act, t)
        sd = act.flicker if act is not None else 0.0
        gain = self.lamp * (1 + sd * float(self.rng.standard_normal()))
        truth = Truth(hand, self._pose_at(act, t), abs(sway), shaded, passing, left)
        return self._develop(picture, gain), truth

    def finish(self, act: Act) -> None:
        """The act is over: what it changed stays."""
        self.pose += act.moves
        self.left_tool = self.left_tool or act.leaves

    def _pose_at(self, act: Act | None, t: float) -> int:
        return self.pose + (act is not None and act.moves and t >= act.let_go)

    def _where(self, act: Act | None, t: float) -> Pair:
        """Where the object stands, while the hand carries it from pose to pose."""
        here = np.asarray(self._path[self.pose])
        if act is None or not act.moves:
            return here
        part = float(np.clip((t - act.grip) / (act.let_go - act.grip), 0, 1))
        return np.asarray(here + (self._path[self.pose + 1] - here) * part)

    @staticmethod
    def _sway(act: Act | None, t: float) -> float:
        """Degrees off rest."""
        if act is None or not act.let_go < t < act.let_go + act.wobble:
            return 0.0
        fade = 1 - (t - act.let_go) / act.wobble
        return float(5.0 * fade**1.5 * np.sin(2 * np.pi * 2.7 * (t - act.let_go)))

    def _lay_object(self, picture: Codes, there: Pair, sway: float) -> None:
        corner = np.floor(there[:2] - 46)
        move = cv2.getRotationMatrix2D((46, 46), there[2] + sway, 1.0)
        move[:, 2] += there[:2] - 46 - corner
        x, y = (int(v) for v in corner)
        skin = cv2.warpAffine(self._sprite, move, (92, 92), borderMode=cv2.BORDER_REPLICATE)
        cover = cv2.warpAffine(self._cover, move, (92, 92))
        dark = np.roll(cv2.GaussianBlur(cover, (0, 0), 6), (8, 6), (0, 1))
        box = picture[y : y + 92, x : x + 92]
        under = box * (1 - 0.2 * dark)[..., None]
        box[:] = np.round(under * (1 - cover[..., None]) + skin * cover[..., None])

    def _lay_hand(self, picture: Codes, act: Act, t: float, there: Pair) -> bool:
        """Strokes for arm and fingers; true when any of it is in the picture."""
        times, reaches = zip(*act.way, strict=True)
        reach = float(np.interp(t, times, reaches))
        outward = np.array(_SIDES[act.side])
        angle = np.arctan2(outward[1], outward[0]) + act.tilt
        along = np.array([np.cos(angle), np.sin(angle)])
        rooms = (("left", there[0]), ("right", WIDTH - there[0]), ("bottom", HEIGHT - there[1]))
        far = dict(rooms).get(act.side, there[1]) + 90
        shake = 0.6 * np.sin(17 * t) * (reach > 0.97)
        tip = there[:2] + along * (18 + (1 - reach) * far / float(along @ outward)) + shake
        cover, colour = self._strokes(act, tip, along)
        if np.count_nonzero(cover) < LEAST_HAND_PX:
            return False
        small = cv2.blur(cv2.resize(cover, (WIDTH // 4, HEIGHT // 4)), (7, 7))
        dark = np.roll(cv2.resize(small, (WIDTH, HEIGHT)), (10, 8), (0, 1))
        lit = cv2.merge([255 - cv2.convertScaleAbs(dark, alpha=0.25)] * 3)
        cv2.multiply(picture, lit, dst=picture, scale=1 / 255)
        soft = cv2.merge([cv2.blur(cover, (3, 3))] * 3)
        through = cv2.multiply(picture, 255 - soft, scale=1 / 255)
        picture[:] = cv2.add(through, cv2.multiply(colour, soft, scale=1 / 255))
        return True

    def _strokes(self, act: Act, tip: Pair, along: Pair) -> tuple[Codes, Codes]:
        """Coverage (0..255) and colour."""
        cover = np.zeros((HEIGHT, WIDTH), np.uint8)
        side = np.array([-along[1], along[0]])
        palm = tip + along * 46
        for spread in (-16.0, -5.0, 6.0, 17.0):
            _stroke(cover, tip + side * spread * 0.7, palm + side * spread, 11)
        _stroke(cover, palm, palm + along * 30, 46)
        wrist = palm + along * 40
        _stroke(cover, wrist, wrist + along * 800, 40)
        colour = np.empty((HEIGHT, WIDTH, 3), np.uint8)
        colour[:] = (110, 135, 185)
        if act.sleeve is not None:
            ends = wrist + along * 40, wrist + along * 900
            _stroke(cover, *ends, 52)
            _stroke(colour, *ends, 52, act.sleeve)
            for stripe in range(0, 700, 16 if act.stripes else 1000):
                at = wrist + along * (44 + stripe)
                dyed = tuple(v * 0.6 for v in act.sleeve)
                _stroke(colour, at - side * 26, at + side * 26, 5, dyed)
        if act.tool:
            _stroke(cover, tip - along * 14, palm, 4)
        return cover, colour

    @staticmethod
    def _shaded(picture: Codes, act: Act, t: float) -> Codes:
        begin, end = act.shadow or (0.0, 1.0)
        middle = -50 + (WIDTH + 100) / 4 * (t - begin) / (end - begin)
        x = np.arange(WIDTH // 4, dtype=np.float32)[None, :]
        y = np.arange(HEIGHT // 4, dtype=np.float32)[:, None]
        left = 1 - act.shadow_depth * np.exp(-(((x - 0.4 * y - middle) / 38) ** 2))
        field = cv2.resize((left ** (1 / 2.2)).astype(np.float32), (WIDTH, HEIGHT))
        return np.round(picture * field[..., None]).astype(np.uint8)

    @staticmethod
    def _passer(picture: Codes, act: Act, t: float) -> None:
        begin, end = act.passer or (0.0, 1.0)
        middle = int(-60 + (WIDTH + 120) * (t - begin) / (end - begin))
        figure = np.zeros((HORIZON, WIDTH), np.float32)
        cv2.ellipse(figure, (middle, 70), (38, 110), 0, 0, 360, 0.85, -1)
        figure = cv2.blur(figure, (11, 11))[..., None]
        picture[:HORIZON] = picture[:HORIZON] * (1 - figure) + 40 * figure

    def _develop(self, picture: Codes, gain: float) -> Codes:
        if gain != 1.0:
            picture = cv2.convertScaleAbs(picture, alpha=max(0.1, gain) ** (1 / 2.2))
        if self.shift != (0.0, 0.0):
            move = np.array([[1, 0, self.shift[0]], [0, 1, self.shift[1]]], np.float64)
            picture = cv2.warpAffine(
                picture, move, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REPLICATE
            )
        picture = cv2.LUT(picture, self._curve)
        x, y = (int(v) for v in self.rng.integers(0, 64, 2))
        picture = cv2.add(picture, self._more[y : y + HEIGHT, x : x + WIDTH])
        picture = cv2.subtract(picture, self._less[y : y + HEIGHT, x : x + WIDTH])
        if self.jpeg is None:
            return np.asarray(picture, np.uint8)
        _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, self.jpeg])
        return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def _stroke(
    onto: Codes, a: Pair, b: Pair, width: int, colour: tuple[float, ...] | int = 255
) -> None:
    ends = [tuple(round(float(v) * 8) for v in np.clip(end, -2000, 2000)) for end in (a, b)]
    cv2.line(onto, ends[0], ends[1], colour, width, cv2.LINE_8, 3)


def _within(t: float, span: tuple[float, float]) -> bool:
    return span[0] <= t <= span[1]
