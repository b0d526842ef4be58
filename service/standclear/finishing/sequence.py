"""A shot's exposures and holds to the frames of a film. Pure and exact: integers and fractions.

The order of things: holds are expanded and numbered (the shot's own frames, from 1), exposures are
left out, ranges retimed, the range cut, then reversed, looped, put on twos, given a still at head
and tail, and at last carried over to the rate of the file.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from standclear.finishing.options import FrameRange, Retime, TimeOptions
from standclear.finishing.problems import CannotExport
from standclear.finishing.shot import FilmShot, rate_of


@dataclass(frozen=True)
class ShotFrame:
    """One frame of the shot: its number from 1 and the exposure (index from 0) that it shows."""

    number: int
    exposure: int


@dataclass(frozen=True)
class Run:
    """An exposure (index from 0) shown for ``frames`` film frames, from film frame ``start``."""

    exposure: int
    start: int
    frames: int


@dataclass(frozen=True)
class FilmSequence:
    """The film's frames: an exposure index for each, and frames per second."""

    exposures: tuple[int, ...]
    rate: Fraction

    @property
    def duration(self) -> Fraction:
        """Seconds, exact."""
        return len(self.exposures) / self.rate

    @property
    def used(self) -> list[int]:
        """The exposures that appear, each once, in shot order."""
        return sorted(set(self.exposures))

    def runs(self) -> list[Run]:
        """Equal neighbours gathered, so that each picture is made once."""
        runs, start = [], 0
        for exposure, group in groupby(self.exposures):
            length = sum(1 for _ in group)
            runs.append(Run(exposure, start, length))
            start += length
        return runs


def shot_frames(holds: Sequence[int]) -> list[ShotFrame]:
    """Holds expanded: one entry for each frame of the shot."""
    order = (index for index, hold in enumerate(holds) for _ in range(hold))
    return [ShotFrame(number, index) for number, index in enumerate(order, start=1)]


def exposures_within(holds: Sequence[int], ranges: Sequence[FrameRange]) -> set[int]:
    """Indices of the exposures that show in any of the ranges of shot frames."""
    return {f.exposure for f in shot_frames(holds) if any(f.number in part for part in ranges)}


def film_sequence(shot: FilmShot, options: TimeOptions) -> FilmSequence:
    """The film's frames for a shot and its options; raises CannotExport when none are left."""
    rate = rate_of(options.rate or shot.rate)
    holds = shot.holds if options.holds else [1] * len(shot.exposures)
    frames = _chosen(holds, options)
    if not frames:
        raise CannotExport(_why_empty(shot, holds))
    order = [frame.exposure for frame in frames]
    if options.reverse:
        order.reverse()
    order = [exposure for exposure in order * options.loops for _ in range(options.frames_each)]
    order = [order[0]] * options.head_frames + order + [order[-1]] * options.tail_frames
    if options.file_rate:
        file_rate = rate_of(options.file_rate)
        return FilmSequence(tuple(conform(order, rate, file_rate)), file_rate)
    return FilmSequence(tuple(order), rate)


def stretch(frames: Sequence[ShotFrame], length: int) -> list[ShotFrame]:
    """The same stretch in ``length`` frames: each new frame shows what stood at its middle."""
    count = len(frames)
    return [frames[((2 * place + 1) * count) // (2 * length)] for place in range(length)]


def conform(order: Sequence[int], rate: Fraction, file_rate: Fraction) -> list[int]:
    """Frames at ``rate`` as frames at ``file_rate``; the duration stays, to half a frame.

    A frame of the file shows what the film shows at the instant when it starts.
    """
    ratio = file_rate / rate
    count = max(1, int(len(order) * ratio + Fraction(1, 2)))
    return [order[min(len(order) - 1, int(place / ratio))] for place in range(count)]


def sound_frame(shot: FilmShot, options: TimeOptions) -> Fraction:
    """The film frame (from 0, of the file's rate) at which the shot's sound starts.

    What moves the shot's first frames moves the sound along: a still at the head, a range, on
    twos, another rate of the file. Retimed, reversed or without holds there is no place that
    would be right; then the sound starts with the film.
    """
    cut = 0 if options.range is None else options.range.first - 1
    told = not (options.reverse or options.retime or options.leave_out) and options.holds
    start = (shot.sound_start - cut) * options.frames_each if told else 0
    rate = rate_of(options.rate or shot.rate)
    file_rate = rate_of(options.file_rate) if options.file_rate else rate
    return (options.head_frames + start) * file_rate / rate


def _chosen(holds: Sequence[int], options: TimeOptions) -> list[ShotFrame]:
    left_out = {number - 1 for number in options.leave_out}
    frames = [frame for frame in shot_frames(holds) if frame.exposure not in left_out]
    frames = _retimed(frames, options.retime)
    if options.range is not None:
        frames = [frame for frame in frames if frame.number in options.range]
    return frames


def _retimed(frames: list[ShotFrame], retimes: Sequence[Retime]) -> list[ShotFrame]:
    parts = sorted(retimes, key=lambda part: part.first)
    for before, after in pairwise(parts):
        if after.first <= before.last:
            raise CannotExport(
                f"Two retimed ranges overlap at frame {after.first}. Make one of them shorter."
            )
    for part in parts:
        inside = [frame for frame in frames if frame.number in part]
        if not inside:
            raise CannotExport(f"The shot has no frames {part.first} to {part.last} to retime.")
        at = frames.index(inside[0])
        frames = frames[:at] + stretch(inside, part.frames) + frames[at + len(inside) :]
    return frames


def _why_empty(shot: FilmShot, holds: Sequence[int]) -> str:
    if not shot.exposures:
        return f"The shot “{shot.name}” has no exposures yet. Take one, then export."
    return f"The range leaves no frame: the shot has frames 1 to {sum(holds)}."
