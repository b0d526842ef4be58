"""The re-seat guide leads a bumped camera back onto the reference."""

import cv2
import numpy as np
import pytest

from standclear.shooting.watches.reseat import ReseatGuide
from tests.generator.tabletop import Fault, Pose, Tabletop, faulty

LIVE = (480, 270)


@pytest.fixture(scope="module")
def tabletop():
    return Tabletop(seed=3, texture="stones", width=960, height=540, object_area=0.1)


@pytest.fixture(scope="module")
def guide(tabletop):
    return ReseatGuide(tabletop.expose(Pose()), LIVE, 960)


def _live(tabletop, fault):
    return cv2.resize(tabletop.expose(Pose(6, 0, 0), fault), LIVE, interpolation=cv2.INTER_AREA)


def test_it_says_how_far_the_picture_must_still_go(tabletop, guide):
    found = guide.look(_live(tabletop, faulty(shift_x=7.0, shift_y=-3.0, turn=0.4, gain=0.9)))
    assert found["state"] == "off"
    assert found["go_x_px"] == pytest.approx(-7.0, abs=0.15)
    assert found["go_y_px"] == pytest.approx(3.0, abs=0.15)
    assert found["go_turn_deg"] == pytest.approx(-0.4, abs=0.02)
    assert "left" in found["says"]
    assert "down" in found["says"]
    assert "anticlockwise" in found["says"]


def test_a_hand_that_follows_the_guide_comes_home(tabletop, guide):
    """Each look moves the scripted camera by four fifths of what the guide asks for."""
    x, y, turn = 11.0, 6.0, -0.5
    for _ in range(8):
        found = guide.look(_live(tabletop, faulty(shift_x=x, shift_y=y, turn=turn)))
        if found["state"] == "lies":
            break
        x, y = x + 0.8 * found["go_x_px"], y + 0.8 * found["go_y_px"]
        turn += 0.8 * found["go_turn_deg"]
    assert found["state"] == "lies"
    assert np.hypot(x, y) < 0.4


def test_another_scene_or_another_shape_is_not_followed(tabletop, guide):
    noise = np.random.default_rng(0).integers(0, 255, (270, 480, 3), dtype=np.uint8)
    assert guide.look(noise)["state"] == "cannot_tell"
    assert guide.look(_live(tabletop, Fault())[:200])["state"] == "cannot_tell"
