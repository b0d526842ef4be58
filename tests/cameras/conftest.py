"""The virtual PTP camera inside libgphoto2, for the tests of this folder.

libgphoto2 reads ``VCAMERADIR`` as the binding is imported. The service imports it late, and this
file is read before any test runs, so the variable is set in time here; a guard says so if not.
"""

import atexit
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pictures import large_jpeg

if "gphoto2" in sys.modules:  # pragma: no cover - a mistake in the tests
    raise RuntimeError("gphoto2 was imported before VCAMERADIR was set; import it in the test")

_SEEN = Path(tempfile.mkdtemp(prefix="standclear-virtual-camera-"))
os.environ["VCAMERADIR"] = str(_SEEN)
atexit.register(shutil.rmtree, _SEEN, ignore_errors=True)

#: All pictures of a run have one size: the virtual camera notes it once, as it is opened.
PICTURE_BYTES = 8_000_000


class VirtualCamera:
    """What the virtual camera sees: the JPEG that lies in its folder as it is told to capture."""

    def lay(self, data: bytes) -> bytes:
        """Put a picture before the camera."""
        (_SEEN / "seen.jpg").write_bytes(data)
        return data

    def lay_large(self, seed: int) -> bytes:
        """Put a 24-megapixel picture of 8 MB before it, another for each seed."""
        return self.lay(large_jpeg(seed, PICTURE_BYTES))


@pytest.fixture
def virtual_camera() -> Iterator[VirtualCamera]:
    """The virtual camera with one large picture before it."""
    camera = VirtualCamera()
    camera.lay_large(0)
    yield camera
    (_SEEN / "seen.jpg").unlink()
