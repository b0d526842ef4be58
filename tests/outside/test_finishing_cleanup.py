"""A support is painted out: the film is compared with the same set rendered without it."""

import pickle
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
import pytest

from standclear.finishing.api import ExportOptions, ExportReport, export
from standclear.finishing.look import plan_for
from standclear.finishing.problems import CannotExport
from standclear.finishing.shot import FilmExposure, FilmShot
from standclear.finishing.work import finished
from tests.generator.tabletop import OVER, Pose, Tabletop, faulty

WIDTH, HEIGHT, ROD, BRUSH = 480, 270, 8, 16


class OnARod(Tabletop):
    """The same set; a dark rod from under the object down out of the picture turns along."""

    rod = 0.0

    def light(self, pose, fault):  # type: ignore[no-untyped-def]
        linear = super().light(pose, fault)
        if not self.rod:
            return linear
        down, across = np.mgrid[: self.height, : self.width].astype(np.float32)
        away_x = across - self.width / 2 - pose.x - fault.shift_x
        away_y = down - self.height / 2 - pose.y - fault.shift_y
        c, s = np.cos(np.deg2rad(pose.turn)), np.sin(np.deg2rad(pose.turn))
        u, v = c * away_x + s * away_y, c * away_y - s * away_x
        rim = self.radius / OVER / 1.12 - 1  # of the object, which stands before the rod
        rod = np.clip(self.rod / 2 - np.abs(u) + 0.5, 0, 1) * np.clip(v - rim, 0, 1)
        return (linear * (1 - 0.85 * rod[..., None])).astype(np.float32)


@dataclass
class Carried:
    """A shot of a cork carried by a rod, the same pictures without it, and where the rod was."""

    shot: FilmShot
    clean: FilmShot
    rod: list[np.ndarray] = field(repr=False)


def carried(
    folder: Path, *, count: int = 10, gain: float = 0.0, bump: float = 0.0, still: bool = False,
    plate: bool = False,
) -> Carried:  # fmt: skip
    """The cork hops to the right, turning as it goes; ``still`` keeps it where it is.

    With ``plate`` the first exposure is the empty set, without the rod.
    """
    table = OnARod(seed=5, width=WIDTH, height=HEIGHT, object_area=0.04, quality=None)
    chance = np.random.default_rng(11)
    shots: tuple[list[FilmExposure], list[FilmExposure]] = [], []
    rods = []
    for index in range(count):
        part = 0.0 if still else index / (count - 1)
        hop = -40 * np.sin(np.pi * part) - 15
        pose = Pose((part - 0.5) * 0.4 * WIDTH, hop, 20 * (part - 0.5))
        fault = faulty(
            gain=float(np.exp(gain * chance.standard_normal())),
            shift_x=float(bump * chance.standard_normal()),
            shift_y=float(bump * chance.standard_normal()),
        )
        pair = []
        for support, exposures in zip((ROD, 0), shots, strict=True):
            table.rod = 0 if plate and index == 0 else support
            pair.append(table.expose(pose, fault))
            path = folder / str(support) / f"cork_{index + 1:06d}.jpg"
            path.parent.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(path), pair[-1], [cv2.IMWRITE_JPEG_QUALITY, 95])
            exposures.append(FilmExposure(path))
        rods.append(np.abs(pair[0].astype(int) - pair[1]).max(axis=2) > 30)
    with_rod, without = (FilmShot("cork hops", "12", tuple(exposures)) for exposures in shots)
    return Carried(with_rod, without, rods)


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Carried:
    return carried(tmp_path_factory.mktemp("steady"))


@pytest.fixture(scope="module")
def shaken(tmp_path_factory: pytest.TempPathFactory) -> Carried:
    return carried(tmp_path_factory.mktemp("shaken"), gain=0.03, bump=1.5)


def stroke_over(rod: np.ndarray) -> dict[str, object]:
    """What a hand would draw over the rod: a straight stroke from under the cork to its foot."""
    rows = np.flatnonzero(rod.sum(axis=1) > ROD / 2)
    ends = [rows[0] + BRUSH // 2, rows[-1]]
    points = [(np.flatnonzero(rod[row]).mean() / WIDTH, row / HEIGHT) for row in ends]
    return {"points": points, "width": BRUSH / WIDTH}


def wish(scene: Carried, drawn: int, **more: object) -> dict[str, object]:
    mask = {"exposure": drawn, "strokes": [stroke_over(scene.rod[drawn - 1])]}
    return {"masks": [mask], **more}


def film(shot: FilmShot, target: Path, **options: object) -> tuple[list[np.ndarray], ExportReport]:
    report = export(shot, ExportOptions.model_validate({"format": "png", **options}), target)
    return [cv2.imread(str(path)) for path in sorted(target.iterdir())], report


def remains(pictures: list[np.ndarray], truth: list[np.ndarray], rods: list[np.ndarray]) -> float:
    """Worst mean difference from the set without the rod, where the rod was, in codes of 255."""
    return max(
        float(np.abs(picture.astype(int) - clean)[rod].mean())
        for picture, clean, rod in zip(pictures, truth, rods, strict=True)
    )


def originals(shot: FilmShot) -> list[np.ndarray]:
    return [cv2.imread(str(exposure.path)) for exposure in shot.exposures]


def test_a_mask_drawn_once_paints_the_support_out_of_every_exposure(steady: Carried, tmp_path):
    pictures, report = film(steady.shot, tmp_path / "film", clean_up=wish(steady, 6))
    shown, truth = originals(steady.shot), originals(steady.clean)
    assert remains(shown, truth, steady.rod) > 50
    assert remains(pictures, truth, steady.rod) < 3.0, "the noise of two exposures is 1 to 2 codes"
    assert report.notes == ()
    for picture, original, rod in zip(pictures, shown, steady.rod, strict=True):
        near = cv2.dilate(rod.astype(np.uint8), np.ones((2 * BRUSH, 2 * BRUSH))) > 0
        assert np.array_equal(picture[~near], original[~near]), "elsewhere each byte stays"


@pytest.mark.parametrize("corrected", [False, True])
def test_it_stays_painted_out_through_flicker_and_bumps(
    shaken: Carried, corrected: bool, tmp_path: Path
):
    options: dict[str, object] = {"light": {}, "position": {}} if corrected else {}
    reference, _ = film(shaken.clean, tmp_path / "clean", **options)
    pictures, _ = film(shaken.shot, tmp_path / "film", clean_up=wish(shaken, 6), **options)
    assert remains(pictures, reference, shaken.rod) < 4.0


def test_an_exposure_without_the_support_serves_as_the_plate(tmp_path: Path):
    scene = carried(tmp_path / "set", count=5, still=True, plate=True)
    with pytest.raises(CannotExport, match="in the way in every exposure"):
        film(
            scene.shot, tmp_path / "none",
            clean_up=wish(scene, 2, follows=False), time={"leave_out": [1]},
        )  # fmt: skip
    pictures, _ = film(
        scene.shot, tmp_path / "film",
        clean_up=wish(scene, 2, follows=False, plate=1), time={"leave_out": [1]},
    )  # fmt: skip
    truth = originals(scene.clean)[1:]
    assert len(pictures) == 4
    assert remains(pictures, truth, scene.rod[1:]) < 3.0


def test_the_work_on_a_picture_stays_a_function_of_what_can_be_sent(shaken: Carried):
    options = {"clean_up": wish(shaken, 6), "light": {}, "position": {}}
    planned = plan_for(shaken.shot, ExportOptions.model_validate(options))
    exposure, work = shaken.shot.exposures[3], planned.plan.of(3)
    sent = pickle.loads(pickle.dumps((exposure, work)))
    assert len(pickle.dumps(work)) < 1_000_000
    assert np.array_equal(finished(exposure, work), finished(*sent))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"plate": 99}, "no exposure 99"),
        ({"masks": [{"exposure": 44, "strokes": [{"points": [(0, 0)], "width": 0.1}]}]}, "44"),
        (
            {"masks": [{"exposure": 1, "strokes": [{"points": [(1.4, 1.4)], "width": 0.01}]}]},
            "outside",
        ),
    ],
)
def test_a_clean_up_that_cannot_be_is_told(
    steady: Carried, change: dict[str, object], says: str, tmp_path: Path
):
    with pytest.raises(CannotExport, match=says):
        film(steady.shot, tmp_path / "film", clean_up={**wish(steady, 1), **change})
    assert not (tmp_path / "film").exists()
