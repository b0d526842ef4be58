"""The scripted hand does what the script says, and the truth says what the picture shows."""

from itertools import pairwise

import numpy as np
import pytest

from standclear.cameras.rehearsal import (
    Bump,
    Flicker,
    HandScript,
    Lamp,
    PasserBy,
    RehearsalCamera,
    RigShift,
    Shade,
    TakeToolAway,
    Truth,
    Visit,
    posing,
)
from tests.cameras.rehearsal_kit import changed, linear, live, pixels, rehearse


def _film(camera: RehearsalCamera, count: int) -> list[tuple[np.ndarray, Truth]]:
    """So many live pictures with the truth at each."""
    return [(live(camera).copy(), camera.truth()) for _ in range(count)]


def _phases(film: list[tuple[np.ndarray, Truth]]) -> list[bool]:
    """Whether a hand is in the picture, with repeats left out."""
    seen = [truth.hand_in_picture for _, truth in film]
    return [now for i, now in enumerate(seen) if i == 0 or now != seen[i - 1]]


@pytest.mark.parametrize("edge", ["right", "left", "front"])
@pytest.mark.parametrize("tool", [False, True])
def test_a_visit_changes_the_pose_once_and_leaves_nothing(edge: str, tool: bool) -> None:
    camera, _ = rehearse("auto=off")
    before = live(camera).copy()
    camera.run(HandScript((Visit(0.2, edge=edge, tool=tool),)))
    film = _film(camera, 70)
    assert _phases(film) == [False, True, False]
    assert film[0][1].pose == 0
    assert film[-1][1].pose == 1
    assert film[-1][1].cork_at_rest
    assert changed(before, film[-1][0]).sum() > 200
    for picture, truth in film[::4]:
        if truth.cork_at_rest and truth.pose == 0 and not truth.hand_in_picture:
            # A shadow may run ahead of the hand, but only near where it comes in.
            assert changed(before, picture).mean() < 0.04
    assert any(changed(before, p).mean() > 0.03 for p, t in film[::4] if t.hand_in_picture)


def test_the_hand_touches_the_edge_as_long_as_it_is_in() -> None:
    camera, _ = rehearse("auto=off")
    before = live(camera).copy()
    camera.run(HandScript((Visit(0.1, work_s=1.0),)))
    inside = [p for p, t in _film(camera, 70) if t.hand_in_picture]
    assert len(inside) > 40
    assert all(changed(before, p)[:, -4:].any() for p in inside[2:-2:4])


def test_a_pause_in_the_picture_is_still() -> None:
    camera, clock = rehearse("auto=off")
    camera.run(HandScript((Visit(0.0, work_s=0.5, pause_s=3.0, rest_s=2.0, leave_s=1.0),)))
    clock.wait(1.3)
    one = live(camera).copy()
    clock.wait(2.0)
    two, truth = live(camera).copy(), camera.truth()
    assert truth.hand_in_picture
    assert truth.cork_at_rest
    assert not changed(one, two).any()
    clock.wait(2.0)  # on its way out, resting half-way
    three = live(camera).copy()
    clock.wait(0.8)
    assert camera.truth().hand_in_picture
    assert not changed(three, live(camera)).any()
    assert changed(two, three).any()


def test_a_second_visit_may_follow_and_touch_nothing() -> None:
    camera, _ = rehearse("auto=off")
    camera.run(HandScript((Visit(0.1), Visit(3.0, moves=0))))
    film = _film(camera, 180)
    assert _phases(film) == [False, True, False, True, False]
    assert film[-1][1].pose == 1
    assert camera.script_over()


def test_a_capture_while_the_hand_is_in_shows_it_and_says_so() -> None:
    camera, clock = rehearse("auto=off")
    plate = pixels(camera.capture())
    camera.run(HandScript((Visit(0.0),)))
    clock.wait(1.0)
    shown = pixels(camera.capture())
    clock.wait(5.0)
    after = pixels(camera.capture())
    assert [t.hand_in_picture for t in camera.exposed] == [False, True, False]
    assert changed(plate, shown).mean() > 0.04 > changed(plate, after).mean()


def test_the_cork_can_be_moved_by_millimetres() -> None:
    camera, clock = rehearse("auto=off")
    start = camera.truth()
    camera.run(HandScript((Visit(0.0, moves=0, moves_mm=(3.0, -2.0)),)))
    clock.wait(1.0)
    between = camera.truth()
    clock.wait(4.0)
    end = camera.truth()
    assert start.x_mm < between.x_mm < end.x_mm
    assert (end.x_mm - start.x_mm, end.y_mm - start.y_mm) == pytest.approx((3.0, -2.0))


def test_it_wobbles_to_rest_after_the_hand_let_go() -> None:
    camera, _ = rehearse("auto=off")
    camera.run(HandScript((Visit(0.0, leave_s=0.3, wobble_s=2.0),)))
    film = _film(camera, 120)
    wobbling = [p for p, t in film if not t.hand_in_picture and not t.cork_at_rest]
    assert len(wobbling) > 20
    assert any(changed(a, b).any() for a, b in pairwise(wobbling))
    assert film[-1][1].cork_at_rest
    assert not changed(film[-1][0], film[-8][0]).any()


def test_a_tool_left_behind_stays_until_it_is_taken_away() -> None:
    camera, clock = rehearse("auto=off")
    plate = live(camera).copy()
    script = (Visit(0.0, tool=True, leaves_tool=True, moves=0), TakeToolAway(5.0))
    camera.run(HandScript(script))
    clock.wait(4.0)
    with_tool, truth = live(camera).copy(), camera.truth()
    assert truth.tool_left
    assert not truth.hand_in_picture
    assert changed(plate, with_tool).sum() > 500
    clock.wait(2.0)
    assert not camera.truth().tool_left
    assert not changed(plate, live(camera)).any()


def test_a_shadow_and_a_passer_by_darken_the_picture_and_go() -> None:
    for event, part in ((Shade(0.0, 2.0), np.s_[:, :]), (PasserBy(0.0, 2.0), np.s_[:200, 450:])):
        camera, clock = rehearse("auto=off")
        plate = live(camera).copy()
        camera.run(HandScript((event,)))
        clock.wait(1.0)
        picture, truth = live(camera).copy(), camera.truth()
        assert truth.shadow is isinstance(event, Shade)
        assert truth.passer_by is isinstance(event, PasserBy)
        assert not truth.hand_in_picture
        assert linear(picture[part]).mean() < 0.95 * linear(plate[part]).mean()
        still = linear(pixels(camera.capture())).mean()
        clock.wait(2.0)
        assert not changed(plate, live(camera)).any()
        assert still < linear(pixels(camera.capture())).mean()


def test_a_passer_by_stays_behind_the_set() -> None:
    camera, clock = rehearse("auto=off")
    plate = live(camera).copy()
    camera.run(HandScript((PasserBy(0.0, 2.0),)))
    for _ in range(6):
        clock.wait(0.3)
        assert not changed(plate, live(camera))[240:].any()


def test_a_flickering_lamp_changes_each_live_picture() -> None:
    camera, clock = rehearse("auto=off")
    levels = [linear(live(camera)).mean() for _ in range(20)]
    assert np.std(levels) / np.mean(levels) < 0.001
    camera.run(HandScript((Flicker(0.0, 3.0, sd=0.02),)))
    levels = [linear(live(camera)).mean() for _ in range(60)]
    assert 0.012 < np.std(levels) / np.mean(levels) < 0.028
    clock.wait(3.0)
    levels = [linear(live(camera)).mean() for _ in range(20)]
    assert np.std(levels) / np.mean(levels) < 0.001


def test_a_bump_and_a_change_of_lamp_stay() -> None:
    camera, clock = rehearse("auto=off")
    plate = pixels(camera.capture())
    camera.run(HandScript((Bump(0.5, RigShift(4.0, -3.0, 0.1)), Lamp(0.5, right=0.8))))
    assert camera.truth().rig == RigShift()
    clock.wait(1.0)
    truth = camera.truth()
    assert truth.rig == RigShift(4.0, -3.0, 0.1)
    assert (truth.light.left, truth.light.right) == (1.0, 0.8)
    after = pixels(camera.capture())
    assert linear(after)[:, -60:].mean() == pytest.approx(
        0.8 * linear(plate)[:, -60:].mean(), rel=0.01
    )
    camera.nudge(RigShift(-4.0, 3.0, -0.1))
    assert camera.truth().rig == RigShift()


def test_ordered_hand_seconds_let_the_hand_pose_after_each_exposure() -> None:
    camera, _ = rehearse("hand_seconds=2")
    for pose in range(3):
        film = _film(camera, 90)
        assert camera.truth().pose == pose
        assert not film[-1][1].hand_in_picture
        assert any(truth.hand_in_picture for _, truth in film) is (pose > 0)
        camera.capture()
    assert [truth.pose for truth in camera.exposed] == [0, 1, 2]
    assert not any(truth.hand_in_picture for truth in camera.exposed)


def test_an_animators_habits_take_one_new_pose_each_time_and_repeat_by_seed() -> None:
    scripts = [posing(2, number) for number in range(1, 301)]
    assert scripts == [posing(2, number) for number in range(1, 301)]
    visits = [[e for e in s.events if isinstance(e, Visit)] for s in scripts]
    assert all(sum(visit.moves for visit in pose) == 1 for pose in visits)
    flat = [visit for pose in visits for visit in pose]
    assert {v.edge for v in flat} == {"right", "left", "front"}
    assert {v.tool for v in flat} == {True, False}
    assert max(v.pause_s for v in flat) > 7.0
    assert 5 <= sum(any(isinstance(e, PasserBy) for e in s.events) for s in scripts) <= 30
    camera, clock = rehearse("auto=off")
    for pose, script in enumerate(scripts[:20], 1):
        camera.run(script)
        clock.wait(script.lasts_s + 0.1)
        assert camera.script_over()
        truth = camera.truth()
        assert (truth.pose, truth.hand_in_picture, truth.cork_at_rest) == (pose, False, True)
