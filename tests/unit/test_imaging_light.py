"""Light is read from the still background, whatever moves in front of it."""

import numpy as np
import pytest

from standclear.imaging.banding import find_wave
from standclear.imaging.light import (
    Response,
    blocks_of,
    field_over,
    light_change,
    response_from,
)
from standclear.imaging.prepared import prepare
from standclear.imaging.robust import slope
from tests.generator.tabletop import Pose, Tabletop, faulty


def _tabletop(**changes):
    return Tabletop(
        **{"seed": 4, "width": 960, "height": 540, "texture": "stones", "object_area": 0.2}
        | changes
    )


def _blocks(codes):
    picture = prepare(codes)
    return blocks_of(picture.small, picture.trusted)


@pytest.fixture(scope="module")
def tabletop():
    return _tabletop()


@pytest.fixture(scope="module")
def base(tabletop):
    return _blocks(tabletop.expose(Pose()))


@pytest.mark.parametrize(
    "fault",
    [
        faulty(),
        faulty(gain=1.005),
        faulty(gain=0.96),
        faulty(gain=1.01, one_sided=0.03),
        faulty(gain=1.01, hand=0.05),
        faulty(gain=1.01, banding=0.01, banding_phase=1.0),
    ],
    ids=["even", "half a percent", "four percent", "one side", "hand", "banding"],
)
def test_the_gain_is_read_to_a_twentieth_of_a_percent(tabletop, base, fault):
    """The picture has a quarter of HD's pixels, so twice the bench's 0.03 % is allowed."""
    change = light_change(base, _blocks(tabletop.expose(Pose(9, 4, 5), fault)))
    assert 100 * change.level == pytest.approx(100 * tabletop.true_mean_gain(fault), abs=0.06)


def test_on_a_plain_wall_of_few_tones_the_level_is_told_apart_from_the_bends():
    """Else what the bends over tone are taken for is taken from the gain."""
    wall = _tabletop(texture="plain")
    change = light_change(_blocks(wall.expose()), _blocks(wall.expose(fault=faulty(gain=1.01))))
    spread = np.sqrt(np.diag(change.covariance))
    related = change.covariance[0, 6:] / (spread[0] * spread[6:])
    assert np.abs(related).max() < 0.2


def test_a_plain_mean_would_have_been_fooled_by_the_hand(tabletop, base):
    """The check above would let a plain mean fail: this shows that it can fail."""
    hand = _blocks(tabletop.expose(Pose(9, 4, 5), faulty(hand=0.05)))
    plain = 100 * np.log(hand[0].mean() / base[0].mean())
    assert abs(plain) > 0.3


def test_light_on_one_side_shows_in_the_field_and_on_that_side(tabletop, base):
    change = light_change(base, _blocks(tabletop.expose(Pose(), faulty(one_sided=0.03))))
    over = 100 * field_over(change.field_terms)
    assert np.ptp(over) == pytest.approx(2.0, abs=0.35)
    assert over[:, 0].mean() > over[:, -1].mean() + 1.5


def test_a_colour_shift_is_read_as_two_ratios(tabletop, base):
    """A JPEG file rounds colour: a shift of 2 % is read to a few tenths."""
    change = light_change(base, _blocks(tabletop.expose(Pose(), faulty(red=1.02, blue=0.98))))
    assert 100 * change.red == pytest.approx(2.0, abs=0.5)
    assert 100 * change.blue == pytest.approx(-2.0, abs=0.5)


def test_bands_are_read_with_their_number_and_height(tabletop, base):
    fault = faulty(banding=0.015, banding_cycles=4.4, banding_phase=2.0)
    wave = light_change(base, _blocks(tabletop.expose(Pose(), fault))).wave
    assert wave is not None
    assert wave.cycles == pytest.approx(4.4, abs=0.1)
    assert 100 * wave.amplitude == pytest.approx(1.5, abs=0.15)


def test_no_bands_are_seen_in_noise():
    rng = np.random.default_rng(1)
    seen = [find_wave(0.001 * rng.standard_normal(67), np.ones(67)) for _ in range(100)]
    assert seen == [None] * 100


def test_a_camera_s_curve_needs_one_known_change_to_be_read_right():
    tabletop = _tabletop(curve="s_curve")
    base = _blocks(tabletop.expose(Pose()))
    brighter = light_change(base, _blocks(tabletop.expose(Pose(), faulty(gain=2 ** (1 / 3)))))
    response = response_from(brighter, np.log(2) / 3)
    shot = _blocks(tabletop.expose(Pose(9, 4, 5), faulty(gain=1.03)))
    assumed, learnt = light_change(base, shot), light_change(base, shot, None, response)
    assert 100 * abs(assumed.level - np.log(1.03)) > 0.5
    assert 100 * learnt.level == pytest.approx(100 * np.log(1.03), abs=0.06)
    assert response.a > 1.1
    assert Response().at(np.zeros(1)) == pytest.approx(1.0)


def test_clipped_places_do_not_count(tabletop, base):
    codes = tabletop.expose(Pose(), faulty(gain=1.02))
    codes[:200] = 255
    change = light_change(base, _blocks(codes))
    assert 100 * change.level == pytest.approx(100 * np.log(1.02), abs=0.1)


@pytest.mark.parametrize("code", [0, 255])
def test_black_and_white_pictures_have_no_light_to_compare(base, code):
    assert light_change(base, _blocks(np.full((540, 960, 3), code, np.uint8))) is None


def test_the_slope_of_a_series_is_not_moved_by_outliers():
    places = np.arange(50.0)
    values = 0.01 * places
    values[[7, 19, 33]] += 5.0
    assert slope(places, values)[0] == pytest.approx(0.01, abs=1e-3)
