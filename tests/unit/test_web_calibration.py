"""The table is due again when the camera moved after it was measured, and only then."""

from datetime import UTC, datetime, timedelta

from standclear.library.records import Judged
from standclear.web.calibration import moved_since

START = datetime(2026, 1, 1, tzinfo=UTC)


def line(number: int, shift: float, *, accepted: bool = False) -> Judged:
    """An exposure a minute, with the rig watch's shift to the right in px; its limit is 1 px."""
    state = "flagged" if abs(shift) > 1 else "clear"
    rig = {
        "state": state,
        "figures": {"shift_x_px": shift, "shift_y_px": 0.0},
        "thresholds": {"shift_px": 1.0},
    }
    taken = START + timedelta(minutes=number)
    return Judged(f"e{number}", number, 1, taken, {"watches": {"rig": rig}, "accepted": accepted})


def test_a_bump_after_measuring_makes_it_due() -> None:
    lines = [line(1, 0), line(2, 0.2), line(3, 8), line(4, 8)]
    found = moved_since(lines, lines[0].taken_at, (0, 0))
    assert found is lines[2]


def test_a_bump_before_measuring_is_in_the_scale_already() -> None:
    lines = [line(1, 0), line(2, 8), line(3, 8.1)]
    assert moved_since(lines, lines[1].taken_at, (8, 0)) is None


def test_a_camera_put_back_needs_no_new_scale() -> None:
    lines = [line(1, 0), line(2, 8), line(3, 0.1)]
    assert moved_since(lines, None, (0, 0)) is None


def test_a_bump_that_was_accepted_stays_a_bump() -> None:
    lines = [line(1, 0), line(2, 8, accepted=True), line(3, 0)]
    assert moved_since(lines, None, (0, 0)) is lines[1]
