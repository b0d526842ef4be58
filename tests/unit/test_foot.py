"""Spacing on the table is told of the foot: neither height nor a lean makes a step longer."""

from collections.abc import Sequence

import cv2
import numpy as np
import pytest

from standclear.cameras.rehearsal import HandScript, Visit
from standclear.cameras.rehearsal.geometry import STILL, table_to_picture
from standclear.cameras.rehearsal.scene import card_corners_mm
from standclear.imaging.foot import foot_of
from standclear.library.records import Judged
from standclear.shooting.spacing import steps_of
from standclear.shooting.watches.shot_watch import ShotWatch
from standclear.timing.table import Table, calibrate
from tests.cameras.rehearsal_kit import rehearse
from tests.library_kit import SetClock


def test_the_foot_is_the_lowest_part_whatever_leans_above_it() -> None:
    leaning = np.zeros((120, 160), np.uint8)
    outline = np.array([[60, 110], [80, 110], [130, 10], [110, 10]])
    cv2.fillPoly(leaning, [outline], 1)
    [(x, y)] = foot_of(leaning > 0)
    assert abs(x - 71) < 3
    assert 104 <= y <= 110


def test_a_speck_below_is_not_the_foot() -> None:
    mask = np.zeros((120, 160), bool)
    mask[20:80, 60:90] = True
    mask[115:118, 10:14] = True
    [(x, y)] = foot_of(mask)
    assert 79 - 4 <= y <= 82
    assert abs(x - 74.5) < 2


def true_table() -> Table:
    """The rehearsal set's table, measured without a tap's error."""
    corners = np.c_[card_corners_mm(), np.ones(4)] @ table_to_picture(*STILL).T
    return calibrate((corners[:, :2] / corners[:, 2:]).tolist(), 85.60, 53.98, picture=STILL)


def measured_mm(steps: Sequence[tuple[float, float]]) -> list[float | None]:
    """What the report says of a cork in the open that is slid by these steps (mm)."""
    camera, clock = rehearse("seed=2,auto=off,card=1")
    camera.run(HandScript([Visit(0.0, moves=24)]))
    clock.wait(10.0)
    watch = ShotWatch()
    verdicts = [watch.examine_file(camera.capture().originals[0].data, key="0")]
    for number, step in enumerate(steps, start=1):
        camera.run(HandScript([Visit(0.0, moves=0, moves_mm=step)]))
        clock.wait(10.0)
        verdicts.append(watch.examine_file(camera.capture().originals[0].data, key=str(number)))
    taken_at = SetClock().now()
    lines = [
        Judged(id=str(n), number=n + 1, hold=1, taken_at=taken_at, verdict=verdict)
        for n, verdict in enumerate(verdicts)
    ]
    return [step.mm for step in steps_of(lines, true_table(), STILL[0])[1:]]


def test_a_step_on_the_table_is_as_long_as_the_foot_went() -> None:
    """Its middle, half-way up, would read 11 % more (45 mm high under a camera 215 mm up)."""
    steps = [(6.0, 0.0), (0.0, -6.0), (-4.0, 4.0), (9.0, 2.0)]
    for step, found in zip(steps, measured_mm(steps), strict=True):
        assert found == pytest.approx(np.hypot(*step), abs=0.2)
