"""Many poses on the second generator, in simulated time: no picture with a hand in it, none without
a change, nearly all taken without help, and soon. STANDCLEAR_LONG=1: 300 poses over 10 seeds."""

import os

from tests.generator_hands.tally import Tally, shoot

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
SEEDS = range(1, 11) if LONG else (1, 2)
POSES = 30 if LONG else 9
RATE = 30.0 if LONG else 12.0


def test_many_poses() -> None:
    tally = Tally()
    for seed in SEEDS:
        shoot(seed, POSES, rate=RATE, tally=tally)
    print(
        f"\n{tally.taken} of {tally.poses} poses taken in {tally.visits} visits, wrong: "
        f"{tally.wrong or 0}, median {tally.percentile(50):.2f} s, 95th percentile "
        f"{tally.percentile(95):.2f} s; not taken: {dict(tally.not_taken)}"
    )
    assert tally.wrong == []
    assert tally.share >= 0.98, tally.not_taken
    assert tally.percentile(50) <= 0.6
    assert tally.percentile(95) <= 1.2
