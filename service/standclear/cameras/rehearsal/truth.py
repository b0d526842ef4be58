"""Ground truth of the rehearsal set, for tests: what was really there."""

from dataclasses import dataclass

from standclear.cameras.rehearsal.geometry import RigShift
from standclear.cameras.rehearsal.light import Light


@dataclass(frozen=True, slots=True)
class Truth:
    """The set at one moment.

    ``number`` is the exposure's number (the next one's, when asked between exposures). The cork's
    place is the middle of its foot: ``x_mm``, ``y_mm`` on the table, ``x_px``, ``y_px`` in a still,
    through the camera as it stands (``rig``). ``pose`` counts from 0, with a fraction while a hand
    moves the cork. ``hand_in_picture``: a hand, sleeve or held tool covers part of the picture.
    """

    number: int
    pose: float
    x_mm: float
    y_mm: float
    x_px: float
    y_px: float
    turn_deg: float
    hand_in_picture: bool
    tool_left: bool
    shadow: bool
    passer_by: bool
    cork_at_rest: bool
    rig: RigShift
    light: Light
    blur_px: float
