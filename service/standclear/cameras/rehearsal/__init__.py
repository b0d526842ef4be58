"""The rehearsal set: a simulated tabletop, its camera, its animator's hand, and its faults.

``RehearsalCamera.from_orders("seed=3,nudge=7")`` makes one. See ``camera.py`` for what it does,
``script.py`` for scripting hands, ``orders.py`` for faults, ``geometry.py`` for the true scale.
"""

from standclear.cameras.rehearsal.camera import RehearsalCamera
from standclear.cameras.rehearsal.geometry import RigShift, table_to_picture
from standclear.cameras.rehearsal.habits import posing
from standclear.cameras.rehearsal.orders import Orders
from standclear.cameras.rehearsal.scene import CARD_MM, card_corners_mm
from standclear.cameras.rehearsal.script import (
    Bump,
    Flicker,
    HandScript,
    Lamp,
    PasserBy,
    Shade,
    TakeToolAway,
    Visit,
)
from standclear.cameras.rehearsal.truth import Truth

__all__ = [
    "CARD_MM",
    "Bump",
    "Flicker",
    "HandScript",
    "Lamp",
    "Orders",
    "PasserBy",
    "RehearsalCamera",
    "RigShift",
    "Shade",
    "TakeToolAway",
    "Truth",
    "Visit",
    "card_corners_mm",
    "posing",
    "table_to_picture",
]
