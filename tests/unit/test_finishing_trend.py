"""Lasting steps and fades are meant; the rest is flicker."""

from itertools import pairwise

import numpy as np
import pytest

from standclear.finishing.trend import noise_of, pieces, trend

CHANCE = np.random.default_rng(4)


def flat(path: np.ndarray) -> np.ndarray:
    whole = np.arange(len(path))
    return trend(path[:, None], whole, path[:, None])[:, 0]


def test_flicker_alone_has_a_flat_trend():
    path = 0.02 * CHANCE.standard_normal(200)
    assert np.ptp(flat(path)) == 0.0


def test_a_lasting_step_stays_and_the_flicker_beside_it_goes():
    path = 0.02 * CHANCE.standard_normal(60)
    path[30:] += np.log(1.5)
    found = flat(path)
    assert found[30:].mean() - found[:30].mean() == pytest.approx(np.log(1.5), abs=0.02)
    assert np.ptp(found[:30]) == 0.0
    assert np.ptp(found[30:]) == 0.0


def test_a_fade_stays():
    path = 0.005 * CHANCE.standard_normal(90)
    path[30:60] += np.linspace(0, -1, 30)
    path[60:] -= 1
    ideal = np.concatenate([np.zeros(30), np.linspace(0, -1, 30), -np.ones(30)])
    assert np.abs(flat(path) - ideal).max() < 0.05


@pytest.mark.parametrize("length", [1, 2, 4])
def test_a_flash_is_no_step(length: int):
    path = 0.01 * CHANCE.standard_normal(80)
    path[40 : 40 + length] += 0.4
    assert np.ptp(flat(path)) == 0.0


def test_a_small_lasting_drift_is_evened():
    path = 0.01 * CHANCE.standard_normal(80)
    path[40:] += 0.03
    assert np.ptp(flat(path)) == 0.0


def test_noise_is_told_beside_steps_and_fades():
    path = np.linspace(0, 2, 400) + np.where(np.arange(400) > 200, 1.0, 0.0)
    path = path + 0.02 * CHANCE.standard_normal(400)
    assert noise_of(path[:, None])[0] == pytest.approx(0.02, rel=0.2)


def test_pieces_cover_the_shot_in_order():
    path = np.cumsum(0.1 * CHANCE.standard_normal(150))[:, None]
    found = pieces(path)
    assert found[0].start == 0
    assert found[-1].stop == 150
    assert all(a.stop == b.start for a, b in pairwise(found))


def test_exposures_not_heeded_do_not_move_the_trend():
    path = 0.01 * CHANCE.standard_normal(40)
    path[10:20] += 1.0
    heeded = np.array([i for i in range(40) if not 10 <= i < 20])
    assert np.abs(trend(path[:, None], heeded, path[:, None])).max() < 0.02
