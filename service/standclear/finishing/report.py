"""What an export says while it works and when it is done."""

from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Progress:
    """How far an export is. ``frames_total`` 0 while it is not known."""

    phase: str
    frames_done: int
    frames_total: int


@dataclass(frozen=True)
class ExportReport:
    """What was made: file, frames, exact duration (seconds as a fraction), figures and notes.

    ``figures`` hold the residual flicker and jitter before and after where they were corrected;
    ``notes`` are sentences about what did not go as asked.
    """

    path: Path
    format: str
    media_type: str
    frames: int
    exposures: int
    rate: str
    duration: str
    duration_s: float
    width: int
    height: int
    size: int
    notes: tuple[str, ...] = ()
    figures: dict[str, Any] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        plain = asdict(self)
        return plain | {"path": str(self.path), "notes": list(self.notes)}
