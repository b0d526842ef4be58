"""A frame before and after, framed alike."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from standclear.finishing.look import look, plan_for
from standclear.finishing.options import ExportOptions
from standclear.finishing.problems import CannotExport
from tests.bench.film_sets import film_set


def shown(data: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def test_the_look_shows_the_frame_as_shot_and_evened(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=10, width=320, gain=0.05, area=0.1)
    options = ExportOptions.model_validate({"light": {}, "framing": {"shape": "1:1"}})
    planned = plan_for(scene.shot, options)
    pairs = [look(planned, number) for number in range(1, 11)]
    before = [shown(pair.before)[:40].mean() for pair in pairs]
    after = [shown(pair.after)[:40].mean() for pair in pairs]
    assert shown(pairs[0].before).shape == shown(pairs[0].after).shape == (180, 180, 3)
    assert np.std(after) < np.std(before) / 5


def test_an_exposure_that_is_not_there_is_told(tmp_path: Path):
    scene = film_set(tmp_path / "set", count=2, width=320)
    with pytest.raises(CannotExport, match="exposures 1 to 2"):
        look(plan_for(scene.shot, ExportOptions()), 3)
