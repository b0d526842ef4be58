"""A film neither flickers nor jumps, what was meant stays: the bench's short form."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from standclear.finishing.api import ExportOptions, ExportReport, export
from tests.bench.film_sets import FilmSet, film_set, flatness, jitter

WIDTH, COUNT = 480, 20


def finished(
    scene: FilmSet, target: Path, **options: object
) -> tuple[list[np.ndarray], ExportReport]:
    choices = ExportOptions.model_validate({"format": "png", **options})
    report = export(scene.shot, choices, target)
    return [cv2.imread(str(path)) for path in sorted(target.iterdir())], report


@pytest.mark.parametrize(("curve", "gain", "side"), [("s_curve", 0.02, 0.0), ("srgb", 0.0, 0.03)])
def test_flicker_goes(curve: str, gain: float, side: float, tmp_path: Path):
    scene = film_set(
        tmp_path / "set", count=COUNT, width=WIDTH, gain=gain, side=side, curve=curve, area=0.12
    )
    film, report = finished(scene, tmp_path / "film", light={})
    before, after = flatness(scene.originals, scene), flatness(film, scene)
    assert before.whole > 0.8
    assert after.whole < 0.06, "a quarter as wide as the goal's pictures, so twice its 0.03 %"
    assert after.whole < before.whole / 20
    assert after.block < 0.3
    told = report.figures
    assert told["before"]["flicker_percent"] == pytest.approx(before.whole, rel=0.35)
    assert told["after"]["flicker_percent"] < 0.1


def test_a_lamp_switched_on_stays_on(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=24, width=320, gain=0.02, step=12, area=0.1)
    film, _ = finished(scene, tmp_path / "film", light={})
    before, after = flatness(scene.originals, scene), flatness(film, scene)
    assert before.step > 1.4
    assert after.step == pytest.approx(before.step, rel=0.02)
    assert after.whole < before.whole / 10


def test_a_bumped_picture_is_steady_with_no_black_edges(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=12, width=WIDTH, bump=1.5, area=0.25)
    film, report = finished(scene, tmp_path / "film", position={})
    assert jitter(scene.originals, scene) > 1.0
    assert jitter(film, scene) < 0.1
    for picture in film:
        for line in (picture[0], picture[-1], picture[:, 0], picture[:, -1]):
            assert line.mean() > 40, "the set's wall is nowhere so dark"
    assert report.figures["after"]["jitter_px"] < 0.1 < report.figures["before"]["jitter_px"]


def test_a_shot_that_went_on_from_another_place_is_joined(tmp_path: Path):
    """The camera was bumped, the change accepted: both parts lie on one reference in the film."""
    scene = film_set(tmp_path / "set", count=10, width=WIDTH, area=0.15, moved=5)
    film, _ = finished(scene, tmp_path / "film", position={})
    assert jitter(scene.originals, scene) > 2.5
    assert jitter(film, scene) < 0.1


def test_cropped_edges_keep_the_shape_and_the_size(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=6, width=320, bump=1.5, area=0.1)
    film, report = finished(scene, tmp_path / "film", position={"edges": "crop"})
    assert {picture.shape for picture in film} == {(180, 320, 3)}
    assert (report.width, report.height) == (320, 180)


def test_an_even_and_steady_shot_keeps_its_bytes(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=COUNT, width=WIDTH, area=0.12)
    film, report = finished(scene, tmp_path / "film", light={}, position={})
    for picture, original in zip(film, scene.originals, strict=True):
        assert np.array_equal(picture, original)
    assert report.figures == {}


def test_a_range_left_alone_and_strength_nought_keep_their_bytes(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=12, width=320, gain=0.02, area=0.1)
    alone = {"leave_alone": [{"first": 3, "last": 5}]}
    film, _ = finished(scene, tmp_path / "film", light=alone)
    same = [np.array_equal(a, b) for a, b in zip(film, scene.originals, strict=True)]
    kept = {place + 1 for place, equal in enumerate(same) if equal}
    assert {3, 4, 5} <= kept
    assert len(kept) <= 5, "only those that happened to need no change may stay beside them"
    film, _ = finished(scene, tmp_path / "other", light={"strength": 0})
    assert all(np.array_equal(a, b) for a, b in zip(film, scene.originals, strict=True))
