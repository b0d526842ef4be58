"""One shot told from its folder alone: the journal where it can be read, the files in any case.

Nothing in a journal is believed further than it can be checked: names must be ours and lie in the
folder, values must be such as the library takes; what is not is replaced by a plain default.
"""

import re
import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from standclear.errors import Invalid
from standclear.imaging.container import identify
from standclear.library import journal, naming, values
from standclear.library.check import sha256_of
from standclear.library.journal import JOURNAL_FILE
from standclear.library.replay import Replayed, replay
from standclear.timing.errors import TimingError
from standclear.timing.plan_convert import from_stored
from standclear.timing.rates import parse_rate

#: Which file of an exposure comes first, where nothing tells: the one to look at.
_FIRST = ("jpg", "jpeg", "png")
_HEADER = 1 << 20
_MEDIA_TYPE = re.compile(r"[a-z]+/[a-z0-9][a-z0-9.+-]{0,100}")
#: In the shot and not in its bin; which place, is counted at the end.
_PLACED = 0


@dataclass(slots=True)
class Salvaged:
    """A shot as table columns: ``shot``, and its ``exposures``, each with its ``originals``.

    ``altered`` and ``missing`` name files that are not as the journal says; ``appended`` those
    that it does not know; ``passed_over`` counts its lines that could not be read.
    """

    shot: dict[str, Any]
    exposures: list[dict[str, Any]] = field(default_factory=list)
    altered: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    appended: list[str] = field(default_factory=list)
    passed_over: int = 0


def salvage(place: Path, serial: int, now: datetime) -> Salvaged:
    """Read a shot's folder. ``serial`` is the shot's own."""
    path = place / JOURNAL_FILE
    told = replay(journal.read(path)) if path.is_file() else Replayed()
    found = Salvaged(_shot(place, serial, told, now), passed_over=told.passed_over)
    free = {p.name for p in place.iterdir() if p.is_file() and naming.serial_of(p.name)}
    free -= told.gone  # a process died while it emptied the bin; opening sets them aside
    for exposure in _in_order(told):
        columns = _known_exposure(place, exposure, free, found)
        if columns is not None:
            columns["number"] = _PLACED if exposure["id"] in told.order else None
            found.exposures.append(columns)
    for columns in _unknown_exposures(place, free):
        found.exposures.append(columns)
        found.appended += [original["name"] for original in columns["originals"]]
    _number(found, now)
    return found


def _in_order(told: Replayed) -> Iterator[dict[str, Any]]:
    for exposure_id in told.order:
        yield told.exposures[exposure_id]
    for exposure_id, exposure in told.exposures.items():
        if exposure_id not in told.order:
            yield exposure


def _shot(place: Path, serial: int, told: Replayed, now: datetime) -> dict[str, Any]:
    parts = naming.folder_parts(place.name)
    stem = parts[1] if parts else naming.slug(place.name)
    said = told.shot
    frame_rate = _valid(values.frame_rate, said.get("frame_rate"), "12")
    plan = _plan(told.plan, frame_rate)
    return {
        "id": _id(said.get("id")),
        "serial": serial,
        "name": _valid(values.name, said.get("name"), stem),
        "frame_rate": frame_rate,
        "notes": _valid(values.note, said.get("notes"), ""),
        "folder": place.name,
        "stem": stem,
        "created_at": _time(said.get("created_at"), now),
        "revision": told.last_number + 1,
        "edit_done": 0,
        # One more than the journal has, so that opening writes all this into it.
        "journal_seq": told.last_number + 1,
        "plan": plan,
        "plan_revision": 0 if plan is None else 1,
        "binned_at": now if said.get("binned") is True else None,
    }


def _known_exposure(
    place: Path, said: Mapping[str, Any], free: set[str], found: Salvaged
) -> dict[str, Any] | None:
    originals = []
    for original in said["originals"]:
        name = str(original["name"])
        if naming.serial_of(name) is None:
            continue
        if name not in free:
            found.missing.append(name)
            continue
        free.discard(name)
        columns = _original(place / name)
        if columns["sha256"] != original["sha256"]:
            found.altered.append(name)
            columns["sha256"] = str(original["sha256"])[:64]
        originals.append(columns | _said_of_file(original))
    if not originals:
        return None
    taken_at = _time(said.get("taken_at"), _changed(place / originals[0]["name"]))
    settings = said.get("settings")
    return _columns(originals, taken_at) | {
        "id": _id(said.get("id")),
        "hold": _valid(values.hold, said.get("hold"), 1),
        "note": _valid(values.note, said.get("note"), ""),
        "camera": str(said.get("camera", ""))[:200],
        "settings": settings if isinstance(settings, dict) else {},
        "verdict": said["verdict"] if isinstance(said.get("verdict"), dict) else None,
        "pair": _pair(said.get("pair"), len(originals)),
    }


def _pair(said: Any, files: int) -> dict[str, Any] | None:
    """What was said of a second camera, as long as there are files of both."""
    if not isinstance(said, dict) or not isinstance(said.get("from_file"), int):
        return None
    if not 0 < said["from_file"] < files or not isinstance(said.get("spread_ms"), int | float):
        return None
    settings = said.get("settings")
    return {
        "camera": str(said.get("camera", ""))[:200],
        "from_file": said["from_file"],
        "spread_ms": float(said["spread_ms"]),
        "settings": settings if isinstance(settings, dict) else {},
    }


def _said_of_file(original: Mapping[str, Any]) -> dict[str, Any]:
    """What the camera said of a file goes before what can be seen from its first bytes."""
    said: dict[str, Any] = {"id": _id(original.get("id"))}
    media_type = original.get("media_type")
    if isinstance(media_type, str) and _MEDIA_TYPE.fullmatch(media_type):
        said["media_type"] = media_type
    for side in ("width", "height"):
        if isinstance(original.get(side), int) and 0 < original[side] < 1_000_000:
            said[side] = original[side]
    return said


def _unknown_exposures(place: Path, free: Iterable[str]) -> Iterator[dict[str, Any]]:
    """Files that the journal does not know: in the order of their names, one per serial."""
    for _, names in groupby(sorted(free, key=_by_serial), naming.serial_of):
        originals = [_original(place / name) | {"id": _id(None)} for name in names]
        yield _columns(originals, _changed(place / originals[0]["name"])) | {
            "id": _id(None),
            "number": _PLACED,
            "hold": 1,
            "note": "",
            "camera": "",
            "settings": {},
            "verdict": None,
            "pair": None,
        }


def _by_serial(name: str) -> tuple[int, bool, str]:
    return naming.serial_of(name) or 0, name.rpartition(".")[2] not in _FIRST, name


def _columns(originals: list[dict[str, Any]], taken_at: datetime) -> dict[str, Any]:
    return {
        "serial": naming.serial_of(originals[0]["name"]),
        "taken_at": taken_at,
        "kept_at": taken_at,
        "revision": 1,
        "originals": originals,
    }


def _original(path: Path) -> dict[str, Any]:
    with path.open("rb") as file:
        facts = identify(file.read(_HEADER))
    return {
        "name": path.name,
        "media_type": facts.media_type,
        "size": path.stat().st_size,
        "sha256": sha256_of(path),
        "width": facts.width,
        "height": facts.height,
    }


def _number(found: Salvaged, now: datetime) -> None:
    """Places from 1 without a gap, serials and ids that are used once, and the shot's counts."""
    place, frames = 0, 0
    serials: set[int] = set()
    for columns in found.exposures:
        while columns["serial"] in serials:
            columns["serial"] = max(serials) + 1
        serials.add(columns["serial"])
        if columns["number"] is not None:
            place, frames = place + 1, frames + columns["hold"]
            columns["number"] = place
        columns["last_number"] = place or 1
        columns["binned_at"] = now if columns["number"] is None else None
    found.shot |= {
        "exposure_count": place,
        "frame_count": frames,
        "next_serial": max(serials, default=0) + 1,
    }


def _id(said: Any) -> str:
    """The id that was said, so that addresses stay; a new one where it cannot be used."""
    if isinstance(said, str) and 1 <= len(said) <= 32 and said.isascii() and said.isalnum():
        return said
    return secrets.token_hex(8)


def _valid(check: Any, said: Any, otherwise: Any) -> Any:
    if not isinstance(said, type(otherwise)):
        return otherwise
    try:
        return check(said)
    except Invalid:
        return otherwise


def _plan(said: Any, frame_rate: str) -> dict[str, Any] | None:
    """The plan, where it is one that can be shot; a damaged one must not stand in the way."""
    if not isinstance(said, dict):
        return None
    try:
        from_stored(dict(said), parse_rate(frame_rate))
    except (TimingError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return said


def _time(said: Any, otherwise: datetime) -> datetime:
    try:
        time = datetime.fromisoformat(said)
    except (TypeError, ValueError):
        return otherwise
    return time if time.tzinfo else time.replace(tzinfo=UTC)


def _changed(path: Path) -> datetime:
    return datetime.fromtimestamp(path.stat().st_mtime, UTC)
