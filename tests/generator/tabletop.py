"""A tabletop with a known truth: textured wall, textured object, light, noise, tone curve, JPEG.

It shares no code with Standclear. Shapes are rendered at twice the size with linear interpolation
(which does not displace content) of smooth textures, and averaged down, as a sensor's pixels do;
pictures wider than 3200 pixels, whose textures are that much coarser, at their own size. Colour is
in the order blue, green, red. What stands still is rendered once for each place of the camera.
"""

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

OVER = 2
WIDE = 3200
TOP = 65535
POOL = 4_000_037


def srgb(linear):
    """IEC 61966-2-1, written out anew."""
    high = 1.055 * cv2.pow(np.maximum(linear, 1e-9), 1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, 12.92 * linear, high)


def s_curve(linear):
    """A camera-like rendering: sRGB, then a contrast curve through 0, one half and 1."""
    v = srgb(linear)
    return v + 0.55 * (v * v * (3 - 2 * v) - v)


CURVES = {"srgb": srgb, "s_curve": s_curve}
TEXTURES = ("paper", "wood", "cloth", "stones", "plain")


@dataclass(frozen=True)
class Pose:
    """The object's centre in pixels from the middle of the picture, and its turn in degrees."""

    x: float = 0.0
    y: float = 0.0
    turn: float = 0.0


@dataclass(frozen=True)
class Fault:
    """What is wrong with one exposure. Gains are factors in linear light, lengths in pixels."""

    gain: float = 1.0
    red: float = 1.0
    blue: float = 1.0
    one_sided: float = 0.0
    banding: float = 0.0
    banding_cycles: float = 3.3
    banding_phase: float = 0.0
    shift_x: float = 0.0
    shift_y: float = 0.0
    turn: float = 0.0
    scale: float = 1.0
    defocus: float = 0.0
    hand: float = 0.0
    hand_side: int = 0
    hand_at: float = 0.5
    shadow: bool = False
    prop_shift: float = 0.0


@dataclass
class Tabletop:
    """One set. ``object_area`` is the object's part of the picture (0 to 0.25)."""

    seed: int = 0
    width: int = 1920
    height: int = 1080
    texture: str = "paper"
    object_area: float = 0.1
    object_contrast: float = 0.5
    curve: str = "srgb"
    noise: float = 1.0
    quality: int | None = 92
    prop: bool = True
    _cache: dict = field(default_factory=dict, repr=False)
    _pool: np.ndarray | None = field(default=None, repr=False)

    def __post_init__(self):
        rng = np.random.default_rng([self.seed, 17])
        self.over = OVER if self.width <= WIDE else 1
        w, h = self.width * self.over, self.height * self.over
        self.unit = self.width / 1920
        pad = int(40 * self.unit * self.over)
        self.pad = pad
        self.wall = _wall(rng, h + 2 * pad, w + 2 * pad, self.texture, self.over * self.unit)
        self.radius = np.sqrt(self.object_area * w * h / np.pi) if self.object_area else 0.0
        side = int(2 * self.radius + 8 * self.over) | 1
        fine, coarse = 3.0 * self.over * self.unit, 24.0 * self.over * self.unit
        self.skin = _noise(rng, side, side, fine, coarse) if self.object_area else None
        self.tint = rng.uniform(0.6, 1.0, 3)
        self.hand_skin = None
        self.rng = np.random.default_rng([self.seed, 99])
        light = np.arange(TOP + 1, dtype=np.float64) / TOP
        self._rendering = np.rint(255 * CURVES[self.curve](light)).astype(np.uint8)

    def _scene(self, pose, fault):
        """Linear light of the set as if the camera were a pinhole, at the picture's size."""
        camera, still = self._still(fault)
        scene = still.copy()
        if self.object_area:
            self._paint_disc(scene, camera, pose, self.radius, self.skin)
        return scene

    def _still(self, fault):
        """The camera's matrix and what stands still, at the picture's size."""
        key = (fault.shift_x, fault.shift_y, fault.turn, fault.scale, fault.prop_shift)
        if self._cache.get("key") == key:
            return self._cache["still"]
        w, h = self.width * self.over, self.height * self.over
        camera = self._camera(fault)
        to_wall = cv2.invertAffineTransform(camera)
        to_wall[:, 2] += self.pad
        how = {"flags": cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, "borderMode": cv2.BORDER_REFLECT}
        wide = cv2.warpAffine(self.wall, to_wall, (w, h), **how)
        if self.prop:
            at = Pose(-0.33 * self.width, -0.3 * self.height + fault.prop_shift, 0)
            self._paint_disc(wide, camera, at, 0.05 * self.width * self.over, None)
        still = camera, self._averaged(wide)
        self._cache = {"key": key, "still": still}
        return still

    def _averaged(self, wide):
        if self.over == 1:
            return wide
        size = (wide.shape[1] // self.over, wide.shape[0] // self.over)
        return cv2.resize(wide, size, interpolation=cv2.INTER_AREA)

    def _camera(self, fault):
        """Takes a point of the unmoved (rendered size) picture to where it is seen."""
        a, over = np.deg2rad(fault.turn), self.over
        c, s = fault.scale * np.cos(a), fault.scale * np.sin(a)
        # sample positions: pixel i of the picture covers over * i + (over - 1) / 2
        cx, cy = self.width * over / 2 + (over - 1) / 2, self.height * over / 2 + (over - 1) / 2
        return np.array(
            [
                [c, -s, cx - c * cx + s * cy + fault.shift_x * over],
                [s, c, cy - s * cx - c * cy + fault.shift_y * over],
            ]
        )

    def _paint_disc(self, scene, camera, pose, radius, skin):
        """An ellipse with a soft edge; with a skin it carries a strong texture that turns along.

        It is painted at the size of ``scene``: the rendered or the picture's own.
        """
        h, w = scene.shape[:2]
        k = self.over * self.width / w  # rendered pixels in one of the scene
        seen = np.array([[1 / k, 0, (1 / k - 1) / 2], [0, 1 / k, (1 / k - 1) / 2], [0, 0, 1]])
        full = seen @ np.vstack([camera, [0, 0, 1]]) @ self._place(pose)
        box = _box(full[:2, 2], radius / k, w, h)
        if box is None:
            return
        x0, y0, x1, y1 = box
        gx, gy = np.meshgrid(
            np.arange(x0, x1, dtype=np.float32), np.arange(y0, y1, dtype=np.float32)
        )
        inv = np.linalg.inv(full).astype(np.float32)
        u = inv[0, 0] * gx + inv[0, 1] * gy + inv[0, 2]
        v = inv[1, 0] * gx + inv[1, 1] * gy + inv[1, 2]
        rho = cv2.magnitude(u / np.float32(1.12 * radius), v / np.float32(radius / 1.12))
        alpha = np.clip((1 - rho) * np.float32(radius / (2.0 * self.over)) + 0.5, 0, 1)
        value = np.full(gx.shape, 0.25, np.float32)
        if skin is not None:
            m = skin.shape[0] / 2
            seen = cv2.remap(skin, u + m, v + m, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
            value = 0.25 * cv2.exp(np.float32(self.object_contrast) * seen)
        tint = self.tint if skin is not None else np.array([0.5, 0.8, 1.0])
        part = scene[y0:y1, x0:x1]
        part += alpha[..., None] * (value[..., None] * tint.astype(np.float32) - part)

    def _place(self, pose):
        """Takes a point of the disc to the unmoved picture, at the rendered size."""
        a, over = np.deg2rad(pose.turn), self.over
        c, s = np.cos(a), np.sin(a)
        middle = [(side * over + over - 1) / 2 for side in (self.width, self.height)]
        x, y = middle[0] + pose.x * over, middle[1] + pose.y * over
        return np.array([[c, -s, x], [s, c, y], [0, 0, 1.0]])

    def light(self, pose=Pose(), fault=Fault()):
        """Noise-free linear light at the sensor, (h, w, 3) float32."""
        linear = self._scene(pose, fault)
        if fault.hand:
            self._hand(linear, fault)
        if fault.defocus:
            linear = cv2.GaussianBlur(linear, (0, 0), fault.defocus)
        x = np.linspace(0, 1, self.width, dtype=np.float32)[None, :, None]
        y = np.linspace(0, 1, self.height, dtype=np.float32)[:, None, None]
        # two lamps: the left one changes when one-sided; its share falls along x
        share = 0.15 + 0.7 / (1 + np.exp((x - 0.5) * 5))
        lit = np.array([fault.blue, 1.0, fault.red], np.float32) * np.float32(fault.gain)
        linear *= ((1 + fault.one_sided * share) * lit).astype(np.float32)
        if fault.banding:
            angle = 2 * np.pi * fault.banding_cycles * y + fault.banding_phase
            linear *= (1 + fault.banding * np.sin(angle)).astype(np.float32)
        return linear

    def true_mean_gain(self, fault):
        """Mean over the picture of the natural log gain, banding (zero on average) left out."""
        x = np.linspace(0, 1, self.width)
        share = 0.15 + 0.7 / (1 + np.exp((x - 0.5) * 5))
        return float(np.log(fault.gain) + np.log1p(fault.one_sided * share).mean())

    def _hand(self, linear, fault):
        """A forearm that comes in over an edge and covers ``hand`` of the picture."""
        h, w = linear.shape[:2]
        mask = np.zeros((h, w), np.float32)
        breadth = np.sqrt(fault.hand * w * h / 2.2)
        length = fault.hand * w * h / breadth
        side = fault.hand_side % 4
        ends = {
            0: ((0, fault.hand_at * h), (1, 0)),
            1: ((w, fault.hand_at * h), (-1, 0)),
            2: ((fault.hand_at * w, 0), (0, 1)),
            3: ((fault.hand_at * w, h), (0, -1)),
        }[side]
        start = np.array(ends[0], float)
        stop = start + np.array(ends[1]) * (length - breadth / 2)
        back = start - np.array(ends[1]) * breadth
        cv2.line(mask, tuple(int(v) for v in back), tuple(int(v) for v in stop), 1.0, int(breadth))
        mask = cv2.GaussianBlur(mask, (0, 0), (25 if fault.shadow else 1.5) * self.unit)[..., None]
        if fault.shadow:
            linear *= 1 - 0.35 * mask
            return
        if self.hand_skin is None:
            self.hand_skin = cv2.resize(
                _noise(
                    np.random.default_rng([self.seed, 5]),
                    h // 2,
                    w // 2,
                    6 * self.unit,
                    60 * self.unit,
                ),
                (w, h),
            )
        skin = np.array([0.18, 0.28, 0.42], np.float32) * np.exp(0.15 * self.hand_skin)[..., None]
        linear += mask * (skin - linear)

    def expose(self, pose=Pose(), fault=Fault(), rng=None):
        """One exposure as the camera's file would decode: (h, w, 3) uint8."""
        codes = self.codes(pose, fault, rng)
        return codes if self.quality is None else _through_jpeg(codes, self.quality)

    def file(self, pose=Pose(), fault=Fault(), rng=None):
        """One exposure as the camera's JPEG file, bytes."""
        return _jpeg(self.codes(pose, fault, rng), self.quality or 92).tobytes()

    def codes(self, pose=Pose(), fault=Fault(), rng=None):
        """One exposure before the file, (h, w, 3) uint8."""
        rng = rng or self.rng
        linear = self.light(pose, fault)
        sd = cv2.sqrt(np.maximum(2.2e-5 * linear + np.float32(1.0e-6), np.float32(1.0e-6)))
        sd *= self._grain(rng, linear.shape)
        linear += sd
        steps = cv2.multiply(linear, (TOP, TOP, TOP, TOP), dtype=cv2.CV_16U)  # rounded, clipped
        return self._rendering[steps]

    def _grain(self, rng, shape):
        """Normal noise: one large pool, entered at a place drawn anew for each exposure."""
        count = int(np.prod(shape))
        if self._pool is None:
            self._pool = self.rng.standard_normal(count + POOL, dtype=np.float32)
        start = int(rng.integers(POOL))
        sign = np.float32(self.noise * rng.choice([-1, 1]))
        return sign * self._pool[start : start + count].reshape(shape)


def _box(middle, radius, w, h):
    """Pixels around a disc, or None when it lies outside."""
    mx, my = middle
    x0, x1 = int(max(mx - 1.2 * radius, 0)), int(min(mx + 1.2 * radius + 2, w))
    y0, y1 = int(max(my - 1.2 * radius, 0)), int(min(my + 1.2 * radius + 2, h))
    return (x0, y0, x1, y1) if x1 > x0 and y1 > y0 else None


def _jpeg(codes, quality):
    ok, data = cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert ok
    return data


def _through_jpeg(codes, quality):
    return cv2.imdecode(_jpeg(codes, quality), cv2.IMREAD_COLOR)


def _noise(rng, h, w, fine, coarse):
    """Band-limited noise of unit variance with structure from ``fine`` to ``coarse`` pixels."""
    field_ = np.zeros((h, w), np.float32)
    sigma = fine
    while sigma <= coarse:
        small = rng.standard_normal(
            (max(int(h / sigma) + 4, 4), max(int(w / sigma) + 4, 4)), dtype=np.float32
        )
        field_ += _enlarged(small, h, w)
        sigma *= 2
    return (field_ - field_.mean()) / field_.std()


def _enlarged(small, h, w):
    """Enlarge smoothly; each cell becomes several pixels."""
    big = cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)
    cell = h / small.shape[0]
    return cv2.GaussianBlur(big, (0, 0), 0.5 * cell) if cell < 20 else big


def _wall(rng, h, w, texture, unit):
    """The still background, linear light, (h, w, 3)."""
    x = np.linspace(0, 1, w, dtype=np.float32)[None, :]
    y = np.linspace(0, 1, h, dtype=np.float32)[:, None]
    base = (0.30 - 0.12 * np.abs(x - 0.45) - 0.08 * y).astype(np.float32)
    if texture == "paper":
        tone = 0.10 * _noise(rng, h, w, 2.5 * unit, 20 * unit) + 0.1 * _noise(
            rng, h, w, 60 * unit, 200 * unit
        )
    elif texture == "wood":
        grain = cv2.resize(
            _noise(rng, h, max(w // 16, 8), 2 * unit, 30 * unit),
            (w, h),
            interpolation=cv2.INTER_LINEAR,
        )
        tone = 0.22 * grain + 0.05 * _noise(rng, h, w, 3 * unit, 6 * unit)
    elif texture == "cloth":
        wave = np.sin(2 * np.pi * x * w / (9 * unit)) * np.sin(2 * np.pi * y * h / (9 * unit))
        tone = 0.12 * wave + 0.25 * _noise(rng, h, w, 30 * unit, 250 * unit)
    elif texture == "stones":
        tone = 0.5 * np.tanh(1.5 * _noise(rng, h, w, 8 * unit, 64 * unit))
    elif texture == "plain":
        tone = 0.004 * _noise(rng, h, w, 4 * unit, 40 * unit)
    else:
        raise ValueError(texture)
    tint = 1 + 0.05 * np.stack([_noise(rng, h // 8, w // 8, 10, 40) for _ in range(3)], axis=2)
    tint = cv2.resize(tint, (w, h)) if texture != "plain" else np.float32(1)
    return (base * np.exp(tone))[..., None] * (
        np.array([0.8, 0.95, 1.0], np.float32) * tint
    ).astype(np.float32)


def faulty(**changes):
    """A `Fault` with these changes."""
    return replace(Fault(), **changes)
