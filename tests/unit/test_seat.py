"""Where a live picture lies on the reference, against shifts that scipy has made."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import affine_transform, gaussian_filter

from standclear.shooting.seat import Seating

WIDTH, HEIGHT = 960, 540


def scene(seed: int = 1) -> NDArray[np.float64]:
    """A textured picture, (h, w), 40..215."""
    rng = np.random.default_rng(seed)
    coarse = gaussian_filter(rng.standard_normal((HEIGHT, WIDTH)), 6)
    fine = gaussian_filter(rng.standard_normal((HEIGHT, WIDTH)), 1.6)
    picture = coarse / coarse.std() + fine / fine.std()
    return np.asarray(np.clip(127 + 25 * picture, 20, 235))


def codes(picture: NDArray[np.float64]) -> NDArray[np.uint8]:
    return np.repeat(np.round(picture)[..., None], 3, axis=2).astype(np.uint8)


def moved(
    picture: NDArray[np.float64], x: float, y: float, turn_deg: float = 0.0
) -> NDArray[np.float64]:
    """The picture with its content moved right by x, down by y, turned clockwise (scipy)."""
    t = np.radians(turn_deg)
    back = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])  # of (row, column)
    middle = np.array([HEIGHT / 2, WIDTH / 2])
    offset = middle - back @ (middle + np.array([y, x]))
    return np.asarray(affine_transform(picture, back, offset, order=3, mode="nearest"))


@pytest.mark.parametrize(
    ("x", "y", "turn"),
    [(0.2, -0.1, 0.0), (1.7, -0.9, 0.05), (-6.3, 4.4, -0.3), (15.0, 8.0, 1.0)],
)
def test_figures_are_in_pixels_of_the_original_and_follow_the_picture(
    x: float, y: float, turn: float
) -> None:
    picture = scene()
    seat = Seating(codes(picture), WIDTH, HEIGHT).measure(codes(moved(picture, x, y, turn)))
    assert seat.known
    assert seat.shift_x_px == pytest.approx(x, abs=0.05)
    assert seat.shift_y_px == pytest.approx(y, abs=0.05)
    assert seat.turn_deg == pytest.approx(turn, abs=0.005)
    assert seat.within == (np.hypot(x, y) < 0.3 and turn == 0)


def test_a_smaller_live_picture_is_measured_in_pixels_of_the_original() -> None:
    import cv2

    picture = scene()
    live = cv2.resize(codes(moved(picture, 3.0, 0.0)), (640, 360), interpolation=cv2.INTER_AREA)
    seat = Seating(codes(picture), WIDTH, HEIGHT).measure(np.asarray(live, np.uint8))
    assert seat.shift_x_px == pytest.approx(3.0, abs=0.1)
    assert seat.says.startswith("Pan right by 3.0 px")
    still = cv2.resize(codes(picture), (640, 360), interpolation=cv2.INTER_AREA)
    there = Seating(codes(picture), WIDTH, HEIGHT).measure(np.asarray(still, np.uint8))
    assert there.within
    assert there.off_px < 0.1


def test_a_16_bit_reference_serves_an_8_bit_live_picture() -> None:
    picture = scene()
    deep = (codes(picture).astype(np.uint16) * 257).astype(np.uint16)
    seat = Seating(deep, WIDTH, HEIGHT).measure(codes(moved(picture, 1.0, 0.0)))
    assert seat.shift_x_px == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("live", "says"),
    [
        (codes(scene()[:, :720]), "another part"),
        (codes(scene(2)), "Too little"),
        (np.full((HEIGHT, WIDTH, 3), 128, np.uint8), "T"),
    ],
)
def test_what_cannot_be_told_is_said_and_is_never_within(
    live: NDArray[np.uint8], says: str
) -> None:
    seat = Seating(codes(scene()), WIDTH, HEIGHT).measure(live)
    assert not seat.known
    assert not seat.within
    assert says in seat.says


def test_a_hand_that_follows_the_guide_comes_home() -> None:
    """Each look moves the scripted camera by four fifths of what the guide asks for."""
    picture = scene()
    seating = Seating(codes(picture), WIDTH, HEIGHT)
    x, y, turn = 11.0, 6.0, -0.5
    seat = seating.measure(codes(moved(picture, x, y, turn)))
    for _ in range(8):
        if seat.within:
            break
        x, y = x - 0.8 * seat.shift_x_px, y - 0.8 * seat.shift_y_px
        turn -= 0.8 * seat.turn_deg
        seat = seating.measure(codes(moved(picture, x, y, turn)))
    assert seat.within
    assert np.hypot(x, y) < 0.33
    assert "lies on the reference" in seat.says
