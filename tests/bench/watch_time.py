"""Seconds that a verdict takes from the file's bytes, and peak memory."""

import time

import cv2
import numpy as np

from standclear.imaging.decode import decode
from standclear.shooting.watches.shot_watch import ShotWatch
from tests.bench.tables import Table
from tests.generator.tabletop import Pose, Tabletop
from tests.resident import peak_mib

LIMIT_S = {1920: 0.4, 6000: 1.2}


def timing(run):
    """Wall and processor; run it on a quiet machine."""
    ready = files(run.size)
    before = peak_mib()
    watch, walls, cpus, decodes = ShotWatch(), [], [], []
    for n in range(run.count + 1):
        data = ready[n % 3]
        wall, cpu = time.perf_counter(), time.process_time()
        watch.examine_file(data, key=str(n))
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
        wall = time.perf_counter()
        decode(data)
        decodes.append(time.perf_counter() - wall)
    table = Table(f"time at {run.size}")
    table.row(f"verdict, median of {run.count}", np.median(walls[1:]), "s", LIMIT_S[run.size])
    table.row("worst", np.max(walls[1:]), "s")
    table.row("processor", np.median(cpus[1:]), "s")
    table.row("of it decoding", np.median(decodes), "s")
    table.row("the first, which becomes the reference", walls[0], "s")
    table.row("peak memory of the process", peak_mib(), "MiB", 1024)
    table.row("of it before the watches, the generator's own", before, "MiB")
    return table


def files(size):
    """Three JPEG files; large ones are enlarged from small ones: the generator takes more memory
    than the watches."""
    tabletop = Tabletop(seed=3, texture="stones", object_area=0.2, object_contrast=0.7)
    rng, made = np.random.default_rng(0), []
    for n in range(3):
        codes = tabletop.expose(Pose(5 * n, n, n))
        if size == 6000:
            codes = cv2.resize(codes, (6000, 4000), interpolation=cv2.INTER_LINEAR)
            codes = cv2.add(codes, rng.integers(0, 7, codes.shape, dtype=np.uint8))
        made.append(cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes())
    return made
