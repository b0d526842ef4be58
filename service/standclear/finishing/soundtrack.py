"""A sound file laid under a film: decoded, resampled, moved to its frame, cut to the film's end."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TypeAlias

import av
import av.error
import numpy as np
import numpy.typing as npt
from av.audio.resampler import AudioResampler

from standclear.finishing.problems import SoundUnreadable
from standclear.finishing.recipes import Recipe

Samples = npt.NDArray[np.float32]
Packets: TypeAlias = "list[av.Packet[av.AudioStream]]"
_BLOCK = 4096


def decoded(path: Path, rate: int) -> Iterator[Samples]:
    """The file's sound as blocks of (2, n) floats from -1 to 1 at ``rate`` samples per second.

    Raises SoundUnreadable when there is none.
    """
    heard = False
    try:
        with av.open(str(path)) as container:
            if not container.streams.audio:
                raise SoundUnreadable(f"{path.name} holds no sound.")
            resampler = AudioResampler(format="fltp", layout="stereo", rate=rate)
            for frame in container.decode(container.streams.audio[0]):
                for block in resampler.resample(frame):
                    heard = True
                    yield block.to_ndarray().astype(np.float32, copy=False)
            for block in resampler.resample(None):
                yield block.to_ndarray().astype(np.float32, copy=False)
    except (av.error.FFmpegError, OSError) as error:
        if not heard:
            raise SoundUnreadable(f"{path.name} holds no sound that can be read.") from error
    if not heard:
        raise SoundUnreadable(f"{path.name} holds no sound.")


class Soundtrack:
    """The sound of one film file, handed out in step with its pictures.

    ``start`` is the film time in seconds at which the sound file begins: later than 0 leaves
    silence before it, earlier cuts its beginning off.
    """

    def __init__(self, path: Path, start: Fraction = Fraction(0)) -> None:
        self._path = path
        self._start = start
        self._written = 0
        self._rest: Samples = np.zeros((2, 0), np.float32)

    def join(self, container: av.container.OutputContainer, recipe: Recipe) -> None:
        """Add the sound stream to a file that has not been started yet."""
        stream = container.add_stream(recipe.sound_codec, rate=recipe.sound_rate)
        if not isinstance(stream, av.AudioStream):
            raise SoundUnreadable(f"{recipe.sound_codec} makes no sound.")
        stream.codec_context.layout = "stereo"
        if recipe.sound_codec in ("aac", "libopus"):
            stream.codec_context.bit_rate = 192_000
        self._stream = stream
        self._rate = recipe.sound_rate
        self._format = stream.codec_context.format.name
        self._blocks = self._from_start()
        self._fetch()

    def until(self, seconds: Fraction) -> Packets:
        """Encoded sound up to a film time."""
        packets: Packets = []
        while self._written + _BLOCK <= int(seconds * self._rate):
            packets += self._encode(self._take(_BLOCK))
        return packets

    def end(self, seconds: Fraction) -> Packets:
        """The rest, so that the sound ends with the pictures."""
        packets = self.until(seconds)
        last = int(seconds * self._rate) - self._written
        if last > 0:
            packets += self._encode(self._take(last))
        return packets + list(self._stream.encode(None))

    def _from_start(self) -> Iterator[Samples]:
        shift = round(self._start * self._rate)
        if shift > 0:
            yield from (
                np.zeros((2, min(_BLOCK, shift - at)), np.float32) for at in range(0, shift, _BLOCK)
            )
        skip = max(0, -shift)
        for block in decoded(self._path, self._rate):
            if skip < block.shape[1]:
                yield block[:, skip:]
            skip = max(0, skip - block.shape[1])

    def _fetch(self) -> bool:
        block = next(self._blocks, None)
        if block is not None:
            self._rest = np.concatenate([self._rest, block], axis=1)
        return block is not None

    def _take(self, count: int) -> Samples:
        while self._rest.shape[1] < count:
            if not self._fetch():
                silence = np.zeros((2, count - self._rest.shape[1]), np.float32)
                self._rest = np.concatenate([self._rest, silence], axis=1)
        taken, self._rest = self._rest[:, :count], self._rest[:, count:]
        return taken

    def _encode(self, samples: Samples) -> Packets:
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples), "fltp", "stereo")
        frame.sample_rate = self._rate
        frame.pts = self._written
        frame.time_base = Fraction(1, self._rate)
        self._written += samples.shape[1]
        return list(self._stream.encode(frame))
