"""Each thing that can happen on the set is told by its own name and by none of its neighbours'.

Every case plays pictures of the second generator and collects all causes that were told meanwhile;
a case that is taken for another one, even for a moment, fails.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.generator_hands import Act, World
from tests.generator_hands.drive import Driver, Told, learnt
from tests.unit.test_stepback_sees import visit

RATE = 15.0

#: Causes that say what is the matter; the others only say what is waited for.
TELLING = {
    *("changed", "nothing_changed", "hand_resting", "shadow", "light", "light_stays", "bumped"),
    *("left_behind", "passed_by", "no_hand_seen", "large_change", "at_the_edge"),
}
NOBODY = Act("none", "left", ((9.0, 0.0), (9.1, 0.0)), 9.0, 9.1, moves=False)
RESTS = ((0.1, 0.0), (0.5, 1.0), (1.1, 1.0), (1.4, 0.6), (6.0, 0.6), (6.3, 0.0))


def bumped(driver: Driver) -> Told:
    driver.world.shift = (2.0, 0.8)
    return driver.play(None, 2.5)


def brighter(driver: Driver) -> Told:
    driver.world.lamp = 1.25
    return driver.play(None, 1.5)


def brighter_for_good(driver: Driver) -> Told:
    driver.world.lamp = 1.25
    return driver.play(visit(lasts=6.0))


def moves_by_itself(driver: Driver) -> Told:
    driver.world.pose += 1
    return driver.play(None, 1.5)


def much_is_changed(driver: Driver) -> Told:
    """Half the set is turned round behind the hand: as much has gone as has come."""
    assert driver.play(visit()).fired == 1
    table = driver.world._empty[150:330, 60:400]
    table[:] = np.ascontiguousarray(table[:, ::-1])
    return driver.play(visit())


def acts(**more: object) -> Callable[[Driver], Told]:
    return lambda driver: driver.play(visit(**more))


CASES: dict[str, tuple[Callable[[Driver], Told], set[str], str]] = {
    "a new pose": (acts(), {"changed"}, "rest watching"),
    "the object wobbles to rest": (acts(wobble=1.8, lasts=4.0), {"changed"}, "rest watching"),
    "nothing changed": (acts(moves=False), {"nothing_changed"}, "asking"),
    "a hand rests inside": (acts(way=RESTS, lasts=5.9), {"hand_resting"}, "hands_in"),
    "a shadow passes": (
        lambda driver: driver.play(replace(NOBODY, shadow=(0.2, 2.0), shadow_depth=0.3), 3.0),
        {"shadow"},
        "watching",
    ),
    "the light changed": (brighter, {"light"}, "watching"),
    "the light changed for good": (brighter_for_good, {"light", "light_stays"}, "asking"),
    "the camera was bumped": (bumped, {"bumped"}, "blocked"),
    "something was left behind": (acts(leaves=True), {"left_behind"}, "asking"),
    "somebody walked past": (
        lambda driver: driver.play(replace(NOBODY, passer=(0.2, 2.2)), 3.5),
        {"passed_by"},
        "watching",
    ),
    "the object moved by itself": (moves_by_itself, {"no_hand_seen"}, "asking"),
    "far more than a pose changed": (much_is_changed, {"large_change"}, "asking"),
}


@pytest.mark.parametrize("case", CASES)
def test_it_is_told_by_its_own_name_and_by_no_other(case: str) -> None:
    play, causes, ends = CASES[case]
    told = play(learnt(World(3), rate=RATE))
    assert set(told.causes) & TELLING == causes
    assert told.ends[0] in ends.split()
    assert told.fired == ("changed" in causes)
    assert told.wrong == []


def test_every_telling_cause_has_a_case() -> None:
    """That something stays at the edge takes ten seconds to be told: ``test_stepback_sees.py``."""
    assert TELLING - set.union(*(causes for _, causes, _ in CASES.values())) == {"at_the_edge"}
