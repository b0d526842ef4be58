"""How the things of the set look as JSON, on the API and in the event stream alike."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from standclear.cameras.base import Setting, Status
from standclear.errors import StandclearError
from standclear.library.mirror.mirror import MirrorState
from standclear.library.records import Exposure, Shot
from standclear.shooting.owner import CameraState

API = "/api/v1"


def moment(at: datetime) -> str:
    """RFC 3339 in UTC, to the millisecond."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def shot(one: Shot) -> dict[str, Any]:
    """A shot."""
    return {
        "id": one.id,
        "name": one.name,
        "frame_rate": one.frame_rate,
        "notes": one.notes,
        "exposure_count": one.exposure_count,
        "frame_count": one.frame_count,
        "created_at": moment(one.created_at),
        "revision": one.revision,
        "can_undo": one.can_undo,
        "can_redo": one.can_redo,
        "undo_says": one.undo_says,
        "redo_says": one.redo_says,
    }


def exposure_address(shot_id: str, exposure_id: str) -> str:
    """Where the exposure is found."""
    return f"{API}/shots/{shot_id}/exposures/{exposure_id}"


def exposure(one: Exposure) -> dict[str, Any]:
    """An exposure with the addresses of its files."""
    address = exposure_address(one.shot_id, one.id)
    originals = [
        {
            "url": f"{address}/original" + (f"?file={index}" if index else ""),
            "name": file.name,
            "media_type": file.media_type,
            "size": file.size,
            "sha256": file.sha256,
            "width": file.width,
            "height": file.height,
            "camera": one.camera
            if one.pair is None or index < one.pair["from_file"]
            else one.pair["camera"],
        }
        for index, file in enumerate(one.originals)
    ]
    return {
        "id": one.id,
        "shot": one.shot_id,
        "number": one.number,
        "hold": one.hold,
        "note": one.note,
        "taken_at": moment(one.taken_at),
        "camera": one.camera,
        "settings": dict(one.settings),
        "originals": originals,
        "preview": f"{address}/preview",
        "verdict": None if one.verdict is None else dict(one.verdict),
        "pair": None if one.pair is None else dict(one.pair),
        "revision": one.revision,
        "binned_at": None if one.binned_at is None else moment(one.binned_at),
    }


def camera(state: CameraState, status: Status) -> dict[str, Any]:
    """The camera in use."""
    can = state.capabilities
    return {
        "id": state.identity.id,
        "kind": state.identity.kind,
        "label": state.identity.label,
        "state": state.state,
        "says": state.says,
        "since": moment(state.since),
        "live": can is not None and can.live_picture,
        "live_says": "" if can is None else can.live_says,
        "battery_percent": status.battery_percent,
        "free_pictures": status.free_pictures,
        "free_bytes": status.free_bytes,
        "warnings": list(status.warnings),
    }


def second_camera(state: CameraState | None) -> dict[str, Any] | None:
    """The camera that takes with the one in use; null where there is none."""
    return None if state is None else camera(state, Status())


def settings(items: Iterable[Setting]) -> dict[str, Any]:
    """The camera's settings, by name, in the camera's order."""
    return {
        item.name: {
            "label": item.label,
            "value": item.value,
            "choices": list(item.choices),
            "automatic": item.automatic,
            "writable": item.writable,
            "minimum": item.minimum,
            "maximum": item.maximum,
            "step": item.step,
        }
        for item in items
    }


def mirror(state: MirrorState | None) -> dict[str, Any]:
    """The second copy; ``None`` where there is none."""
    if state is None:
        return {"where": None, "state": "off", "says": "There is no second copy.", **_NO_COPY}
    last = state.last_copied_at
    return {
        "where": state.where,
        "state": state.state,
        "says": state.says,
        "waiting_exposures": state.waiting_exposures,
        "waiting_bytes": state.waiting_bytes,
        "lag_s": round(state.lag_s, 1),
        "copied_exposures": state.copied_exposures,
        "last_copied_at": None if last is None else moment(last),
        "caution": state.caution,
    }


_NO_COPY: dict[str, Any] = {
    "waiting_exposures": 0,
    "waiting_bytes": 0,
    "lag_s": 0.0,
    "copied_exposures": 0,
    "last_copied_at": None,
    "caution": "",
}


def problem(error: StandclearError) -> dict[str, Any]:
    """Problem Details (RFC 9457) for an error of ours; ``None`` extras are left out."""
    body: dict[str, Any] = {
        "type": f"{API}/problems#{error.code}",
        "title": error.title,
        "status": error.status,
        "detail": error.detail,
        "code": error.code,
        "hint": error.hint,
    }
    body.update({name: value for name, value in error.extra.items() if value is not None})
    return body
