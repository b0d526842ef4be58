"""The cut for an editor (OpenTimelineIO) and the exposure sheet as CSV (RFC 4180)."""

import csv
import io
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import opentimelineio as otio

from standclear.finishing.problems import CannotExport
from standclear.finishing.sequence import FilmSequence
from standclear.finishing.shot import FilmShot
from standclear.timing.errors import TimingError
from standclear.timing.timecode import frame_of, parse_timecode, timecode

_SHEET_HEAD = ("frame", "timecode", "seconds", "exposure", "file", "note", "sound")


@dataclass(frozen=True)
class Counting:
    """Timecode of a film: its first frame's number and whether frames are dropped."""

    first: int
    drop: bool
    rate: Fraction

    @classmethod
    def starting(cls, text: str, rate: Fraction) -> "Counting":
        """From the timecode of the first frame; raises CannotExport when that is none."""
        try:
            code = parse_timecode(text, rate)
            return cls(frame_of(code, rate), code.drop, rate)
        except TimingError as error:
            raise CannotExport(error.sentence) from error

    def at(self, frame: int) -> str:
        """The timecode of film frame ``frame`` (from 0)."""
        try:
            return str(timecode(self.first + frame, self.rate, self.drop))
        except TimingError as error:
            raise CannotExport(error.sentence) from error


def sheet_csv(shot: FilmShot, film: FilmSequence, counting: Counting) -> str:
    """The exposure sheet: one line for each frame of the film."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_SHEET_HEAD)
    for place, index in enumerate(film.exposures):
        exposure = shot.exposures[index]
        seconds = f"{float(place / film.rate):.6f}"
        mark = shot.marks.get(place + 1, "")
        cells = (place + 1, counting.at(place), seconds, index + 1, exposure.path.name)
        writer.writerow([*cells, _harmless(exposure.note), _harmless(mark)])
    return text.getvalue()


def timeline(
    shot: FilmShot, film: FilmSequence, counting: Counting, sound_start: int | None = None
) -> otio.schema.Timeline:
    """A timeline with a clip for each run of an exposure; media are the originals, untouched.

    ``sound_start`` is the film frame (from 0) at which the shot's sound file begins, if any.
    """
    rate = float(film.rate)
    start = otio.opentime.RationalTime(counting.first, rate)
    result = otio.schema.Timeline(name=shot.name, global_start_time=start)
    pictures = otio.schema.Track(name="pictures", kind=otio.schema.TrackKind.Video)
    pictures.extend([_clip(shot, run.exposure, run.frames, rate) for run in film.runs()])
    result.tracks.append(pictures)
    if shot.sound is not None and sound_start is not None:
        result.tracks.append(_sound_track(shot.sound, sound_start, len(film.exposures), rate))
    return result


def write_timeline(result: otio.schema.Timeline, path: Path) -> None:
    """Write OpenTimelineIO's own JSON, whatever ``path`` is called."""
    path.write_text(otio.adapters.write_to_string(result, "otio_json"), encoding="utf-8")


def _clip(shot: FilmShot, index: int, frames: int, rate: float) -> otio.schema.Clip:
    exposure = shot.exposures[index]
    whole = _range(0, frames, rate)
    media = otio.schema.ExternalReference(
        target_url=exposure.path.resolve().as_uri(), available_range=whole
    )
    clip = otio.schema.Clip(name=exposure.path.name, media_reference=media, source_range=whole)
    clip.metadata["standclear"] = {"exposure": index + 1, "hold": frames, "note": exposure.note}
    return clip


def _sound_track(path: Path, start: int, frames: int, rate: float) -> otio.schema.Track:
    track = otio.schema.Track(name="sound", kind=otio.schema.TrackKind.Audio)
    if start > 0:
        track.append(otio.schema.Gap(source_range=_range(0, min(start, frames), rate)))
    length = frames - max(0, start)
    if length > 0:
        media = otio.schema.ExternalReference(target_url=path.resolve().as_uri())
        heard = _range(max(0, -start), length, rate)
        track.append(otio.schema.Clip(name=path.name, media_reference=media, source_range=heard))
    return track


def _range(start: int, frames: int, rate: float) -> otio.opentime.TimeRange:
    return otio.opentime.TimeRange(
        otio.opentime.RationalTime(start, rate), otio.opentime.RationalTime(frames, rate)
    )


def _harmless(text: str) -> str:
    """A cell that a spreadsheet will not take for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
