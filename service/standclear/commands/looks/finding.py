"""One thing that the doctor looked at."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

State = Literal["well", "warning", "fault"]


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found, and what to do when it is not well."""

    about: str
    state: State
    says: str


Look = Callable[[], Iterator[Finding]]
