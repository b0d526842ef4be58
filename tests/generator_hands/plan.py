"""What happens in one pose: a hand's way in and out by keyframes, and what comes with it."""

from dataclasses import dataclass, replace

import numpy as np

KINDS = (
    "plain",
    "plain",
    "pause",
    "resting",
    "sleeve",
    "tool",
    "slow",
    "double",
    "shadow",
    "flicker",
    "wobble",
)
SIDES = ("left", "right", "bottom", "top")


@dataclass(frozen=True)
class Truth:
    """What is really there: a hand (or what it holds) inside the picture, the pose's number, how
    far the object is from rest (px), what else is in the way."""

    hand: bool
    pose: int
    sway_px: float
    shadow: bool
    passer: bool
    left: bool


@dataclass(frozen=True)
class Act:
    """One visit. ``way``: (time, reach) keyframes, reach 0 outside, 1 at the object; the object is
    moved from ``grip`` to ``let_go``; times in seconds from the act's start."""

    kind: str
    side: str
    way: tuple[tuple[float, float], ...]
    grip: float
    let_go: float
    moves: bool = True
    tilt: float = 0.0
    sleeve: tuple[int, int, int] | None = None
    stripes: bool = False
    tool: bool = False
    leaves: bool = False
    shadow: tuple[float, float] | None = None
    shadow_depth: float = 0.0
    passer: tuple[float, float] | None = None
    flicker: float = 0.0
    wobble: float = 0.0
    lasts: float = 0.0

    @property
    def gone(self) -> float:
        """When the hand is outside for good."""
        return self.way[-1][0]


def a_pose(rng: np.random.Generator, number: int, kind: str | None = None) -> Act:
    """A visit that changes the pose; every twentieth with somebody passing behind the set."""
    kind = kind or str(rng.choice(KINDS))
    enter, work = float(rng.uniform(0.3, 0.7)), float(rng.uniform(0.4, 1.2))
    leave = float(rng.uniform(1.8, 3.0)) if kind == "slow" else float(rng.uniform(0.25, 0.7))
    t = 0.2 + enter
    way = [(0.2, 0.0), (t, 1.0), (t + work, 1.0)]
    grip, let_go = t, t + work
    t = let_go
    if kind == "pause":
        t += float(rng.uniform(1, 8))
        way.append((t, 1.0))
    if kind == "resting":
        way.append((t + 0.3, 0.55))
        t += 0.3 + float(rng.uniform(1, 8))
        way.append((t, 0.55))
    t += leave
    way.append((t, 0.0))
    if kind == "double":
        # The first visit only looks; the second, soon after, moves the object.
        t += float(rng.uniform(0.03, 1.0))
        way += [(t, 0.0), (t + 0.4, 1.0), (t + 0.9, 1.0), (t + 1.3, 0.0)]
        grip, let_go, t = t + 0.4, t + 0.9, t + 1.3
    return _dressed(rng, kind, number, tuple(way), (grip, let_go, t))


def _dressed(
    rng: np.random.Generator,
    kind: str,
    number: int,
    way: tuple[tuple[float, float], ...],
    times: tuple[float, float, float],
) -> Act:
    grip, let_go, gone = times
    colour = tuple(int(v) for v in rng.integers(20, 230, 3)) if kind == "sleeve" else None
    shadow = (gone - 0.4, gone + float(rng.uniform(0.6, 1.6))) if kind == "shadow" else None
    passer = (gone - 0.5, gone + 1.5) if number % 20 == 10 else None
    wobble = float(rng.uniform(0.3, 1.6)) if kind == "wobble" else 0.0
    busy = max(gone, shadow[1] if shadow else 0, passer[1] if passer else 0, let_go + wobble)
    return Act(
        kind=kind if passer is None else "passer",
        side=str(rng.choice(SIDES)),
        way=way,
        grip=grip,
        let_go=let_go,
        tilt=float(rng.uniform(-0.3, 0.3)),
        sleeve=colour,
        stripes=bool(rng.random() < 0.5),
        tool=kind == "tool",
        shadow=shadow,
        shadow_depth=float(rng.uniform(0.12, 0.4)),
        passer=passer,
        flicker=0.02 if kind == "flicker" else 0.0,
        wobble=wobble,
        lasts=busy + 1.5,
    )


def an_idle_visit(rng: np.random.Generator) -> Act:
    """A hand comes, thinks better of it, and goes: nothing is changed."""
    act = a_pose(rng, 1, "plain")
    return replace(act, kind="idle", moves=False)
