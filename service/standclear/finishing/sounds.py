"""The sound laid under a shot, kept beside its pictures, and the marks that say what is heard when.

`<library>/sounds/<shot id>/` holds the file as it was given; where it starts and what it is called
stand in the library's settings. A file that is no sound is refused before it takes its name.
"""

import json
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from standclear.errors import NotFound
from standclear.finishing.keeping import unfinished
from standclear.finishing.output import stem_of
from standclear.finishing.problems import SoundUnreadable
from standclear.finishing.waveform import Waveform, waveform
from standclear.library.library import Library
from standclear.timing.rates import parse_rate

FOLDER = "sounds"
_HEAD = 12

_KINDS = {"wav": "audio/wav", "flac": "audio/flac", "mp3": "audio/mpeg", "aac": "audio/aac"} | {
    "m4a": "audio/mp4"
}


@dataclass(frozen=True)
class Sound:
    """A shot's sound. ``offset_frames``: shot frames before it starts; below 0 cuts its beginning.

    ``name`` is what the person called the file, ``file`` what it is called in the library.
    """

    file: str
    name: str
    media_type: str
    size: int
    duration_s: float
    offset_frames: int = 0


def sound_kind(head: bytes) -> str | None:
    """The ending of a sound file by its first 12 bytes; None for what is not taken.

    RIFF/WAVE, RFC 9639 (FLAC), ID3 or an MPEG audio header (ISO/IEC 11172-3), ADTS (ISO/IEC
    13818-7), ISO base media (ISO/IEC 14496-12). Playlists and the like are never opened: they
    could name files elsewhere.
    """
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
        return "wav"
    if head[:4] == b"fLaC":
        return "flac"
    if head[4:8] == b"ftyp":
        return "m4a"
    if head[:3] == b"ID3":
        return "mp3"
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:
        return "aac" if head[1] & 0x06 == 0 else "mp3"
    return None


def sound_of(shelf: Library, shot_id: str) -> Sound | None:
    """The shot's sound, None where there is none (or its file has gone)."""
    values = shelf.setting(_setting(shot_id))
    if not values:
        return None
    sound = Sound(**values)
    return sound if sound_path(shelf, shot_id, sound).is_file() else None


def required_sound(shelf: Library, shot_id: str) -> Sound:
    """The shot's sound; raises NotFound where there is none."""
    sound = sound_of(shelf, shot_id)
    if sound is None:
        raise NotFound("The shot has no sound yet. Lay one under it first.")
    return sound


def sound_path(shelf: Library, shot_id: str, sound: Sound) -> Path:
    """Where the file lies."""
    return _folder(shelf, shot_id) / sound.file


def keep_sound(shelf: Library, shot_id: str, name: str, pieces: Iterable[bytes]) -> Sound:
    """Take a sound file that comes in pieces; it replaces the one before and keeps its start.

    Written under a temporary name, read through, flushed, then given its name. Raises
    SoundUnreadable and TargetError; then the sound before stays.
    """
    before = sound_of(shelf, shot_id)
    first, rest = _head_and_rest(pieces)
    kind = sound_kind(first[:_HEAD])
    if kind is None:
        raise SoundUnreadable(f"“{name}” is no WAV, FLAC, MP3 or AAC file.")
    folder = _folder(shelf, shot_id)
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{stem_of(Path(name).stem)}-{uuid.uuid4().hex[:8]}.{kind}"
    with unfinished(target) as draft:
        size = _written(draft, first, rest)
        seen = _read_through(shelf, shot_id, draft, name)
    offset = before.offset_frames if before else 0
    sound = Sound(target.name, name, _KINDS[kind], size, float(seen.duration), offset)
    _put(shelf, shot_id, sound)
    _sweep(folder, sound)
    _peaks_file(folder, sound, seen.rate).write_text(json.dumps(seen.as_json()), "utf-8")
    return sound


def move_sound(shelf: Library, shot_id: str, offset_frames: int) -> Sound:
    """Let the sound start at another frame."""
    sound = replace(required_sound(shelf, shot_id), offset_frames=offset_frames)
    _put(shelf, shot_id, sound)
    return sound


def remove_sound(shelf: Library, shot_id: str) -> None:
    """Take the sound away; its marks stay."""
    required_sound(shelf, shot_id)
    shelf.put_setting(_setting(shot_id), None)
    _sweep(_folder(shelf, shot_id), None)


def peaks(shelf: Library, shot_id: str) -> Mapping[str, Any]:
    """The waveform by frame of the shot's present rate, worked out once and kept beside it."""
    sound = required_sound(shelf, shot_id)
    rate = parse_rate(shelf.shot(shot_id).frame_rate)
    kept = _peaks_file(_folder(shelf, shot_id), sound, rate)
    if kept.is_file():
        try:
            found: Mapping[str, Any] = json.loads(kept.read_text("utf-8"))
            return found
        except ValueError:
            kept.unlink(missing_ok=True)  # half written by a crash; it is made anew
    made = waveform(sound_path(shelf, shot_id, sound), rate).as_json()
    kept.write_text(json.dumps(made), "utf-8")
    return made


def sound_marks(shelf: Library, shot_id: str) -> dict[int, str]:
    """What is heard at a frame (from 1), as the animator marked it, in order."""
    stored = shelf.setting(_marks_setting(shot_id)) or {}
    return {int(frame): str(stored[frame]) for frame in sorted(stored, key=int)}


def put_sound_marks(shelf: Library, shot_id: str, marks: Mapping[int, str]) -> None:
    """Replace the marks."""
    shelf.put_setting(_marks_setting(shot_id), {str(f): marks[f] for f in sorted(marks)})


def as_json(sound: Sound) -> dict[str, Any]:
    """Plain JSON values, without the library's own file name."""
    values = asdict(sound)
    del values["file"]
    return values


def _head_and_rest(pieces: Iterable[bytes]) -> tuple[bytes, Iterator[bytes]]:
    rest = iter(pieces)
    head = b""
    for piece in rest:
        head += piece
        if len(head) >= _HEAD:
            break
    return head, rest


def _written(draft: Path, first: bytes, rest: Iterator[bytes]) -> int:
    size = len(first)
    with draft.open("wb") as file:
        file.write(first)
        for piece in rest:
            size += len(piece)
            file.write(piece)
    return size


def _read_through(shelf: Library, shot_id: str, draft: Path, name: str) -> Waveform:
    try:
        return waveform(draft, parse_rate(shelf.shot(shot_id).frame_rate))
    except SoundUnreadable as error:
        raise SoundUnreadable(f"“{name}” holds no sound that can be read.") from error


def _put(shelf: Library, shot_id: str, sound: Sound) -> None:
    shelf.put_setting(_setting(shot_id), asdict(sound))


def _sweep(folder: Path, keep: Sound | None) -> None:
    for path in folder.iterdir():
        unfinished_one = path.name.startswith(".")
        if keep is None or not (unfinished_one or path.name == keep.file):
            path.unlink(missing_ok=True)


def _folder(shelf: Library, shot_id: str) -> Path:
    return shelf.folder / FOLDER / shelf.shot(shot_id).id


def _peaks_file(folder: Path, sound: Sound, rate: object) -> Path:
    return folder / f"{sound.file}.{str(rate).replace('/', '-')}.json"


def _setting(shot_id: str) -> str:
    return f"sound:{shot_id}"


def _marks_setting(shot_id: str) -> str:
    return f"sound_marks:{shot_id}"
