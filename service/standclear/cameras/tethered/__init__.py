"""Still cameras on a USB cable, through libgphoto2 (PTP, ISO 15740, and the makers' own words).

``faults`` turns libgphoto2's error numbers into ours; ``widgets`` reads and writes its settings;
``transfer`` brings the files over; ``driver`` puts them together as one Camera.
"""

from standclear.cameras.tethered.driver import TetheredCamera, attached

__all__ = ["TetheredCamera", "attached"]
