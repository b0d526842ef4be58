"""The rehearsal set's scripted hand against the step-back trigger, in simulated time."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from standclear.cameras.rehearsal import HandScript, PasserBy, RehearsalCamera, Shade, Visit
from standclear.cameras.rehearsal.habits import posing
from standclear.shooting.stepback.watcher import Watcher
from tests.generator_hands.drive import Told
from tests.generator_hands.plan import Act
from tests.generator_hands.tally import Tally

SHUTTER_S = 0.05


class SimulatedClock:
    """Moves only when somebody waits."""

    def __init__(self) -> None:
        self.time = 100.0

    def monotonic(self) -> float:
        return self.time

    def now(self) -> datetime:
        return datetime.now(UTC)

    def wait(self, seconds: float) -> None:
        self.time += seconds


class RehearsalDriver:
    """Plays visits on one rehearsal set."""

    def __init__(self, seed: int) -> None:
        self.clock = SimulatedClock()
        self.camera = RehearsalCamera.from_orders(
            f"seed={seed},auto=off", clock=self.clock, wait=self.clock.wait
        )
        self.camera.open()
        self.watcher = Watcher()
        self._kept = 0.0
        self.play(Told(Act("none", "left", ((0.0, 0.0),), 0.0, 0.0, moves=False)), 1.5)

    def play(self, told: Told, seconds: float) -> Told:
        """So long; what happens goes into ``told``."""
        end, gone = self.clock.time + seconds, float("-inf")
        while self.clock.time < end:
            picture = self.camera.live()
            if self.camera.truth().hand_in_picture:
                gone = self.clock.time
            assert picture.pixels is not None
            moment = self.watcher.see(picture.at, picture.pixels)
            if moment.state == "take":
                told.delays.append(self.clock.time - gone)
                told.wrong += self._wrong()
                self.clock.wait(SHUTTER_S)
                told.wrong += ["hand"] * self.camera.truth().hand_in_picture
                self.watcher.taken()
        told.ends = (self.watcher.moment.state, self.watcher.moment.cause)
        return told

    def _wrong(self) -> list[str]:
        truth = self.camera.truth()
        found = {
            "hand": truth.hand_in_picture,
            "shadow": truth.shadow,
            "passer-by": truth.passer_by,
            "left behind": truth.tool_left,
            "nothing changed": truth.pose == self._kept,
        }
        self._kept = truth.pose
        return [name for name, wrong in found.items() if wrong]


def shoot(seed: int, poses: int, tally: Tally) -> None:
    """So many poses in the manner of the set's animator, one visit in ten without a change."""
    driver = RehearsalDriver(seed)
    rng = np.random.default_rng([seed, 8])
    for number in range(1, poses + 1):
        script = posing(seed, number)
        if rng.random() < 0.1:
            visits = [one for one in posing(seed, poses + number).events if isinstance(one, Visit)]
            idle = HandScript([replace(visit, moves=0) for visit in visits])
            tally.add(_play(driver, idle, moves=False))
        tally.add(_play(driver, script))


def _play(driver: RehearsalDriver, script: HandScript, *, moves: bool = True) -> Told:
    visits = [one for one in script.events if isinstance(one, Visit)]
    gone = max(visit.gone_at for visit in visits)
    in_the_way = [one for one in script.events if isinstance(one, Shade | PasserBy)]
    late = any(one.ends > gone - 0.2 for one in in_the_way)
    act = Act("shadow" if late else "posing", "", ((0.0, 0.0),), 0.0, 0.0, moves=moves)
    driver.camera.run(script)
    return driver.play(Told(act), max(one.ends for one in (*visits, *in_the_way)) + 1.5)
