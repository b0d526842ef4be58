"""Finishing yields: no thread of it may run ahead of the camera and the live view.

The AV1 encoder gives itself and whoever called it real-time priority where it is allowed to, which
is when the service runs as root. Such a thread takes the processor from every other.
"""

import os
import sys
from pathlib import Path

TASKS = Path("/proc/self/task")


def make_threads_ordinary() -> None:
    """Put each thread of this process that made itself real-time back among the ordinary ones."""
    if sys.platform != "linux":
        return
    for task in TASKS.iterdir():
        try:
            if os.sched_getscheduler(int(task.name)) in (os.SCHED_FIFO, os.SCHED_RR):
                os.sched_setscheduler(int(task.name), os.SCHED_OTHER, os.sched_param(0))
        except ProcessLookupError:
            continue  # it ended meanwhile
