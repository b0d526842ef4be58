"""Sets with a known truth for the watches' bench: textures, two renderings, object up to 25 %.

Exposures go through the same door as a camera's: a JPEG file of quality 92 that is decoded, halved
when it is large. Light flickers with 2 % standard deviation where a part says so.
"""

from dataclasses import dataclass, replace

import numpy as np

from standclear.imaging.decode import decode
from standclear.imaging.prepared import prepare
from standclear.shooting.watches.shot_watch import ShotWatch
from tests.generator.tabletop import TEXTURES, Pose, Tabletop, faulty

CURVES = ("srgb", "s_curve")
AREAS = (0.25, 0.1, 0.15, 0.25, 0.2)
FLICKER_SD = 0.02
FINE = faulty()
MIDDLE = Pose()


@dataclass(frozen=True)
class Run:
    """What was asked for on the command line. ``count`` is a part's number of trials a set."""

    size: int
    count: int
    seed: int

    @property
    def unit(self):
        """Pixels of this size in one pixel of a picture that is 1920 wide."""
        return self.size / 1920


def sets(run, curves=CURVES, textures=TEXTURES, areas=AREAS):
    """(name, tabletop) for each rendering and texture; the object strongly textured."""
    width, height = (1920, 1080) if run.size == 1920 else (6000, 4000)
    for curve in curves:
        for i, texture in enumerate(textures):
            yield f"{texture}, {curve}", Tabletop(
                seed=100 * run.seed + i, width=width, height=height, texture=texture,
                object_area=areas[i % len(areas)], object_contrast=0.7, curve=curve,
            )  # fmt: skip


def textured(name):
    """Whether the background of a set's name ties a camera down."""
    return not name.startswith("plain")


def prepared(tabletop, pose=MIDDLE, fault=FINE):
    """One exposure, through its file, ready to be measured."""
    found = decode(tabletop.file(pose, fault))
    return prepare(found.pixels, found.width, found.height)


def look(watch, tabletop, key, pose, fault=FINE):
    """The verdict on one exposure, through its file."""
    return watch.examine_file(tabletop.file(pose, fault), key=key)


def named(verdict):
    """All causes of a verdict."""
    return {cause for found in verdict["watches"].values() for cause in found["causes"]}


def flickering(fault, rng):
    """The same fault under light that flickers."""
    return replace(fault, gain=fault.gain * (1 + FLICKER_SD * rng.standard_normal()))


class Walk:
    """An object that goes its way over the set, and the watch that sees it."""

    def __init__(self, run, tabletop, rng, starts=4):
        self.tabletop, self.rng, self.unit = tabletop, rng, run.unit
        self.watch = ShotWatch()
        self.pose = Pose(rng.uniform(-60, 60) * run.unit, rng.uniform(-30, 30) * run.unit, 0)
        for n in range(starts):
            self.keep(f"start {n}")

    def next_pose(self):
        """A few pixels further, turned a little."""
        step = self.rng.uniform(2, 6, 2) * self.unit * (1, 0.3)
        return Pose(
            self.pose.x + step[0], self.pose.y + step[1], self.pose.turn + self.rng.uniform(-3, 3)
        )

    def keep(self, key, fault=FINE):
        """Expose the next pose and let the watch remember it."""
        self.pose = self.next_pose()
        return look(self.watch, self.tabletop, key, self.pose, fault)

    def try_out(self, fault, *, same=False):
        """Expose the next pose (or the ``same``) and let the watch forget it."""
        pose = self.pose if same else self.next_pose()
        verdict = look(self.watch, self.tabletop, "tried", pose, fault)
        self.watch.forget("tried")
        return verdict


def chance(run, salt):
    """Random numbers of one part."""
    return np.random.default_rng([run.seed, salt])
