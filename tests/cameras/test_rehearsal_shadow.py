"""A passing shadow is there when it darkens the picture, not from the moment that it is ordered."""

import numpy as np
import pytest

from standclear.cameras.rehearsal.overlay import darkened, veil
from standclear.cameras.rehearsal.script import Happening

NO_BOTTLE = np.zeros((90, 160), np.float32)


@pytest.mark.parametrize("shade", [0.0, 0.05, 0.2, 0.4, 0.6, 0.9, 1.0])
def test_it_is_as_deep_as_it_is_drawn(shade: float) -> None:
    happening = Happening(shade=shade, shade_depth=0.25)
    left = veil(happening, NO_BOTTLE)
    assert left is not None
    assert darkened(happening) == pytest.approx(1.0 - float(left.min()), abs=0.002)


def test_it_comes_and_goes_unseen() -> None:
    depths = [darkened(Happening(shade=n / 20, shade_depth=0.25)) for n in range(21)]
    assert depths[0] < 0.001
    assert max(depths) == pytest.approx(0.25)
    assert depths[-1] < 0.05
    assert darkened(Happening()) == 0.0
