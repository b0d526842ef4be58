"""What came of many poses, and the many poses themselves."""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from tests.generator_hands.drive import Told, learnt
from tests.generator_hands.plan import a_pose, an_idle_visit
from tests.generator_hands.world import World

#: Waits for these are no fault of the trigger: a delay counts from the hand's leaving only where
#: nothing else is in the way.
ELSEWHERE = ("wobble", "shadow", "passer")


@dataclass
class Tally:
    """``poses`` that were set, how many of them were ``taken``, what was ``wrong``, ``delays`` from
    the hand's leaving to the shutter, and what was said of those ``not_taken``."""

    poses: int = 0
    taken: int = 0
    visits: int = 0
    wrong: list[str] = field(default_factory=list)
    delays: list[float] = field(default_factory=list)
    not_taken: Counter[str] = field(default_factory=Counter)

    def add(self, told: Told) -> None:
        """Count one visit."""
        act = told.act
        self.visits += 1
        self.wrong += [f"{act.kind}: {what}" for what in told.wrong]
        if not act.moves:
            self.wrong += ["idle: fired"] * told.fired
            return
        self.poses += 1
        self.taken += told.fired == 1
        if told.fired != 1:
            self.not_taken[f"{act.kind}: {told.ends[1] or told.ends[0]}"] += 1
        if act.kind not in ELSEWHERE:
            self.delays += told.delays

    @property
    def share(self) -> float:
        """The share of poses taken without help."""
        return self.taken / max(1, self.poses)

    def percentile(self, percent: float) -> float:
        """Of the delays, in seconds."""
        return float(np.percentile(self.delays, percent)) if self.delays else float("nan")


def shoot(seed: int, poses: int, *, rate: float, tally: Tally) -> None:
    """So many poses in one world, one visit in ten without a change; sensor, JPEG and tone curve
    differ by seed."""
    world = World(seed, jpeg=(None, 80, 70)[seed % 3], noise=(0.8, 1.5, 2.5)[seed % 3])
    driver = learnt(world, rate=rate)
    rng = np.random.default_rng([seed, 7])
    for number in range(poses):
        if rng.random() < 0.1:
            tally.add(driver.play(an_idle_visit(rng)))
        tally.add(driver.play(a_pose(rng, number + seed)))
