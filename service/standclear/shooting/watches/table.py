"""The table of watches: name → judge. A new watch is a file of its own and one line here."""

from collections.abc import Callable, Mapping
from typing import Any

from standclear.shooting.watches.focus import judge_focus
from standclear.shooting.watches.light import judge_light
from standclear.shooting.watches.pose import judge_pose
from standclear.shooting.watches.rig import judge_rig
from standclear.shooting.watches.seen import Seen
from standclear.shooting.watches.verdict import Finding, cannot_tell, verdict

NO_POSE = "The picture does not lie on the reference, so poses cannot be compared."


Watch = Callable[[Seen], Finding]


def _light(seen: Seen) -> Finding:
    return judge_light(seen.measured.light, seen.lights, seen.limits)


def _rig(seen: Seen) -> Finding:
    return judge_rig(seen.measured.place, seen.places, seen.limits)


def _focus(seen: Seen) -> Finding:
    measured, picture = seen.measured, seen.picture
    scale = picture.original_per_texture
    return judge_focus(measured.focus, measured.shift_sd, scale, picture.width, seen.limits)


def _pose(seen: Seen) -> Finding:
    if seen.look is None:
        return cannot_tell(NO_POSE)
    block_px = seen.picture.original_per_small * 4
    return judge_pose(seen.look, block_px, seen.measured.original_per_detail, seen.limits)


WATCHES: Mapping[str, Watch] = {
    "light": _light,
    "rig": _rig,
    "focus": _focus,
    "pose": _pose,
}


def nothing_told(why: str) -> dict[str, Any]:
    """The verdict when no watch could look, with one reason for all."""
    return verdict({name: cannot_tell(why) for name in WATCHES})
