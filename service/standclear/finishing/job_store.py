"""Export jobs written down, one JSON file each, so that a restart can say what became of them."""

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Protocol

from standclear.finishing.job_states import JobState


@dataclass(frozen=True)
class ExportJob:
    """One export: what was asked, where it stands, what came of it.

    ``created_at`` RFC 3339 in UTC; ``seconds_left`` None while it cannot be told; ``report`` the
    ExportReport as JSON when done; ``problem`` code, detail and hint when it failed.
    """

    id: str
    shot: str
    name: str
    options: Mapping[str, Any]
    created_at: str
    state: JobState = JobState.QUEUED
    says: str = ""
    frames_done: int = 0
    frames_total: int = 0
    phase: str = ""
    seconds_left: float | None = None
    report: Mapping[str, Any] | None = None
    problem: Mapping[str, str] | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain JSON values."""
        return asdict(self)

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "ExportJob":
        """Back from ``as_json``; unknown members are left aside."""
        known = {name: values[name] for name in cls.__dataclass_fields__ if name in values}
        return cls(**{**known, "state": JobState(known["state"])})


class JobStore(Protocol):
    """Where jobs are written down."""

    def load(self) -> list[ExportJob]:
        """All jobs, oldest first."""
        ...

    def save(self, job: ExportJob) -> None:
        """Write one down, flushed."""
        ...

    def remove(self, job_id: str) -> None:
        """Forget one."""
        ...


@dataclass(frozen=True)
class FolderStore:
    """Jobs as ``<id>.json`` in a folder, each replaced as a whole."""

    folder: Path
    ending: str = field(default=".json", repr=False)

    def load(self) -> list[ExportJob]:
        """All jobs that can be read, oldest first; a damaged file is skipped."""
        jobs = []
        for path in self.folder.glob(f"*{self.ending}"):
            try:
                jobs.append(ExportJob.from_json(json.loads(path.read_text("utf-8"))))
            except (ValueError, KeyError, TypeError):
                continue
        return sorted(jobs, key=lambda job: (job.created_at, job.id))

    def save(self, job: ExportJob) -> None:
        """Write one down: temporary name, flush, rename."""
        path = self.folder / f"{job.id}{self.ending}"
        draft = path.with_suffix(".draft")
        with draft.open("w", encoding="utf-8") as file:
            json.dump(job.as_json(), file, ensure_ascii=False)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)

    def remove(self, job_id: str) -> None:
        """Forget one."""
        (self.folder / f"{job_id}{self.ending}").unlink(missing_ok=True)
