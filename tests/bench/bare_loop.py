"""The floor for a press: the binding alone captures, downloads, writes and flushes. A program.

Usage: python -m tests.bench.bare_loop FOLDER COUNT, with VCAMERADIR set. Prints seconds by line.
COUNT is at most 26: then the virtual camera's card is full.
"""

import os
import sys
import time
from pathlib import Path


def keep(folder: Path, name: str, data: bytes) -> None:
    """Write and flush file and folder."""
    with (folder / name).open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    handle = os.open(folder, os.O_RDONLY)
    os.fsync(handle)
    os.close(handle)


def main(folder: Path, count: int) -> None:
    """Take ``count`` pictures."""
    import gphoto2 as gp

    camera = gp.Camera()
    camera.init()
    for number in range(count):
        start = time.perf_counter()
        path = camera.capture(gp.GP_CAPTURE_IMAGE)
        file = camera.file_get(path.folder, path.name, gp.GP_FILE_TYPE_NORMAL)
        keep(folder, f"{number:04d}.jpg", bytes(file.get_data_and_size()))
        print(time.perf_counter() - start, flush=True)
    camera.exit()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
