"""An animator's habits: for each pose a script of how the hand came, worked and left.

Drawn by seed, for long rehearsals: pauses of 1 to 8 s in the picture, sleeves, tools, slow
withdrawals, second visits, shadows, a flickering lamp, a passer-by in one pose of twenty.
"""

import numpy as np

from standclear.cameras.rehearsal.hand import EDGES, SLEEVES
from standclear.cameras.rehearsal.script import (
    Event,
    Flicker,
    HandScript,
    PasserBy,
    Shade,
    Visit,
)


def posing(seed: int, number: int, *, flicker_sd: float = 0.02) -> HandScript:
    """The script for one pose (``number`` from 1). The cork takes exactly one new pose in it.

    Times count from when the animator steps up; the last hand is gone at the last visit's
    ``gone_at``. One pose in five has two visits, of which only the second moves the cork; one in
    four a lamp that flickers (by ``flicker_sd``) all through it.
    """
    dice = np.random.default_rng([seed, 70, number])
    first = _visit(dice, float(dice.uniform(0.3, 1.0)), moves=1)
    events: list[Event] = [first]
    if dice.random() < 0.2:
        gap = float(dice.uniform(0.0, 0.25))
        looks = _visit(dice, first.at, moves=0)
        events = [looks, _visit(dice, looks.ends + gap, moves=1)]
    end = max(event.ends for event in events)
    if dice.random() < 0.15:
        events.append(Shade(float(dice.uniform(0.0, end)), float(dice.uniform(0.8, 2.0))))
    if dice.random() < 0.05:
        side = str(dice.choice(["left", "right"]))
        events.append(PasserBy(float(dice.uniform(0.0, end)), float(dice.uniform(1.5, 3.0)), side))
    if dice.random() < 0.25:
        events.append(Flicker(0.0, end + 2.0, flicker_sd))
    return HandScript(tuple(events))


def _visit(dice: np.random.Generator, at: float, *, moves: int) -> Visit:
    """One visit in this animator's manner."""
    pauses = float(dice.uniform(1.0, 8.0)) if dice.random() < 0.4 else 0.0
    rests = float(dice.uniform(1.0, 3.0)) if dice.random() < 0.15 else 0.0
    slow = dice.random() < 0.2
    return Visit(
        at,
        edge=str(dice.choice(EDGES)),
        sleeve=str(dice.choice(SLEEVES)),
        tool=bool(dice.random() < 0.25),
        enter_s=float(dice.uniform(0.3, 0.9)),
        work_s=float(dice.uniform(0.4, 2.0)),
        pause_s=pauses,
        rest_s=rests,
        leave_s=float(dice.uniform(2.0, 4.0) if slow else dice.uniform(0.3, 0.8)),
        moves=moves,
    )
