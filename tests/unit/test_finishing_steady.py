"""Where a moved picture covers the film: worked out along the edges alone, yet right everywhere."""

import numpy as np
import pytest

from standclear.finishing.coverage import filled
from standclear.finishing.framing import View
from standclear.finishing.steady import placed
from standclear.imaging.similarity import Similarity

HEIGHT, WIDTH = 120, 200
WHOLE = View(0, 0, WIDTH, HEIGHT, WIDTH, HEIGHT)
PART = View(30, 10, 100, 100, 100, 100)
SMALLER = View(0, 4, WIDTH, 112, 100, 56)


def everywhere(motion: Similarity, view: View) -> np.ndarray:
    """Each pixel by itself: full half a pixel inside the source's frame, none half outside."""
    step = view.width / view.out_width
    x, y = np.meshgrid(np.arange(view.out_width), np.arange(view.out_height))
    half = (step - 1) / 2
    places = np.stack([view.left + x * step + half, view.top + y * step + half], axis=-1)
    seen = places.reshape(-1, 2) + motion.displacement(places.reshape(-1, 2), (HEIGHT, WIDTH))
    inside = np.minimum(
        np.minimum(seen[:, 0] + 0.5, WIDTH - 0.5 - seen[:, 0]),
        np.minimum(seen[:, 1] + 0.5, HEIGHT - 0.5 - seen[:, 1]),
    )
    return np.clip(inside, 0, 1).reshape(view.out_height, view.out_width)


MOTIONS = [
    Similarity(0.3, -0.2, 0.0, 0.0),
    Similarity(-17.4, 9.8, 0.0, 0.0),
    Similarity(2.0, 1.0, 0.02, 0.01),
    Similarity(-6.0, 3.0, -0.1, -0.05),
    Similarity(400.0, 0.0, 0.0, 0.0),
]


@pytest.mark.parametrize("view", [WHOLE, PART, SMALLER])
@pytest.mark.parametrize("motion", MOTIONS)
def test_it_is_known_where_a_moved_picture_covers_the_film(motion: Similarity, view: View) -> None:
    picture = np.zeros((HEIGHT, WIDTH, 3), np.float32)
    _, covered = placed(picture, motion, view)
    assert np.abs(covered - everywhere(motion, view)).max() < 1e-3


@pytest.mark.parametrize("motion", MOTIONS)
def test_what_a_move_uncovers_is_filled_from_another(motion: Similarity) -> None:
    one, other = (np.full((HEIGHT, WIDTH, 3), level, np.float32) for level in (40.0, 200.0))
    shown, covered = placed(one, motion, WHOLE)
    behind, behind_covered = placed(other, Similarity(3.0, -2.0, 0.01, 0.0), WHOLE)
    part = everywhere(motion, WHOLE)
    known = everywhere(Similarity(3.0, -2.0, 0.01, 0.0), WHOLE)
    expected = 40.0 + (200.0 - 40.0) * (1.0 - part) * known
    filled(shown, covered, behind, behind_covered)
    assert np.abs(shown - expected[:, :, None]).max() < 0.3
    assert np.abs(covered - np.maximum(part, known)).max() < 1e-3
