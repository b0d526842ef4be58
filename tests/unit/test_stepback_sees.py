"""What the step-back trigger makes of pictures: each case is told apart from its neighbour, in a
world of the second generator, in simulated time."""

from dataclasses import replace

import numpy as np
import pytest

from standclear.shooting.stepback.machine import EDGE_PATIENT_S, Options
from standclear.shooting.stepback.watcher import Watcher
from tests.generator_hands import Act, World, a_pose, an_idle_visit
from tests.generator_hands.drive import Driver, Told, learnt

RATE = 15.0


def visit(side: str = "right", **more: object) -> Act:
    """In, a second's work, out; then a second and a half alone."""
    way = ((0.1, 0.0), (0.5, 1.0), (1.1, 1.0), (1.6, 0.0))
    act = Act("plain", side, way, 0.5, 1.1, lasts=3.0)
    return replace(act, **more)  # type: ignore[arg-type]


@pytest.fixture
def set_up() -> Driver:
    return learnt(World(3), rate=RATE)


def test_hands_in_and_gone_with_a_new_pose_is_taken(set_up: Driver) -> None:
    told = set_up.play(visit())
    assert (told.fired, told.wrong) == (1, [])
    assert told.causes[0] == "hands"
    assert told.delays[0] <= 0.6


def test_a_hand_that_rests_in_the_picture_is_not_hands_gone(set_up: Driver) -> None:
    way = ((0.1, 0.0), (0.5, 1.0), (1.1, 1.0), (1.4, 0.6), (6.0, 0.6), (6.3, 0.0))
    told = set_up.play(visit(way=way, lasts=5.9))
    assert told.fired == 0
    assert "hand_resting" in told.causes
    assert set_up.watcher.moment.state == "hands_in"


def test_nothing_changed_is_not_a_new_pose(set_up: Driver) -> None:
    told = set_up.play(visit(moves=False))
    assert told.fired == 0
    assert told.ends == ("asking", "nothing_changed")


@pytest.mark.parametrize("px", [0.33, 0.7])
def test_a_move_of_a_third_of_a_pixel_is_a_new_pose(px: float) -> None:
    world = World(3)
    world._path[1] = world._path[0] + np.array([px, 0.0, 0.0])
    told = learnt(world, rate=RATE).play(visit())
    assert (told.fired, told.wrong) == (1, [])


def test_a_shadow_is_waited_out_and_is_no_hand(set_up: Driver) -> None:
    act = visit(shadow=(1.5, 3.2), shadow_depth=0.3, lasts=4.6)
    told = set_up.play(act)
    assert "shadow" in told.causes
    assert (told.fired, told.wrong) == (1, [])
    assert told.delays[0] > 1.0


def test_a_passing_shadow_alone_is_nothing(set_up: Driver) -> None:
    nobody = Act("none", "left", ((9.0, 0.0), (9.1, 0.0)), 9.0, 9.1, moves=False)
    told = set_up.play(replace(nobody, shadow=(0.2, 2.0), shadow_depth=0.3), 3.0)
    assert told.fired == 0
    assert "hands" not in told.causes
    assert told.ends[0] == "watching"


def test_light_that_changed_and_stays_is_asked_about(set_up: Driver) -> None:
    set_up.world.lamp = 1.25
    told = set_up.play(visit(lasts=6.0))
    assert told.fired == 0
    assert told.causes.count("light") >= 1
    assert told.ends == ("asking", "light_stays")
    assert set_up.watcher.press()
    assert set_up.watcher.moment.state == "take"


def test_two_percent_of_flicker_is_not_a_change_of_light(set_up: Driver) -> None:
    told = set_up.play(visit(flicker=0.02))
    assert (told.fired, told.wrong) == (1, [])
    assert "light" not in told.causes


@pytest.mark.parametrize("shift", [(1.0, 0.4), (-6.0, 3.0)])
def test_a_bump_is_neither_a_pose_nor_a_hand(set_up: Driver, shift: tuple[float, float]) -> None:
    told = set_up.play(visit(), 1.3)

    def bump(t: float) -> None:
        set_up.world.shift = shift if t > 0.9 else (0.0, 0.0)

    told = set_up.play(visit(), 4.0, bump)
    assert told.fired == 0
    assert told.ends == ("blocked", "bumped")
    assert set_up.watcher.shift_px == pytest.approx(np.hypot(*shift), abs=0.5)


def test_a_bumped_camera_put_back_is_asked_about(set_up: Driver) -> None:
    set_up.world.shift = (4.0, 0.0)
    assert set_up.play(visit(), 3.5).ends == ("blocked", "bumped")
    set_up.world.finish(visit())
    set_up.world.shift = (0.0, 0.0)
    told = set_up.play(None, 2.5)
    assert told.fired == 0
    assert told.ends == ("asking", "ready")


def test_something_left_behind_is_asked_about_and_its_removal_is_enough(set_up: Driver) -> None:
    told = set_up.play(visit(leaves=True))
    assert told.fired == 0
    assert told.ends == ("asking", "left_behind")
    set_up.world.left_tool = False
    told = set_up.play(visit(moves=False))
    assert (told.fired, told.wrong) == (1, [])


def test_a_passer_by_behind_the_set_is_waited_out(set_up: Driver) -> None:
    told = set_up.play(visit(passer=(1.2, 3.0), lasts=4.5))
    assert (told.fired, told.wrong) == (1, [])
    assert told.delays[0] > 0.9


def test_a_passer_by_alone_is_not_a_visit(set_up: Driver) -> None:
    nobody = Act("none", "left", ((9.0, 0.0), (9.1, 0.0)), 9.0, 9.1, moves=False)
    told = set_up.play(replace(nobody, passer=(0.2, 2.2)), 3.5)
    assert told.fired == 0
    assert "passed_by" in told.causes
    assert told.ends[0] == "watching"


def test_a_wobbling_object_is_waited_for(set_up: Driver) -> None:
    told = set_up.play(visit(wobble=1.8, lasts=4.0))
    assert (told.fired, told.wrong) == (1, [])
    assert "wobbling" in told.causes


def test_the_object_moving_by_itself_is_no_visit(set_up: Driver) -> None:
    set_up.world.pose += 1
    told = set_up.play(None, 1.5)
    assert told.fired == 0
    assert told.ends == ("asking", "no_hand_seen")


def test_far_more_change_than_usual_is_asked_about(set_up: Driver) -> None:
    assert set_up.play(visit()).fired == 1
    here = set_up.world._path[set_up.world.pose]
    set_up.world._sprite[:] = 255 - set_up.world._sprite
    set_up.world._empty[150:330, 60:260] //= 2
    set_up.world._empty[170:310, 80:240] += 60
    told = set_up.play(visit())
    assert told.fired == 0, here
    assert told.ends[1] in ("large_change", "left_behind")


def test_a_thing_that_stays_at_the_edge_is_asked_about_and_learnt_at_a_press() -> None:
    driver = learnt(World(3), rate=10.0)
    way = ((0.1, 0.0), (0.5, 1.0), (1.1, 1.0), (1.4, 0.5), (60.0, 0.5))
    told = driver.play(visit(way=way, moves=False), EDGE_PATIENT_S + 3.0)
    assert told.fired == 0
    assert told.ends == ("blocked", "at_the_edge")
    assert driver.watcher.press()
    assert driver.watcher.moment.state == "learning"


def test_a_hand_there_from_the_start_delays_the_learning() -> None:
    driver = Driver(World(3), rate=RATE)
    way = ((-1.0, 0.0), (-0.5, 0.4), (1.0, 1.0), (2.0, 0.0))
    told = driver.play(visit(way=way, moves=False), 2.0)
    assert told.causes == ["restless"]
    assert driver.play(None, 1.5).ends[0] == "watching"


def test_held_back_while_it_learns_it_waits_for_the_next_visit() -> None:
    driver = Driver(World(3), rate=RATE)
    driver.idle(0.3)
    assert driver.watcher.moment.state == "learning"
    driver.watcher.hold_back()
    told = driver.play(None, 3.0)
    assert told.ends == ("held_back", "held"), "the set is learnt meanwhile, and it is still held"
    told = driver.play(visit())
    assert (told.fired, told.wrong) == (1, [])


def test_a_press_after_a_hold_back_while_learning_goes_on_learning() -> None:
    driver = Driver(World(3), rate=RATE)
    driver.idle(0.3)
    driver.watcher.hold_back()
    assert driver.watcher.press()
    assert driver.watcher.moment.state == "learning"
    assert driver.play(None, 1.5).ends[0] == "watching"


def test_held_back_while_no_picture_comes_nothing_is_taken_when_it_comes_again(
    set_up: Driver,
) -> None:
    set_up.play(visit(lasts=1.2))  # the hand is at work: somebody was in
    set_up.watcher.missing(set_up.now)
    assert set_up.watcher.moment.state == "blind"
    set_up.watcher.hold_back()
    set_up.world.pose += 1
    told = set_up.play(None, 2.5)
    assert told.fired == 0
    assert told.ends == ("held_back", "held")


def test_a_hand_at_rest_when_learning_began_is_learnt_away_when_it_leaves() -> None:
    driver = Driver(World(3), rate=RATE)
    way = ((-1.0, 0.0), (-0.5, 0.6), (2.0, 0.6), (2.4, 0.0))
    told = driver.play(visit(way=way, moves=False), 6.0)
    assert told.fired == 0
    assert told.ends[0] == "watching"
    assert driver.play(visit()).fired == 1


def test_only_ask_readies_and_a_countdown_counts() -> None:
    asks = learnt(World(3), Watcher(Options(only_ask=True)), RATE)
    assert asks.play(visit()).ends == ("asking", "ready")
    counts = learnt(World(3), Watcher(Options(countdown_s=1.0)), RATE)
    told = counts.play(visit(), 4.0)
    assert told.fired == 1
    assert told.delays[0] > 1.2


def test_hands_that_come_back_at_once_do_not_go_beyond_the_limit() -> None:
    driver = learnt(World(3), Watcher(Options(limit=1)), RATE)
    assert driver.play(visit(lasts=2.08)).fired == 1
    assert driver.watcher.moment.state == "rest", "the next hand comes before the set was at rest"
    told = driver.play(visit(way=((0.0, 0.0), (0.2, 1.0), (1.1, 1.0), (1.6, 0.0))))
    assert told.fired == 0
    assert told.ends == ("held_back", "action_done")


def test_a_plain_wall_in_jpeg_is_still_one_day_too() -> None:
    """JPEG repeats a plain wall exactly; the clamp keeps the first other picture from being a
    movement."""
    world = World(3, jpeg=80, noise=0.4)
    world._empty[:] = 128
    driver = learnt(world, rate=RATE)
    told = driver.play(visit())
    assert (told.fired, told.wrong) == (1, [])


def test_visits_that_change_nothing_never_fire() -> None:
    driver = learnt(World(8), rate=RATE)
    told: list[Told] = [driver.play(an_idle_visit(np.random.default_rng(n))) for n in range(3)]
    assert [one.fired for one in told] == [0, 0, 0]


def test_a_visit_by_every_edge_is_seen() -> None:
    driver = learnt(World(9), rate=RATE)
    for side in ("left", "right", "top", "bottom"):
        told = driver.play(replace(a_pose(np.random.default_rng(2), 1, "plain"), side=side))
        assert (told.fired, told.wrong) == (1, []), side
