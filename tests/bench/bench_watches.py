"""How well the watches measure, on the second generator; figures beside their goals.

Run ``python -m tests.bench.bench_watches [part ...]`` from the project's root. ``--size 6000``
takes the large pictures, ``--trials N`` scales every count, ``--seed N`` draws other sets. It
prints tables and writes nothing; it ends with 1 when a goal was missed.
"""

import argparse
import sys

from tests.bench.watch_light import light
from tests.bench.watch_pose import pose
from tests.bench.watch_rig import others, photographs, rig
from tests.bench.watch_sets import Run
from tests.bench.watch_shots import plain, shots, trends
from tests.bench.watch_time import timing

PARTS = {
    "shots": (shots, 10), "plain": (plain, 100), "trends": (trends, 4), "rig": (rig, 40),
    "others": (others, 12), "light": (light, 25), "pose": (pose, 120),
    "photographs": (photographs, 40), "time": (timing, 12),
}  # fmt: skip


def main():
    """Run the parts asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", default=list(PARTS), help=", ".join(PARTS))
    parser.add_argument("--size", type=int, default=1920, choices=(1920, 6000))
    parser.add_argument("--trials", type=float, default=1.0, help="factor on every count")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    missed = []
    for name in asked.parts or PARTS:
        part, count = PARTS[name]
        table = part(Run(asked.size, max(1, round(count * asked.trials)), asked.seed))
        table.print()
        missed += table.missed
        sys.stdout.flush()
    print(f"\n{len(missed)} goals missed", *missed, sep="\n  ")
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
