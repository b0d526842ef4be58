"""Spacing of an object that turns up to 5 degrees a frame; same pose; moves of one pixel."""

from collections import Counter

import numpy as np

from standclear.shooting.watches.shot_watch import ShotWatch
from tests.bench.tables import Table
from tests.bench.watch_sets import chance, flickering, look, sets
from tests.generator.tabletop import Pose, faulty


def pose(run):
    """Every third exposure repeats the pose, every third moves by 1 px of the original to 1.5."""
    table = Table(f"pose at {run.size}, flicker 2 % sd")
    errors, counts = [], Counter()
    for name, tabletop in sets(run, curves=("srgb",), areas=(0.08, 0.04, 0.12, 0.08, 0.25)):
        own = _walk(run, tabletop, counts)
        print(f"   {name}: median {np.median(own):.3f}, 95 % {np.quantile(own, 0.95):.3f} of "
              f"{len(own)}; {dict(counts)}", flush=True)  # fmt: skip
        errors += own
    table.row(f"spacing: median of {len(errors)}", np.median(errors), "px", 0.1)
    table.row("spacing: 95 %", np.quantile(errors, 0.95), "px", 0.5)
    table.row("spacing: not measured", counts["lost"], "exposures")
    found = 100 * counts["same found"] / counts["same"]
    table.row(f"same pose found of {counts['same']}", found, "%", 99, least=True)
    mistaken = 100 * counts["small mistaken"] / counts["small"]
    table.row(f"moves of 1 px and more mistaken of {counts['small']}", mistaken, "%", 0.5)
    return table


def _walk(run, tabletop, counts):
    rng, watch, at = chance(run, 8), ShotWatch(), Pose(-100 * run.unit, 0, 0)
    look(watch, tabletop, "first", at)
    errors = []
    for n in range(run.count):
        kind = ("move", "same", "move", "small")[n % 4]
        to = _next(rng, run, at, kind)
        fault = flickering(faulty(), rng)
        found = look(watch, tabletop, str(n), to, fault)["watches"]["pose"]
        named = "same_pose" in found["causes"]
        if kind == "same":
            counts["same"] += 1
            counts["same found"] += named
        elif kind == "small":
            counts["small"] += 1
            counts["small mistaken"] += named
        elif "move_x_px" in found["figures"]:
            figures = found["figures"]
            off_x = figures["move_x_px"] - (to.x - at.x)
            errors.append(float(np.hypot(off_x, figures["move_y_px"] - (to.y - at.y))))
        else:
            counts["lost"] += 1
        at = to
    return errors


def _next(rng, run, at, kind):
    if kind == "same":
        return at
    if kind == "small":
        angle, way = rng.uniform(0, 6.28), rng.uniform(1, 1.5)
        return Pose(at.x + way * np.cos(angle), at.y + way * np.sin(angle), at.turn)
    way = rng.uniform(2, 12) * run.unit
    way = -way if at.x > 0 else way
    return Pose(at.x + way, at.y + rng.uniform(-3, 3) * run.unit, at.turn + rng.uniform(-5, 5))
