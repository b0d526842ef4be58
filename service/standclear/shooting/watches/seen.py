"""What a watch is given to judge one exposure by."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from standclear.imaging.light import LightChange
from standclear.imaging.prepared import Prepared
from standclear.shooting.watches.measure import Measured
from standclear.shooting.watches.pose import PoseLook
from standclear.shooting.watches.rig import RigPlace
from standclear.shooting.watches.thresholds import Thresholds


@dataclass(frozen=True)
class Seen:
    """What a watch judges one exposure by.

    ``lights`` and ``places`` are those of the exposures before, oldest first. ``look`` is ``None``
    where the picture does not lie on the reference. ``settings`` are the camera's, by name.
    """

    picture: Prepared
    measured: Measured
    look: PoseLook | None
    lights: Sequence[LightChange]
    places: Sequence[RigPlace]
    settings: Mapping[str, str]
    limits: Thresholds
