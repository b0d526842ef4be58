"""Every choice of an export, once: name, default, help. Web and command line derive from it."""

from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)

from standclear.finishing.formats import FORMATS, known

FormatName = Annotated[
    str, AfterValidator(known), WithJsonSchema({"type": "string", "enum": list(FORMATS)})
]
FramingName = Literal["source", "16:9", "9:16", "4:5", "1:1"]


class _Options(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FrameRange(_Options):
    """Frames of the shot, both ends included, counted from 1 with holds expanded."""

    first: int = Field(ge=1, description="First frame, from 1.")
    last: int = Field(ge=1, description="Last frame, included.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.last < self.first:
            raise ValueError("the last frame stands before the first")
        return self

    def __contains__(self, frame: int) -> bool:
        return self.first <= frame <= self.last


class Retime(FrameRange):
    """A range of frames that shall last another number of frames."""

    frames: int = Field(ge=1, le=100_000, description="How many frames the range shall last.")


class TimeOptions(_Options):
    """What is shown when."""

    rate: str | None = Field(None, description="Frames per second; the shot's own when absent.")
    file_rate: str | None = Field(
        None, description="Rate of the file when it differs; the film keeps its duration."
    )
    holds: bool = Field(True, description="Keep holds; otherwise each exposure is one frame.")
    frames_each: int = Field(1, ge=1, le=12, description="1 on ones, 2 on twos.")
    range: FrameRange | None = Field(None, description="Only these frames of the shot.")
    leave_out: tuple[int, ...] = Field((), description="Exposures to skip, by number from 1.")
    retime: tuple[Retime, ...] = Field((), description="Ranges that last longer or shorter.")
    reverse: bool = Field(False, description="Backwards.")
    loops: int = Field(1, ge=1, le=1000, description="How often the whole is shown in the file.")
    head_frames: int = Field(0, ge=0, le=10_000, description="Still of the first picture before.")
    tail_frames: int = Field(0, ge=0, le=10_000, description="Still of the last picture after.")


class FramingOptions(_Options):
    """What part of the picture is shown, and how large."""

    shape: FramingName = Field("source", description="Width to height.")
    centre_x: float = Field(0.5, ge=0, le=1, description="Centre, 0 left to 1 right.")
    centre_y: float = Field(0.5, ge=0, le=1, description="Centre, 0 top to 1 bottom.")
    zoom: float = Field(1.0, ge=1, le=10, description="1 shows as much as the shape allows.")
    width: int | None = Field(None, ge=16, le=16384, description="Pixels across; else as shot.")


class LightOptions(_Options):
    """Even light: take out flicker, keep what the animator did on purpose."""

    strength: float = Field(1.0, ge=0, le=1, description="0 leaves the light, 1 evens it fully.")
    field: bool = Field(True, description="Correct light that changes on one side too.")
    leave_alone: tuple[FrameRange, ...] = Field((), description="Frames whose light is wanted.")


class PositionOptions(_Options):
    """Steady picture: undo bumps and creep."""

    edges: Literal["fill", "crop"] = Field(
        "fill", description="Fill what the move uncovers from neighbours, or crop it away."
    )
    reference: int | None = Field(None, ge=1, description="Exposure to hold to; else the shot's.")
    leave_alone: tuple[FrameRange, ...] = Field((), description="Frames whose move is wanted.")


Share = Annotated[float, Field(ge=-0.5, le=1.5)]


class Stroke(_Options):
    """A line drawn with a round brush over a picture."""

    points: tuple[tuple[Share, Share], ...] = Field(
        min_length=1,
        max_length=2000,
        description="x and y: 0 left to 1 right, 0 top to 1 bottom. An end at the rim goes on.",
    )
    width: float = Field(ge=0.001, le=0.5, description="Of the brush, as part of the width.")


class DrawnMask(_Options):
    """What is to be painted out, as drawn on one exposure; it holds until the next drawn one."""

    exposure: int = Field(ge=1, description="Exposure it was drawn on, by number from 1.")
    strokes: tuple[Stroke, ...] = Field(min_length=1, max_length=200)


class CleanUpOptions(_Options):
    """Paint a rig or support out with the clean plate."""

    masks: tuple[DrawnMask, ...] = Field(min_length=1, max_length=100)
    follows: bool = Field(True, description="Move along with the object; else stay in place.")
    plate: int | None = Field(
        None, ge=1, description="Exposure without the support; else the shot's own background."
    )


class SoundOptions(_Options):
    """The sound laid under the shot."""

    include: bool = Field(True, description="Lay the shot's sound under the film.")
    offset_frames: int = Field(
        0, ge=-1_000_000, le=1_000_000, description="Film frames by which it starts later still."
    )


class ExportOptions(_Options):
    """How a shot becomes a film."""

    format: FormatName = Field("h264", description="What file to make.")
    quality: Literal["small", "good", "best"] = Field("good", description="Size against detail.")
    time: TimeOptions = Field(default_factory=TimeOptions)
    framing: FramingOptions = Field(default_factory=FramingOptions)
    light: LightOptions | None = Field(None, description="Even light; absent leaves it.")
    position: PositionOptions | None = Field(None, description="Steady picture; absent leaves it.")
    clean_up: CleanUpOptions | None = Field(None, description="Painted out; absent leaves it.")
    sound: SoundOptions = Field(default_factory=SoundOptions)
    leader: bool = Field(False, description="Start with a card: the shot's name and rate.")
    title: str = Field("", max_length=200, description="Title in the file; else the shot's name.")
    timecode: str = Field(
        "00:00:00:00",
        pattern=r"^\d{2}:\d{2}:\d{2}[:;]\d{2}$",
        description="Timecode of the first frame; a semicolon before the frames drops frames.",
    )
    endless: bool = Field(True, description="GIF and WebP play round and round.")
