"""Pictures to a film file through PyAV: exact times, BT.709 colours, tags that say so.

Left alone, swscale turns R'G'B' into Y'CbCr with BT.601's weights and players then show wrong
greens and reds; here the weights are set (ITU-R BT.709-6, 3.2 to 3.5) and written into the file.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Self

import av
from av.video.reformatter import (
    ColorPrimaries,
    ColorRange,
    Colorspace,
    ColorTrc,
    Interpolation,
    VideoReformatter,
)

from standclear.finishing.develop import Pixels
from standclear.finishing.ordinary import make_threads_ordinary
from standclear.finishing.problems import CannotExport
from standclear.finishing.recipes import Recipe
from standclear.finishing.soundtrack import Soundtrack

_CAREFUL = Interpolation.BICUBIC | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INP
# In a film of fewer frames x265 leaves in dts what lay in memory: from the third it learns by how
# much it moves pictures. (So few are never moved.)
_X265_LEARNS_AT = 3
_ARRAY_FORMATS = {"uint8": "bgr24", "uint16": "bgr48le"}


@dataclass(frozen=True)
class FilmTags:
    """What a film file says of itself."""

    title: str
    timecode: str


def to_video_frame(picture: Pixels, pixel_format: str) -> av.VideoFrame:
    """A picture, (height, width, 3), blue first, in 8 or 16 bits, as a BT.709 video-range frame."""
    frame = av.VideoFrame.from_ndarray(picture, format=_ARRAY_FORMATS[picture.dtype.name])
    return VideoReformatter().reformat(
        frame,
        format=pixel_format,
        src_colorspace=Colorspace.ITU709,
        dst_colorspace=Colorspace.ITU709,
        src_color_range=ColorRange.JPEG,
        dst_color_range=ColorRange.MPEG,
        dst_color_trc=ColorTrc.BT709,
        dst_color_primaries=ColorPrimaries.BT709,
        interpolation=_CAREFUL,
        threads=1,
    )


class FilmWriter:
    """Writes one film file, frame by frame. A context manager; leaving it closes the file."""

    def __init__(
        self,
        path: Path,
        recipe: Recipe,
        size: tuple[int, int],
        rate: Fraction,
        tags: FilmTags,
        *,
        quality: str = "good",
        soundtrack: Soundtrack | None = None,
    ) -> None:
        self._rate = rate
        self._next = 0
        self._soundtrack = soundtrack
        self._container = av.open(
            str(path), "w", format=recipe.container, options=recipe.container_settings(rate)
        )
        self._container.metadata["title"] = tags.title
        settings = {**recipe.settings, **recipe.quality.get(quality, {})}
        self._stream = self._video_stream(recipe, size, settings)
        if recipe.is_mp4_family:
            self._stream.metadata["timecode"] = tags.timecode
        if soundtrack is not None:
            soundtrack.join(self._container, recipe)

    def _video_stream(
        self, recipe: Recipe, size: tuple[int, int], settings: Mapping[str, str]
    ) -> av.VideoStream:
        stream = self._container.add_stream(recipe.codec, rate=self._rate, options=dict(settings))
        if not isinstance(stream, av.VideoStream):
            raise CannotExport(f"{recipe.codec} makes no pictures.")
        stream.width, stream.height = size
        stream.pix_fmt = recipe.pixel_format
        stream.time_base = 1 / self._rate
        context = stream.codec_context
        context.time_base = 1 / self._rate
        context.thread_type = "AUTO"
        context.color_primaries = ColorPrimaries.BT709
        context.color_trc = ColorTrc.BT709
        context.colorspace = Colorspace.ITU709
        context.color_range = ColorRange.MPEG
        if recipe.codec_tag:
            context.codec_tag = recipe.codec_tag
        return stream

    @property
    def frames(self) -> int:
        """Frames written so far."""
        return self._next

    def write(self, frame: av.VideoFrame, count: int = 1) -> None:
        """Show ``frame`` for the next ``count`` frames of the film."""
        for _ in range(count):
            frame.pts = self._next
            frame.time_base = 1 / self._rate
            frame.duration = 1
            self._next += 1
            self._mux(self._stream.encode(frame))
            if self._next == 1:  # the encoder has begun, with all its threads
                make_threads_ordinary()
        if self._soundtrack is not None:
            self._container.mux(self._soundtrack.until(self._next / self._rate))

    def finish(self) -> None:
        """Flush what the encoders still hold and write the file's index."""
        self._mux(self._stream.encode(None))
        if self._soundtrack is not None:
            self._container.mux(self._soundtrack.end(self._next / self._rate))
        self._container.close()

    def _mux(self, packets: "Iterable[av.Packet[av.VideoStream]]") -> None:
        for packet in packets:
            if not packet.duration:
                packet.duration = 1
            if self._next < _X265_LEARNS_AT:
                packet.dts = packet.pts
            self._container.mux(packet)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is None:
            self.finish()
        else:
            self._container.close()
