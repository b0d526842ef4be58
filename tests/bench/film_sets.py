"""Shots with a known truth for the finishing bench, and how flat and still a film of them is."""

from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from standclear.finishing.shot import FilmExposure, FilmShot
from tests.generator.tabletop import OVER, Pose, Tabletop, faulty


@dataclass
class FilmSet:
    """JPEG originals of one shot, the still background's mask, where a lamp is switched on."""

    shot: FilmShot
    background: np.ndarray = field(repr=False)
    step: int | None = None

    @property
    def originals(self) -> list[np.ndarray]:
        return [cv2.imread(str(exposure.path)) for exposure in self.shot.exposures]


def film_set(
    folder: Path, *, count: int, width: int, gain: float = 0.0, side: float = 0.0,
    bump: float = 0.0, step: int | None = None, curve: str = "srgb", area: float = 0.25,
    seed: int = 3, moved: int | None = None,
) -> FilmSet:  # fmt: skip
    """From exposure index ``moved`` on the camera stands 6 px beside its place, turned by 0.3°.
    ``gain`` and ``side`` are standard deviations of the light, ``bump`` of the shift in pixels.

    The object fills ``area`` of the picture and is the best texture in it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    height = width * 9 // 16
    table = Tabletop(
        seed=seed, width=width, height=height, object_area=area, object_contrast=0.9, curve=curve
    )
    chance = np.random.default_rng(5)
    still = np.ones((height, width), bool)
    down, across = np.mgrid[:height, :width]
    exposures = []
    for index in range(count):
        pose = Pose(
            (index / count - 0.5) * 0.4 * width, 0.1 * height * np.sin(index / 4), index * 2.0
        )
        fault = faulty(
            gain=float(np.exp(gain * chance.standard_normal()))
            * (1.5 if _since(index, step) else 1),
            one_sided=float(side * chance.standard_normal()),
            shift_x=float(bump * chance.standard_normal()) + 5.2 * _since(index, moved),
            shift_y=float(bump * chance.standard_normal()) - 3.0 * _since(index, moved),
            turn=float(bump * 0.03 * chance.standard_normal()) + 0.3 * _since(index, moved),
        )
        path = folder / f"cork_{index + 1:06d}.jpg"
        cv2.imwrite(str(path), table.expose(pose, fault), [cv2.IMWRITE_JPEG_QUALITY, 92])
        exposures.append(FilmExposure(path))
        away = (across - width / 2 - pose.x) ** 2 + (down - height / 2 - pose.y) ** 2
        still &= away > (table.radius / OVER * 1.2 + 8) ** 2
    still &= (across - 0.17 * width) ** 2 + (down - 0.2 * height) ** 2 > (0.075 * width) ** 2
    edge = max(8 if moved is None else 12, int(4 * bump) + 4)
    still[:edge] = still[-edge:] = False
    still[:, :edge] = still[:, -edge:] = False
    return FilmSet(FilmShot(folder.name, "12", tuple(exposures)), still, step)


def _since(index: int, start: int | None) -> bool:
    return start is not None and index >= start


@dataclass(frozen=True)
class Flatness:
    """Standard deviations of the background's log luminance in percent; the kept step's factor."""

    whole: float
    block: float
    step: float


def flatness(pictures: list[np.ndarray], scene: FilmSet) -> Flatness:
    """Measured with IEC 61966-2-1 and ITU-R BT.709 written out anew, on background blocks."""
    side = max(12, pictures[0].shape[1] // 40)
    rows, columns = (n // side for n in scene.background.shape)
    mask = scene.background[: rows * side, : columns * side]
    free = mask.reshape(rows, side, columns, side).all(axis=(1, 3))
    logs = np.array([np.log(_blocks(p, rows, columns, side)[free]) for p in pictures])
    step = 1.0
    if scene.step is not None:
        low, high = logs[: scene.step], logs[scene.step :]
        step = float(np.exp(high.mean() - low.mean()))
        logs = np.concatenate([low - low.mean(axis=0), high - high.mean(axis=0)])
    logs = logs - logs.mean(axis=0)
    whole, block = logs.mean(axis=1).std(), np.sqrt((logs**2).mean())
    return Flatness(100 * float(whole), 100 * float(block), step)


def _blocks(picture: np.ndarray, rows: int, columns: int, side: int) -> np.ndarray:
    code = picture[: rows * side, : columns * side].astype(np.float64) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    luminance = light @ np.array([0.0722, 0.7152, 0.2126])
    return luminance.reshape(rows, side, columns, side).mean(axis=(1, 3))


def jitter(pictures: list[np.ndarray], scene: FilmSet) -> float:
    """Root mean square displacement of the background from its mean place, in pixels.

    By enhanced correlation (G. D. Evangelidis, E. Z. Psarakis, PAMI 30, 2008) as OpenCV has it, on
    the background alone: another method than the one that corrected, told where to look.
    """
    part = max(1, scene.background.shape[1] // 480)
    plain = (cv2.cvtColor(p, cv2.COLOR_BGR2GRAY).astype(np.float32) for p in pictures)
    grey = [_averaged(picture, part) for picture in plain]
    mask = (_averaged(scene.background.astype(np.float32), part) == 1).astype(np.uint8) * 255
    points = np.argwhere(mask > 0)[::499, ::-1]
    moved = [np.zeros(points.shape)]
    stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 80, 1e-6)
    for one in grey[1:]:
        warp = np.eye(2, 3, dtype=np.float32)
        try:
            _, warp = cv2.findTransformECC(grey[0], one, warp, cv2.MOTION_AFFINE, stop, mask, 3)
        except cv2.error:
            warp[:, 2] = 20.0 / part  # it lost the picture: count that as far away
        moved.append(part * (points @ warp[:, :2].T + warp[:, 2] - points))
    away = np.array(moved) - np.mean(moved, axis=0)
    return float(np.sqrt((away**2).sum(axis=2).mean()))


def _averaged(picture: np.ndarray, part: int) -> np.ndarray:
    size = (picture.shape[1] // part, picture.shape[0] // part)
    return cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
