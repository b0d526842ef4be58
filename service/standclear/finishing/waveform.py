"""The waveform of a sound file by film frame, to draw over the timing chart."""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from standclear.finishing.soundtrack import decoded

_RATE = 48_000


@dataclass(frozen=True)
class Waveform:
    """Peaks from -1 to 1: for each slice of a frame the lowest and the highest sample.

    ``slices`` slices make one frame of ``rate`` frames per second.
    """

    rate: Fraction
    slices: int
    duration: Fraction
    lows: tuple[float, ...]
    highs: tuple[float, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain JSON values; ``peaks`` are pairs of low and high."""
        pairs = [[low, high] for low, high in zip(self.lows, self.highs, strict=True)]
        return {
            "rate": str(self.rate),
            "slices_per_frame": self.slices,
            "duration_s": float(self.duration),
            "peaks": pairs,
        }


def waveform(path: Path, rate: Fraction, slices: int = 4) -> Waveform:
    """Read a sound file (WAV, FLAC, MP3, AAC) into peaks; raises SoundUnreadable."""
    length = Fraction(_RATE) / rate / slices
    lows: list[float] = []
    highs: list[float] = []
    at = 0
    for block in decoded(path, _RATE):
        places = ((np.arange(at, at + block.shape[1])) / float(length)).astype(np.int64)
        at += block.shape[1]
        missing = int(places[-1]) + 1 - len(lows)
        lows += [0.0] * missing
        highs += [0.0] * missing
        first = int(places[0])
        starts = np.flatnonzero(np.diff(places, prepend=first - 1))
        low = np.minimum.reduceat(block.min(axis=0), starts)
        high = np.maximum.reduceat(block.max(axis=0), starts)
        for place, below, above in zip(places[starts], low, high, strict=True):
            lows[place] = min(lows[place], round(float(below), 4))
            highs[place] = max(highs[place], round(float(above), 4))
    return Waveform(rate, slices, Fraction(at, _RATE), tuple(lows), tuple(highs))
