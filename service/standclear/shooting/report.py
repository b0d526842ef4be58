"""A shot's report: light, rig, focus and spacing by exposure, worst first, plan against actual.

Pure: it is handed the verdicts that were stored, the plan, and the size of the pictures.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from standclear.library.records import Judged
from standclear.shooting.spacing import Step, steps_of
from standclear.timing.actual import Actual, FrameSpacing, Measured, compare, pace
from standclear.timing.plan import Plan
from standclear.timing.progress import Shown, where_shown

FIGURES: Mapping[str, tuple[str, ...]] = {
    "light": ("step_stops", "level_stops", "gradient_percent", "banding_percent"),
    "rig": ("shift_x_px", "shift_y_px", "shift_px", "turn_deg"),
    "focus": ("blur_px",),
    "pose": ("move_px", "move_turn_deg", "intruder_percent"),
}
EARLY: Mapping[str, tuple[str, ...]] = {
    "bump_or_creep": ("bump", "creep"),
    "step_or_drift": ("exposure_step", "drift"),
}
"""What is said while too few exposures are known, and what it may turn out to be."""

MOST_WORST = 100


def report(
    lines: Sequence[Judged],
    plan: Plan,
    width: int | None,
    *,
    first: int = 1,
    most: int | None = None,
) -> dict[str, Any]:
    """The report as JSON. ``width`` is that of the originals in pixels; ``frames`` holds at most
    ``most`` exposures from number ``first`` on, everything else is about the whole shot."""
    steps = steps_of(lines, plan.table, width)
    actual = _actual(plan, lines, steps)
    chosen = range(max(first - 1, 0), len(lines))[:most]
    return {
        "exposure_count": len(lines),
        "frame_count": sum(line.hold for line in lines),
        "frames": [_frame(lines[i], actual.frames[i], steps[i]) for i in chosen],
        "worst": worst(lines, actual.frames),
        "plan": _plan(plan, lines, actual),
        "spacing_unit": "mm" if plan.table else "px",
        "spacing_error_percent": round(plan.table.error_percent(), 2) if plan.table else None,
    }


def worst(lines: Sequence[Judged], placed: Sequence[FrameSpacing]) -> list[dict[str, Any]]:
    """What was flagged and not accepted, worst first. A flaw that stays is one entry, at the
    exposure in which it happened."""
    found: list[dict[str, Any]] = []
    running: dict[str, dict[str, Any]] = {}
    for line, place in zip(lines, placed, strict=True):
        flagged = _flagged(line)
        for name in [name for name in running if name not in flagged]:
            del running[name]
        for name, watch in flagged.items():
            entry = running.get(name)
            if entry is None or not _goes_on(entry, watch):
                entry = running[name] = _entry(line, place, name, watch)
                found.append(entry)
            else:
                _prolong(entry, watch)
    found.sort(key=lambda entry: (-entry["times_limit"], entry["number"]))
    return found[:MOST_WORST]


def _goes_on(entry: Mapping[str, Any], watch: Mapping[str, Any]) -> bool:
    """The same flaw as before, or what was too early to name and now has its name."""
    known = set(entry["causes"])
    known |= {cause for early in known for cause in EARLY.get(early, ())}
    return bool(known & set(watch["causes"]))


def _prolong(entry: dict[str, Any], watch: Mapping[str, Any]) -> None:
    if not set(entry["causes"]) & set(watch["causes"]):
        entry |= {"causes": list(watch["causes"]), "says": watch["says"]}
    entry["count"] += 1
    entry["times_limit"] = max(entry["times_limit"], times_limit(watch))


def times_limit(watch: Mapping[str, Any]) -> float:
    """By how many times the worst figure exceeds its own threshold, at least 1."""
    figures, limits = watch.get("figures", {}), watch.get("thresholds", {})
    ratios = [abs(float(figures[n])) / float(limits[n]) for n in limits if figures.get(n)]
    return round(max([1.0, *ratios]), 2)


def _flagged(line: Judged) -> dict[str, Mapping[str, Any]]:
    verdict = line.verdict or {}
    if verdict.get("accepted"):
        return {}
    watches = verdict.get("watches", {})
    return {name: watch for name, watch in watches.items() if watch["state"] == "flagged"}


def _entry(
    line: Judged, place: FrameSpacing, name: str, watch: Mapping[str, Any]
) -> dict[str, Any]:
    return {
        "exposure": line.id,
        "number": line.number,
        "frame": place.frame,
        "watch": name,
        "causes": list(watch["causes"]),
        "says": watch["says"],
        "times_limit": times_limit(watch),
        "count": 1,
    }


def _actual(plan: Plan, lines: Sequence[Judged], steps: Sequence[Step]) -> Actual:
    """Plan against actual. Without a scale pixels stand in for mm, and are not held against it."""
    measured = [
        Measured(line.id, line.hold, step.mm if plan.table else step.px, step.moving, line.taken_at)
        for line, step in zip(lines, steps, strict=True)
    ]
    found = compare(plan, measured)
    if plan.table:
        return found
    remarks = tuple(remark for remark in found.remarks if remark.kind != "rushed")
    return Actual(tuple(_unplanned(found.frames)), remarks)


def _unplanned(rows: Iterable[FrameSpacing]) -> Iterable[FrameSpacing]:
    for row in rows:
        yield FrameSpacing(
            row.exposure, row.frame, row.hold, row.action, None, row.measured, row.band, False
        )


def _plan(plan: Plan, lines: Sequence[Judged], actual: Actual) -> dict[str, Any]:
    where = where_shown(plan, [Shown(line.id, line.hold) for line in lines])
    return {
        "frame_count": plan.frame_count,
        "frames_shot": where.frames_shot,
        "says": where.says,
        "actions": [
            {"id": span.action.id, "label": span.action.label, "first_frame": span.first}
            for span in plan.spans()
        ],
        "remarks": [asdict(remark) for remark in actual.remarks],
        "pace": asdict(pace([line.taken_at for line in lines], where.exposures_left)),
    }


def _frame(line: Judged, place: FrameSpacing, step: Step) -> dict[str, Any]:
    verdict = line.verdict or {}
    watches = verdict.get("watches", {})
    row: dict[str, Any] = {
        "exposure": line.id,
        "number": line.number,
        "frame": place.frame,
        "hold": line.hold,
        "action": place.action,
        "state": verdict.get("state"),
        "accepted": bool(verdict.get("accepted")),
        "causes": [cause for watch in watches.values() for cause in watch["causes"]],
    }
    for name, wanted in FIGURES.items():
        figures = watches.get(name, {}).get("figures", {})
        state = watches.get(name, {}).get("state")
        row[name] = {"state": state, **{key: figures.get(key) for key in wanted}}
    row["spacing"] = {
        "moved_px": _rounded(step.px),
        "moved_mm": _rounded(step.mm),
        "planned_mm": _rounded(place.planned),
        "band": place.band,
        "rushed": place.rushed,
    }
    return row


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
