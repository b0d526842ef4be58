"""`/shots/{shot}/playback`: the frames to show, in order, holds expanded."""

from typing import Any

from apiflask import APIBlueprint
from pydantic import BaseModel, Field

from standclear.shooting import describe
from standclear.web.context import library
from standclear.web.models import Out, Query


class PlaybackQuery(Query):
    """The last n frames, or a range of frames counted from 1, both ends included."""

    last: int | None = Field(default=None, ge=1, le=1_000_000)
    first: int | None = Field(default=None, alias="from", ge=1)
    to: int | None = Field(default=None, ge=1)


class FrameOut(BaseModel):
    """One tick of the film's time and the exposure shown in it."""

    frame: int
    exposure: str
    number: int
    preview: str


class PlaybackOut(Out):
    """Frames in order at ``frame_rate``."""

    shot: str
    frame_rate: str
    frame_count: int
    frames: list[FrameOut]


pages = APIBlueprint("playback", __name__, tag="playback")


@pages.get("/shots/<shot_id>/playback")
@pages.input(PlaybackQuery, location="query", arg_name="query")
@pages.output(PlaybackOut)
def playback(shot_id: str, query: PlaybackQuery) -> Any:
    """The frames to show."""
    found = library().playback(shot_id, last=query.last, first=query.first, to=query.to)
    return {
        "shot": found.shot_id,
        "frame_rate": found.frame_rate,
        "frame_count": found.frame_count,
        "frames": [
            {
                "frame": frame.frame,
                "exposure": frame.exposure_id,
                "number": frame.number,
                "preview": describe.exposure_address(shot_id, frame.exposure_id) + "/preview",
            }
            for frame in found.frames
        ],
    }
