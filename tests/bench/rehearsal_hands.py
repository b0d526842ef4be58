"""The rehearsal set's scripted hand against the step-back trigger, in simulated time."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from standclear.cameras.rehearsal import (
    Flicker,
    HandScript,
    PasserBy,
    RehearsalCamera,
    Shade,
    Visit,
)
from standclear.shooting.stepback.watcher import Watcher
from tests.generator_hands.drive import Told
from tests.generator_hands.plan import Act
from tests.generator_hands.tally import Tally

KINDS = (
    "plain",
    "pause",
    "rest",
    "tool",
    "slow",
    "double",
    "shadow",
    "flicker",
    "wobble",
)
SHUTTER_S = 0.05
VISIBLE_LEAN_DEG = 0.1


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


def _visit(rng: np.random.Generator, kind: str) -> list[Visit]:
    one = Visit(
        0.2,
        edge=str(rng.choice(["right", "left", "front"])),
        sleeve=str(rng.choice(["dark", "plain", "bare"])),
        tool=kind == "tool",
        enter_s=float(rng.uniform(0.4, 0.8)),
        work_s=float(rng.uniform(0.5, 1.0)),
        pause_s=float(rng.uniform(1, 8)) if kind == "pause" else 0.0,
        leave_s=float(rng.uniform(1.8, 3.0)) if kind == "slow" else float(rng.uniform(0.3, 0.8)),
        rest_s=float(rng.uniform(1, 8)) if kind == "rest" else 0.0,
        wobble_s=float(rng.uniform(0.3, 1.8)) if kind == "wobble" else 0.0,
    )
    if kind != "double":
        return [one]
    again = replace(one, at=one.gone_at + float(rng.uniform(0.0, 1.0)))
    return [replace(one, moves=0), again]


def shoot(seed: int, poses: int, tally: Tally) -> None:
    """So many poses, one visit in ten without a change, a passer-by in every twentieth pose."""
    driver = RehearsalDriver(seed)
    rng = np.random.default_rng([seed, 8])
    for number in range(poses):
        if rng.random() < 0.1:
            idle = [replace(visit, moves=0) for visit in _visit(rng, "plain")]
            tally.add(_play(driver, "idle", idle, [], moves=False))
        kind = "passer" if (number + seed) % 20 == 10 else str(rng.choice(KINDS))
        visits = _visit(rng, kind)
        gone = visits[-1].gone_at
        more: list[Shade | Flicker | PasserBy] = []
        if kind == "shadow":
            more = [Shade(gone - 0.5, float(rng.uniform(1.0, 2.0)), float(rng.uniform(0.1, 0.35)))]
        elif kind == "flicker":
            more = [Flicker(0.0, gone + 3.0)]
        elif kind == "passer":
            more = [PasserBy(gone - 0.5, edge=str(rng.choice(["left", "right"])))]
        tally.add(_play(driver, kind, visits, more))


def _play(
    driver: RehearsalDriver,
    kind: str,
    visits: list[Visit],
    more: list[Shade | Flicker | PasserBy],
    *,
    moves: bool = True,
) -> Told:
    act = Act(kind, visits[0].edge, ((0.0, 0.0),), 0.0, 0.0, moves=moves)
    driver.camera.run(HandScript([*visits, *more]))
    ends = max(event.ends for event in (*visits, *more) if not isinstance(event, Flicker))
    return driver.play(Told(act), ends + 1.5)
