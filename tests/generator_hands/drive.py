"""Drives a step-back trigger through acts in simulated time, and tallies what it did."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from standclear.shooting.stepback.watcher import Watcher
from tests.generator_hands.plan import Act, Truth
from tests.generator_hands.world import World

RATE = 30.0
SHUTTER_S = 0.05
"""From the decision to the end of the exposure: frames that the trigger does not see."""


@dataclass
class Told:
    """One act's outcome: the truth at each exposure, delays from hand gone to shutter, causes."""

    act: Act
    wrong: list[str] = field(default_factory=list)
    delays: list[float] = field(default_factory=list)
    causes: list[str] = field(default_factory=list)
    ends: tuple[str, str] = ("", "")

    @property
    def fired(self) -> int:
        """How many pictures were taken."""
        return len(self.delays)


class Driver:
    """Plays acts in one world, one after the other."""

    def __init__(self, world: World, watcher: Watcher | None = None, rate: float = RATE) -> None:
        self.world = world
        self.watcher = watcher or Watcher()
        self.rate = rate
        self.now = 0.0
        self.kept = world.pose

    def idle(self, seconds: float) -> None:
        """Nothing happens on the set."""
        self.play(None, seconds)

    def play(
        self,
        act: Act | None,
        seconds: float | None = None,
        meanwhile: Callable[[float], None] | None = None,
    ) -> Told:
        """One act, to its end. ``meanwhile`` is called with each picture's time in the act."""
        told = Told(act or Act("none", "left", ((0.0, 0.0),), 0.0, 0.0))
        lasts = seconds if seconds is not None else told.act.lasts
        t, gone = 0.0, float("-inf")
        while t < lasts:
            picture, truth = self.world.show(act, t)
            gone = t if truth.hand else gone
            if meanwhile is not None:
                meanwhile(t)
            moment = self.watcher.see(self.now + t, picture)
            if moment.cause and (not told.causes or told.causes[-1] != moment.cause):
                told.causes.append(moment.cause)
            if moment.state == "take":
                t = self._expose(act, t, gone, told)
            t += 1.0 / self.rate
        self.now += t
        if act is not None:
            self.world.finish(act)
        told.ends = (self.watcher.moment.state, self.watcher.moment.cause)
        return told

    def _expose(self, act: Act | None, t: float, gone: float, told: Told) -> float:
        truths = [self.world.show(act, t + s)[1] for s in (0.0, SHUTTER_S)]
        told.wrong += _wrong(truths, self.kept)
        told.delays.append(t - gone)
        self.kept = truths[0].pose
        self.watcher.taken()
        return t + SHUTTER_S


def _wrong(truths: list[Truth], kept: int) -> list[str]:
    found = []
    if any(truth.hand for truth in truths):
        found.append("hand")
    if truths[0].pose == kept:
        found.append("nothing changed")
    if truths[0].sway_px > 0.25:
        found.append("not at rest")
    if any(truth.passer for truth in truths):
        found.append("passer-by")
    if truths[0].left:
        found.append("left behind")
    return found


def learnt(world: World, watcher: Watcher | None = None, rate: float = RATE) -> Driver:
    """A driver whose trigger has learnt the set."""
    driver = Driver(world, watcher, rate)
    driver.idle(1.5)
    assert driver.watcher.moment.state == "watching", driver.watcher.moment
    return driver


def percentile(values: list[float], percent: float) -> float:
    """In seconds."""
    return float(np.percentile(values, percent)) if values else float("nan")
