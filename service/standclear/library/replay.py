"""A shot rebuilt from its journal, on plain lists: pure, and forgiving of damage.

A line that cannot be read, or that speaks of an exposure nobody knows, is passed over and counted;
whatever can still be told from the rest is told.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from standclear.library.steps import SHOT_FIELDS


@dataclass(slots=True)
class Replayed:
    """What a journal says of its shot: ``shot`` fields, ``exposures`` by id, their ``order``, and
    the names of ``gone`` files, which emptying the bin removed or was to remove."""

    shot: dict[str, Any] = field(default_factory=dict)
    plan: Any = None
    exposures: dict[str, dict[str, Any]] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)
    gone: set[str] = field(default_factory=set)
    last_number: int = 0
    passed_over: int = 0


def replay(lines: Iterable[Mapping[str, Any] | None]) -> Replayed:
    """Carry out a journal's lines from the first to the last."""
    state = Replayed()
    for line in lines:
        if line is None:
            state.passed_over += 1
            continue
        state.last_number = max(state.last_number, line["n"])
        try:
            _carry_out(state, line)
        except (KeyError, TypeError, ValueError, IndexError, AttributeError):
            state.passed_over += 1
    return state


def _carry_out(state: Replayed, line: Mapping[str, Any]) -> None:
    if "snapshot" in line:
        _snapshot(state, line["snapshot"])
    if "shot" in line:
        state.shot.update(line["shot"])
    if "plan" in line:
        state.plan = line["plan"]
    if "exposure" in line:
        _meet(state, line["exposure"])
    if "verdict" in line:
        exposure_id, verdict = line["verdict"]
        state.exposures[exposure_id]["verdict"] = verdict
    for step in line.get("steps", ()):
        _step(state, *step)
    for exposure_id in line.get("gone", ()):
        known = state.exposures.pop(exposure_id, {"originals": ()})
        state.gone |= {str(original["name"]) for original in known["originals"]}
        if exposure_id in state.order:
            state.order.remove(exposure_id)


def _snapshot(state: Replayed, snapshot: Mapping[str, Any]) -> None:
    state.shot = dict(snapshot["shot"])
    state.plan = snapshot["plan"]
    state.exposures, state.order = {}, []
    for exposure in snapshot["exposures"]:
        _meet(state, exposure)
    placed = [e for e in state.exposures.values() if e["number"] is not None]
    state.order = [e["id"] for e in sorted(placed, key=lambda e: e["number"])]


def _meet(state: Replayed, exposure: Mapping[str, Any]) -> None:
    known = dict(exposure)
    for original in known["originals"]:
        _ = (original["name"], original["sha256"], original["size"])
    state.exposures[str(known["id"])] = known


def _step(state: Replayed, kind: str, what: str, *arguments: Any) -> None:
    if kind == "shot":
        if what in SHOT_FIELDS:
            state.shot[what] = str(arguments[0])
    elif kind == "remove":
        state.order.remove(what)
    elif kind == "insert":
        if what in state.exposures and what not in state.order:
            state.order.insert(max(1, int(arguments[0])) - 1, what)
    elif kind in {"hold", "note"}:
        state.exposures[what][kind] = arguments[0]
