"""Animated WebP and GIF: small pictures for messages. Held pictures are stored once.

Their clocks are coarse (WebP 1 ms, GIF 10 ms), so each picture ends at the tick nearest to its true
end: errors do not add up.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any, Self

import av
import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from standclear.finishing.develop import Pixels, as_eight_bits
from standclear.finishing.problems import CannotExport

TICK = {"webp": Fraction(1, 1000), "gif": Fraction(1, 100)}
_COLOURS = 256
_SAMPLE_PIXELS = 40_000


def ticks(start: int, frames: int, rate: Fraction, tick: Fraction) -> tuple[int, int]:
    """First tick and length in ticks of a run of frames (from frame ``start``), rounded once."""
    first = round(start / rate / tick)
    return first, max(1, round((start + frames) / rate / tick) - first)


class AnimatedWriter:
    """Writes a WebP or GIF animation. A context manager; leaving it closes the file.

    ``last`` is the last run, its first film frame (from 0) and its number of frames: both file
    kinds say how long a picture stays only through the next one.
    """

    def __init__(
        self,
        path: Path,
        kind: str,
        size: tuple[int, int],
        rate: Fraction,
        *,
        last: tuple[int, int],
        endless: bool,
        quality: str,
        palette: "Palette | None" = None,
    ) -> None:
        self._kind, self._rate, self._palette = kind, rate, palette
        self._frame_at = 0
        self._path, self._last_ticks = path, ticks(*last, rate, TICK[kind])[1]
        options = {"loop": "0" if endless else ("1" if kind == "webp" else "-1")}
        if kind == "gif":
            options["final_delay"] = str(self._last_ticks)
        self._container = av.open(str(path), "w", format=kind, options=options)
        codec = "libwebp_anim" if kind == "webp" else "gif"
        settings = {"quality": {"small": "60", "good": "82", "best": "95"}[quality]}
        stream = self._container.add_stream(
            codec, rate=rate, options=settings if kind == "webp" else {}
        )
        if not isinstance(stream, av.VideoStream):
            raise CannotExport(f"{codec} makes no pictures.")
        stream.width, stream.height = size
        stream.pix_fmt = "yuv420p" if kind == "webp" else "pal8"
        stream.time_base = TICK[kind]
        stream.codec_context.time_base = TICK[kind]
        self._stream = stream

    def write(self, picture: Pixels, frames: int) -> None:
        """Show a picture for so many frames of the film."""
        first, length = ticks(self._frame_at, frames, self._rate, TICK[self._kind])
        frame = self._frame(as_eight_bits(picture))
        frame.pts, frame.duration, frame.time_base = first, length, TICK[self._kind]
        self._frame_at += frames
        for packet in self._stream.encode(frame):
            self._container.mux(packet)

    def _frame(self, picture: npt.NDArray[np.uint8]) -> av.VideoFrame:
        if self._palette is None:
            # WebP (RFC 9649, 2.5) fixes BT.601 weights in video range, swscale's own default.
            frame = av.VideoFrame.from_ndarray(picture, format="bgr24")
            return frame.reformat(format="yuv420p")
        return self._palette.frame(picture)

    def finish(self) -> None:
        """Flush and close."""
        for packet in self._stream.encode(None):
            self._container.mux(packet)
        self._container.close()
        if self._kind == "webp":
            set_last_duration(self._path, self._last_ticks)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        if kind is None:
            self.finish()
        else:
            self._container.close()


def set_last_duration(path: Path, milliseconds: int) -> None:
    """Set how long the last picture of an animated WebP stays (RFC 9649, 2.7.1.1, "ANMF")."""
    with path.open("r+b") as file:
        file.seek(12)
        at = 0
        while len(head := file.read(8)) == 8:
            length = int.from_bytes(head[4:], "little")
            if head[:4] == b"ANMF":
                at = file.tell() + 12
            file.seek(length + length % 2, 1)
        if at:
            file.seek(at)
            file.write(milliseconds.to_bytes(3, "little"))


class Palette:
    """One set of 256 colours for a whole film: a palette that changes would itself flicker."""

    def __init__(self, samples: Iterable[Pixels]) -> None:
        small = [_reduced(as_eight_bits(sample)) for sample in samples]
        rows = np.concatenate([s.reshape(-1, 3) for s in small])
        sheet = Image.fromarray(np.ascontiguousarray(rows[None, :, ::-1]))
        reduced = sheet.quantize(_COLOURS, method=Image.Quantize.MEDIANCUT, kmeans=2)
        flat = np.array((reduced.getpalette() or [0, 0, 0])[: 3 * _COLOURS], np.uint8)
        self.colours = np.zeros((_COLOURS, 3), np.uint8)
        self.colours[: len(flat) // 3] = flat.reshape(-1, 3)
        self._sheet = reduced

    def frame(self, picture: npt.NDArray[np.uint8]) -> av.VideoFrame:
        """A picture in these colours, error diffused."""
        image = Image.fromarray(np.ascontiguousarray(picture[:, :, ::-1])).quantize(
            palette=self._sheet, dither=Image.Dither.FLOYDSTEINBERG
        )
        opaque = np.full((_COLOURS, 1), 255, np.uint8)
        argb = np.concatenate([opaque, self.colours], axis=1)
        indexed: Any = (np.asarray(image), argb)
        return av.VideoFrame.from_ndarray(indexed, format="pal8")


def palette_for(indices: list[int], make: Callable[[int], Pixels], most: int = 12) -> Palette:
    """A palette from up to ``most`` pictures spread over the film."""
    step = max(1, len(indices) // most)
    return Palette(make(index) for index in indices[::step][:most])


def _reduced(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    scale = min(1.0, (_SAMPLE_PIXELS / (picture.shape[0] * picture.shape[1])) ** 0.5)
    size = (max(1, int(picture.shape[1] * scale)), max(1, int(picture.shape[0] * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
