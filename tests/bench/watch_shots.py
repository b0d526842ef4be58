"""Whole verdicts: false alarms on steady frames, each fault found and named as nothing else."""

from collections import Counter

import numpy as np

from tests.bench.tables import Table
from tests.bench.watch_sets import Walk, chance, flickering, look, named, sets, textured
from tests.generator.tabletop import faulty

STEADY = 8
"""Steady frames in a round; after every second of them comes one with flicker."""

LIGHT = ("exposure_step", "colour_shift", "one_sided_light", "banding")
STRICT = ("exposure_step", "bump", "hand_left_in", "same_pose")
"""Those of which 99 % are to be found; of all, 95 % are to be named as nothing else."""


def either(rng):
    """1 or -1."""
    return rng.choice([-1, 1])


def bump(rng, length):
    """A shift of that many pixels in any direction."""
    angle = rng.uniform(0, 2 * np.pi)
    return faulty(shift_x=length * np.cos(angle), shift_y=length * np.sin(angle))


def faults(rng, unit):
    """(cause, fault) of one round; the smallest that must be found come twice."""
    hand = {"hand_side": int(rng.integers(4)), "hand_at": rng.uniform(0.1, 0.9)}
    banding = {"banding_cycles": rng.uniform(1.8, 8), "banding_phase": rng.uniform(0, 6.28)}
    return [
        ("exposure_step", faulty(gain=1.005)),
        ("exposure_step", faulty(gain=0.995)),
        ("colour_shift", faulty(red=1 + 0.015 * either(rng))),
        ("one_sided_light", faulty(one_sided=either(rng) * rng.uniform(0.015, 0.04))),
        ("banding", faulty(banding=rng.uniform(0.005, 0.02), **banding)),
        ("bump", bump(rng, 0.1)),
        ("bump", bump(rng, 0.1)),
        ("focus_slip", faulty(defocus=unit * rng.uniform(0.6, 1.5))),
        ("hand_left_in", faulty(hand=0.02, **hand)),
        ("hand_left_in", faulty(hand=0.02, **hand, shadow=True)),
        ("same_pose", faulty()),
        ("something_moved", faulty(prop_shift=unit * rng.uniform(4, 12))),
    ]


class Tally:
    """How often each fault was found, named alone, or honestly left open."""

    def __init__(self):
        self.counts = Counter()

    def add(self, cause, verdict):
        """Flicker on top of what is no fault of the light is a step of its own."""
        found = named(verdict)
        if cause not in LIGHT:
            found -= {"exposure_step"}
        open_ = any(one["state"] == "cannot_tell" for one in verdict["watches"].values())
        self.counts[cause, "all"] += 1
        self.counts[cause, "found"] += cause in found
        self.counts[cause, "alone"] += found == {cause}
        self.counts[cause, "open"] += not found and open_
        if found != {cause}:
            self.counts[cause, "wrong", tuple(sorted(found))] += 1

    def rows(self, table, name):
        """One row a cause."""
        for cause in dict.fromkeys(key[0] for key in self.counts):
            count = self.counts[cause, "all"]
            counted = count - self.counts[cause, "open"]
            if not counted:
                table.row(f"{name}: {cause} left open", count, "verdicts")
                continue
            for kind, goal in (("found", 99 if cause in STRICT else 95), ("alone", 95)):
                value = 100 * self.counts[cause, kind] / counted
                table.row(f"{name}: {cause} {kind} of {counted}", value, "%", goal, least=True)
            wrong = {" + ".join(k[2]) or "nothing": v for k, v in self.counts.items()
                     if k[:2] == (cause, "wrong")}  # fmt: skip
            if wrong:
                print(f"   {name}: {cause} of {count}: {wrong}, left open "
                      f"{self.counts[cause, 'open']}", flush=True)  # fmt: skip


def shots(run):
    """Rounds of steady frames and of faults on every set; verdicts by the whole watch."""
    table = Table(f"whole verdicts at {run.size}")
    total, alarms = {True: Tally(), False: Tally()}, Counter()
    for name, tabletop in sets(run):
        tally, rng = Tally(), chance(run, 6)
        for number in range(run.count):
            walk = Walk(run, tabletop, rng)
            for n in range(STEADY):
                _steady(alarms, walk.keep(f"steady {number} {n}"), False)
                if n % 2:
                    _steady(alarms, walk.try_out(flickering(faulty(), rng)), True)
            for cause, fault in faults(rng, run.unit):
                lit = fault if cause in LIGHT else flickering(fault, rng)
                verdict = walk.try_out(lit, same=cause == "same_pose")
                tally.add(cause, verdict)
                total[textured(name)].add(cause, verdict)
        print(f"{name}: steady {alarms['steady']}, alarms {_alarms(alarms)}", flush=True)
        tally.rows(Table(""), name)
    total[True].rows(table, "textured sets")
    total[False].rows(table, "plain wall")
    steady, lit = alarms["steady"], alarms["steady", False]
    for watch in ("light", "rig", "focus", "pose"):
        count = lit if watch == "light" else steady
        rate = 1000 * alarms[watch] / max(count, 1)
        table.row(
            f"false alarms, {watch}, of {count}", rate, "in 1000", 10 if watch == "pose" else 1
        )
    return table


def _steady(alarms, verdict, lit):
    alarms["steady"] += 1
    alarms["steady", lit] += 1
    for watch, found in verdict["watches"].items():
        if watch == "light" and lit:
            continue
        if found["causes"]:
            alarms[watch] += 1
            print(f"   false: {watch} {found['causes']} {found['figures']}", flush=True)
        alarms[watch, "open"] += found["state"] == "cannot_tell"


def _alarms(alarms):
    watches = ("light", "rig", "focus", "pose")
    return {watch: (alarms[watch], f"open {alarms[watch, 'open']}") for watch in watches}


def plain(run):
    """A wall whose texture lies below the noise: 0.5 px is found or left open, never denied."""
    table = Table(f"plain wall at {run.size}")
    counts = Counter()
    for name, tabletop in sets(run, textures=("plain",)):
        rng = chance(run, 11)
        for n in range(run.count):
            if n % 10 == 0:
                walk = Walk(run, tabletop, rng)
            moved = n % 2
            fault = flickering(bump(rng, 0.5) if moved else faulty(), rng)
            found = walk.try_out(fault)["watches"]["rig"]
            counts[moved, found["state"]] += 1
            wrong = found["state"] == ("clear" if moved else "flagged")
            if wrong:
                print(f"   wrong: {name} {fault} {found['figures']}", flush=True)
    table.row("bumps of 0.5 px called clear", counts[1, "clear"], "", 0)
    table.row("steady frames called bumped", counts[0, "flagged"], "", 0)
    for (moved, state), count in sorted(counts.items()):
        table.row(f"{'bumped' if moved else 'steady'}: {state}", count, "verdicts")
    return table


SLOW = (0.0009, 0.0015, 0.003, 0.006)
"""Drift of light by exposure; creep in px is ten times as much."""


def trends(run):
    """Shots whose light drifts or whose camera creeps, slowly and fast: what is it called, when?"""
    table = Table(f"trends at {run.size}: exposures 3 to 14 of drifting and creeping shots")
    counts = Counter()
    for _, tabletop in sets(run, textures=("paper", "wood", "cloth", "stones")):
        rng = chance(run, 12)
        for n in range(run.count):
            rate = SLOW[n % len(SLOW)]
            light, rig = either(rng) * rate, 10 * rate
            walk, angle = Walk(run, tabletop, rng, starts=1), rng.uniform(0, 6.28)
            for k in range(1, 14):
                fault = faulty(gain=(1 + light) ** k, shift_x=k * rig * np.cos(angle),
                               shift_y=k * rig * np.sin(angle))  # fmt: skip
                pose = walk.pose = walk.next_pose()
                verdict = look(walk.watch, tabletop, str(k), pose, fault)
                if k >= 2:
                    _trending(counts, verdict, rate, k + 1)
    for watch in ("light", "rig"):
        told = counts[watch, "right"] + counts[watch, "wrong"]
        share = 100 * counts[watch, "right"] / max(told, 1)
        table.row(f"{watch}: named right of {told} named", share, "%", 95, least=True)
        table.row(f"{watch}: left open", counts[watch, "open"], "verdicts")
    for key, count in sorted((k, v) for k, v in counts.items() if len(k) > 2):
        print("   ", *key, count)
    return table


RIGHT = {"light": {"drift"}, "rig": {"creep"}}
OPEN = {"light": {"step_or_drift"}, "rig": {"bump_or_creep"}}


def _trending(counts, verdict, rate, exposure):
    for watch, right in RIGHT.items():
        causes = set(verdict["watches"][watch]["causes"])
        if not causes:
            continue
        kind = "right" if causes == right else "open" if causes == OPEN[watch] else "wrong"
        counts[watch, kind] += 1
        if kind != "right":
            counts[watch, kind, rate, f"exposure {exposure}", "+".join(sorted(causes))] += 1
