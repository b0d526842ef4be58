"""What a tethered camera says of its battery and of the room for pictures."""

import re
from typing import Any

from standclear.cameras.base import Status
from standclear.cameras.tethered import faults
from standclear.cameras.tethered.link import Link


def read_status(link: Link) -> Status:
    """Battery in percent, and the room on the store that has most; ``None`` for the untold.

    Raises the binding's GPhoto2Error when the camera is away.
    """
    return Status(_battery(link), *_room(link))


def _battery(link: Link) -> int | None:
    try:
        told = str(link.camera.get_single_config("batterylevel").get_value())
    except link.gp.GPhoto2Error as error:
        if faults.is_away(error):
            raise
        return None
    found = re.match(r"\s*(\d{1,3})\s*%?\s*$", told)
    return min(100, int(found[1])) if found else None


def _room(link: Link) -> tuple[int | None, int | None]:
    """(pictures, bytes)."""
    try:
        stores = link.camera.get_storageinfo()
    except link.gp.GPhoto2Error as error:
        if faults.is_away(error):
            raise
        return None, None
    pictures = _most(stores, "freeimages", link.gp.GP_STORAGEINFO_FREESPACEIMAGES)
    kib = _most(stores, "freekbytes", link.gp.GP_STORAGEINFO_FREESPACEKBYTES)
    return pictures, None if kib is None else kib * 1024


def _most(stores: Any, member: str, told: int) -> int | None:
    free = [int(getattr(store, member)) for store in stores if store.fields & told]
    return max(free, default=None)
