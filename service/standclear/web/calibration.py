"""Whether a table's scale still holds: it is due when the camera moved after it was measured."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import hypot
from typing import Any

from standclear.library.records import Judged
from standclear.web.context import library

Place = tuple[float, float]


def note(shot_id: str) -> None:
    """Remember after which exposure, and with the camera where, the table was measured."""
    lines = library().judged(shot_id)
    last = lines[-1] if lines else None
    library().put_setting(
        f"calibrated:{shot_id}",
        {
            "after": last.taken_at.isoformat() if last else None,
            "shift_px": _shift(last) if last else (0.0, 0.0),
        },
    )


def due(shot_id: str) -> str | None:
    """Why the table must be measured again; None while its scale holds."""
    noted = library().setting(f"calibrated:{shot_id}")
    if noted is None:
        return None
    after = datetime.fromisoformat(noted["after"]) if noted["after"] else None
    x, y = noted["shift_px"]
    line = moved_since(library().judged(shot_id), after, (float(x), float(y)))
    if line is None:
        return None
    return (
        f"The camera moved at exposure {line.number}, after the table was measured: "
        "put it back with the re-seat guide, or measure the table again."
    )


def moved_since(lines: Sequence[Judged], after: datetime | None, stood: Place) -> Judged | None:
    """The exposure since which the camera stands elsewhere than when the table was measured.

    ``stood``: the rig watch's shift in px at that time. An accepted bump stays a bump: the watch
    measures from the new place on, the table's scale does not.
    """
    found: Judged | None = None
    for line in lines:
        if (after is not None and line.taken_at <= after) or not _told(line):
            continue
        if not _moved(line, stood):
            found = None if found is None or not _accepted(found) else found
        elif found is None:
            found = line
    return found


def _moved(line: Judged, stood: Place) -> bool:
    rig = _rig(line)
    limit = float(rig.get("thresholds", {}).get("shift_px", 0.0))
    x, y = _shift(line)
    return rig.get("state") == "flagged" and hypot(x - stood[0], y - stood[1]) > limit


def _told(line: Judged) -> bool:
    return _rig(line).get("state") in ("clear", "flagged")


def _accepted(line: Judged) -> bool:
    return bool((line.verdict or {}).get("accepted"))


def _shift(line: Judged) -> Place:
    figures = _rig(line).get("figures", {})
    return float(figures.get("shift_x_px") or 0.0), float(figures.get("shift_y_px") or 0.0)


def _rig(line: Judged) -> Mapping[str, Any]:
    found: Mapping[str, Any] = (line.verdict or {}).get("watches", {}).get("rig", {})
    return found
