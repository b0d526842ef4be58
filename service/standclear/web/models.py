"""The shapes that more than one resource uses."""

from typing import Any

from pydantic import BaseModel, ConfigDict


class In(BaseModel):
    """A request body: exact types, no unknown members."""

    model_config = ConfigDict(extra="forbid", strict=True)


class Query(BaseModel):
    """Query parameters: text, so numbers are read from it; unknown ones are ignored."""

    model_config = ConfigDict(extra="ignore")


class Out(BaseModel):
    """An answer."""

    model_config = ConfigDict(extra="allow")


class ShotOut(Out):
    """A shot."""

    id: str
    name: str
    frame_rate: str
    notes: str
    exposure_count: int
    frame_count: int
    created_at: str
    revision: int
    can_undo: bool
    can_redo: bool
    undo_says: str
    redo_says: str


class ShotsOut(Out):
    """One page of shots."""

    items: list[ShotOut]
    next: str | None


class OriginalOut(Out):
    """One file as the camera gave it."""

    url: str
    name: str
    media_type: str
    size: int
    sha256: str
    width: int | None
    height: int | None
    camera: str


class ExposureOut(Out):
    """One photograph in a shot; ``number`` is its place from 1, null while in the bin."""

    id: str
    shot: str
    number: int | None
    hold: int
    note: str
    taken_at: str
    camera: str
    settings: dict[str, str]
    originals: list[OriginalOut]
    preview: str
    verdict: dict[str, Any] | None
    pair: dict[str, Any] | None
    revision: int
    binned_at: str | None


class ExposuresOut(Out):
    """One page of exposures."""

    items: list[ExposureOut]
    next: str | None
