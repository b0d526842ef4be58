"""Error of the estimated gain: even light, one side, bands, a hand in the picture; two renderings.

Without a known change of light a rendering leaves a power of it open, so with the S-curve the gain
is read with the response learnt from one exposure a third of a stop brighter.
"""

import numpy as np

from standclear.imaging.light import SRGB, blocks_of, light_change, response_from
from tests.bench.tables import Table
from tests.bench.watch_sets import chance, flickering, prepared, sets
from tests.generator.tabletop import Pose, faulty

KINDS = ("even", "one-sided", "banding", "hand")


def light(run):
    """2 % flicker; the moving object on 25 % of the picture."""
    table = Table(f"light at {run.size}: error of the gain in %, sd")
    for name, tabletop in sets(run, areas=(0.25,)):
        first = prepared(tabletop)
        base = blocks_of(first.small, first.trusted)
        response = SRGB if name.endswith("srgb") else _learnt(tabletop, base)
        for kind in KINDS:
            errors = _errors(run, tabletop, base, kind, response)
            shown = f"{name}, {kind}: sd of {len(errors)}"
            table.row(shown, errors.std(), "%", 0.03)
            print(f"   {shown} {errors.std():.4f}, mean {errors.mean():+.4f}", flush=True)
    return table


def _learnt(tabletop, base):
    brighter = prepared(tabletop, Pose(), faulty(gain=2 ** (1 / 3)))
    change = light_change(base, blocks_of(brighter.small, brighter.trusted))
    return response_from(change, np.log(2) / 3)


def _errors(run, tabletop, base, kind, response):
    rng = chance(run, 5)
    errors = []
    for _ in range(run.count):
        fault = flickering(_fault(rng, kind), rng)
        x, y, turn = rng.uniform(-1, 1, 3)
        shot = prepared(tabletop, Pose(9 * run.unit * x, 9 * run.unit * y, 5 * turn), fault)
        change = light_change(base, blocks_of(shot.small, shot.trusted), None, response)
        errors.append(100 * (change.level - tabletop.true_mean_gain(fault)))
    return np.array(errors)


def _fault(rng, kind):
    if kind == "one-sided":
        return faulty(one_sided=0.03 * rng.choice([-1, 1]))
    if kind == "banding":
        phase, cycles = rng.uniform(0, 6.28), rng.uniform(2, 6)
        return faulty(banding=0.01, banding_phase=phase, banding_cycles=cycles)
    if kind == "hand":
        return faulty(hand=0.04, hand_side=int(rng.integers(4)))
    return faulty()
