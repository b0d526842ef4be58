"""From measurements to happenings: what a glance shows, and the verdict of a study."""

import math
from dataclasses import dataclass, field
from typing import Literal

import cv2
import numpy as np

from standclear.imaging.hands import Glance, StudiedPart, Study
from standclear.imaging.hands_frame import Mask
from standclear.imaging.hands_noise import Noise
from standclear.shooting.stepback.machine import Verdict

Sight = Literal["hands", "touching", "stirring", "shadow", "light", "still"]

TONE = 2.2
"""Codes to light, near enough to put a change of codes into stops."""

SOFT_SHARE = 0.01
LEAST_LIGHT = 0.022
WANDERS = 0.6
"""Codes by which a patch of the picture may change while the set rests: roundings, a flicker."""

LEAST_MOVING = 2
LEAST_CHANGE = 4
LARGE = 8.0
LEAST_LARGE = 0.06

#: A bump: so much of the disturbed background must follow one shift, of at least so many px, and
#: lie over so much of the picture's width (else it is an object before a plain wall).
EXPLAINED = 0.6
REACH = 0.4
DISTURBED = 0.12
LEAST_SHIFT_PX = 0.2


@dataclass(frozen=True, slots=True)
class Memory:
    """What earlier pictures taught: how much a pose changes (blocks, as a rule), and where the
    object was last seen to change."""

    usual: float | None = None
    region: Mask | None = field(default=None, repr=False)


def stops(gain: float) -> float:
    """A gain on codes as stops of light."""
    return TONE * math.log2(max(gain, 1e-3))


def light_changed(gain: float, noise: Noise) -> bool:
    """Whether the light as a whole differs by more than the set's own flicker."""
    return abs(math.log(max(gain, 1e-3))) > max(LEAST_LIGHT, 5.0 * noise.flicker)


def sight(glance: Glance, noise: Noise, gain: float) -> Sight:
    """What one picture shows. ``gain``: the light's, over the last few pictures."""
    moving = glance.moving >= LEAST_MOVING
    if glance.apart.edges:
        return "hands" if moving else "touching"
    if glance.apart.soft > SOFT_SHARE * glance.apart.changed.size:
        return "shadow"
    # Several pictures' gain trails behind: a shadow that has just gone is in it still.
    if light_changed(gain, noise) and light_changed(glance.gain, noise):
        return "light"
    return "stirring" if moving else "still"


def verdict(study: Study, noise: Noise, gain: float, memory: Memory, *, first: bool) -> Verdict:
    """What the set at rest shows. ``first``: nothing was taken since it was learnt."""
    if bumped(study):
        return "bumped"
    if study.apart.edges:
        return "hand_was_learnt" if first and _only_vanished(study) else "at_edge"
    if study.apart.soft > SOFT_SHARE * study.apart.changed.size or study.drift > WANDERS:
        return "shadow"
    return "light" if light_changed(gain, noise) else _things(study, memory)


def _things(study: Study, memory: Memory) -> Verdict:
    """The verdict on things inside the picture."""
    if study.apart.hard_area < LEAST_CHANGE:
        return "unchanged"
    if left_behind(study.parts, memory.region):
        return "left_behind"
    return "large_change" if _large(study, memory) else "changed"


def bumped(study: Study) -> bool:
    """Whether the whole picture shifted, and not a thing in it."""
    shift = study.shift
    return (
        shift.explained > EXPLAINED
        and shift.disturbed > DISTURBED
        and shift.far_px > LEAST_SHIFT_PX
        and shift.reach > REACH
    )


def _only_vanished(study: Study) -> bool:
    """Whether all that differs at the edge is gone, not come: it was there when the set was
    learnt."""
    at_edge = [one for one in study.parts if one.part.edges]
    return all(one.kind == "vanished" and one.gained < 0.2 for one in at_edge)


def left_behind(parts: tuple[StudiedPart, ...], region: Mask | None) -> bool:
    """Whether a thing has come that is neither the object nor a part of it.

    A thing that came has only new outlines; an object that moved has as many old ones. A part near
    where the object was, or whose like has vanished elsewhere, is the object.
    """
    vanished = [one.part.area for one in parts if one.kind == "vanished"]
    for one in parts:
        if one.kind != "appeared" or one.part.area < 4:
            continue
        if any(0.4 < area / one.part.area < 2.5 for area in vanished):
            continue
        if region is not None and np.mean(region[one.part.where]) > 0.5:
            continue
        return True
    return False


def _large(study: Study, memory: Memory) -> bool:
    most = LEAST_LARGE * study.apart.hard.size
    if memory.usual is not None:
        most = max(most, LARGE * memory.usual)
    else:
        most *= 2.5
    return study.apart.hard_area > most


def remember(memory: Memory, study: Study) -> Memory:
    """The memory after this study's picture was taken."""
    area = float(study.apart.hard_area)
    usual = area if memory.usual is None else 0.7 * memory.usual + 0.3 * area
    around = np.ones((9, 9), np.uint8)
    region: Mask = cv2.dilate(study.apart.hard.astype(np.uint8), around) > 0
    return Memory(usual, region)
