"""The life of an export as a table: state, event, next state. Pure; the desk does the rest.

Every export ends in done, failed, cancelled or stopped; from there it only can be removed.
"""

from enum import StrEnum
from types import MappingProxyType

from standclear.errors import Conflict


class JobState(StrEnum):
    """Where an export stands."""

    QUEUED = "queued"
    WORKING = "working"
    WAITING = "waiting"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"
    STOPPED = "stopped"


class JobEvent(StrEnum):
    """What happens to an export."""

    START = "start"
    YIELD = "yield"
    RESUME = "resume"
    FINISH = "finish"
    FAIL = "fail"
    CANCEL = "cancel"
    RESTART = "restart"


TABLE = MappingProxyType(
    {
        (JobState.QUEUED, JobEvent.START): JobState.WORKING,
        (JobState.QUEUED, JobEvent.CANCEL): JobState.CANCELLED,
        (JobState.QUEUED, JobEvent.RESTART): JobState.STOPPED,
        (JobState.WORKING, JobEvent.YIELD): JobState.WAITING,
        (JobState.WORKING, JobEvent.FINISH): JobState.DONE,
        (JobState.WORKING, JobEvent.FAIL): JobState.FAILED,
        (JobState.WORKING, JobEvent.CANCEL): JobState.CANCELLED,
        (JobState.WORKING, JobEvent.RESTART): JobState.STOPPED,
        (JobState.WAITING, JobEvent.RESUME): JobState.WORKING,
        (JobState.WAITING, JobEvent.CANCEL): JobState.CANCELLED,
        (JobState.WAITING, JobEvent.RESTART): JobState.STOPPED,
    }
)
"""(state, event) → next state; what is not here cannot happen."""

SAYS = MappingProxyType(
    {
        JobState.QUEUED: "Waiting for the exports before it.",
        JobState.WORKING: "Being made.",
        JobState.WAITING: "Waiting while the set is exposing.",
        JobState.DONE: "Ready.",
        JobState.CANCELLED: "Cancelled; no file was left behind.",
        JobState.STOPPED: "Stopped by a restart of the service; export again to get the film.",
    }
)


def is_over(state: JobState) -> bool:
    """Whether nothing more can happen to it."""
    return not any(state == before for before, _ in TABLE)


def after(state: JobState, event: JobEvent) -> JobState:
    """The next state; raises Conflict for what cannot happen."""
    if (state, event) not in TABLE:
        raise Conflict(f"An export that is {state} can no longer {event}.")
    return TABLE[state, event]
