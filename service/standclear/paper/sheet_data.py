"""What the exposure sheet shows, from the plan and what has been shot: one row a frame."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from standclear.timing.durations import beat_of_frame
from standclear.timing.errors import PlanError
from standclear.timing.plan import Plan, Span
from standclear.timing.progress import Shown, frame_owners
from standclear.timing.rates import rate_text, timebase
from standclear.timing.timecode import timecode

MOST_FRAMES = 20_000  # over 300 pages


@dataclass(frozen=True, slots=True)
class Row:
    """One frame. ``place`` of ``frames`` counts within the action; 0 when there is no action.

    ``exposure`` is the number of the picture shown, from 1; ``held`` counts from 1 to ``hold``.
    """

    frame: int
    timecode: str
    action: str
    place: int
    frames: int
    exposure: int
    held: int
    hold: int
    sound: str = ""
    beat: int | None = None
    notes: str = ""
    done: bool = False


@dataclass(frozen=True, slots=True)
class SheetData:
    """The exposure sheet of one shot. ``second`` is how many rows make a second."""

    shot: str
    frame_rate: str
    second: int
    rows: tuple[Row, ...]
    about: str = ""


@dataclass(frozen=True, slots=True)
class _Shot:
    """One frame that exists: its picture, where in its hold, and whose it is."""

    exposure: int
    held: int
    hold: int
    owner: str | None


def sheet_data(
    shot: str, plan: Plan, shown: Sequence[Shown] = (), sound: Mapping[int, str] | None = None
) -> SheetData:
    """The sheet: what was shot as it was shot, then what the plan still asks for.

    ``sound``: what is heard at a frame (from 1), such as a word's first letter or a mark.
    Raises PlanError when it is too long for paper.
    """
    if max(plan.frame_count, sum(item.hold for item in shown)) > MOST_FRAMES:
        raise PlanError(f"The shot has more than {MOST_FRAMES:,} frames, too many for paper.")
    spans = {span.action.id: span for span in plan.spans()}
    frames = [*_shot_frames(plan, shown)]
    done = len(frames)
    frames += _planned_frames(plan, frames, len(shown))
    counts: dict[str | None, int] = {}
    rows = []
    for number, frame in enumerate(frames, start=1):
        counts[frame.owner] = counts.get(frame.owner, 0) + 1
        span = spans.get(frame.owner or "")
        rows.append(_row(plan, number, frame, span, counts[frame.owner]))
    heard = sound or {}
    rows = [replace(r, sound=heard.get(r.frame, ""), done=r.frame <= done) for r in rows]
    second = timebase(plan.rate)
    return SheetData(shot, rate_text(plan.rate), second, tuple(rows), _about(plan, done))


def _shot_frames(plan: Plan, shown: Sequence[Shown]) -> list[_Shot]:
    frames = []
    for number, (item, owner) in enumerate(
        zip(shown, frame_owners(plan, shown), strict=True), start=1
    ):
        frames += [_Shot(number, n, item.hold, owner) for n in range(1, item.hold + 1)]
    return frames


def _planned_frames(plan: Plan, shot: Sequence[_Shot], exposures: int) -> list[_Shot]:
    """The frames that are still to be shot, in the order of the plan."""
    have: dict[str | None, int] = {}
    for frame in shot:
        have[frame.owner] = have.get(frame.owner, 0) + 1
    frames: list[_Shot] = []
    number = exposures
    for span in plan.spans():
        left = span.frames - have.get(span.action.id, 0)
        while left > 0:
            number, hold = number + 1, min(span.action.on, left)
            frames += [_Shot(number, n, hold, span.action.id) for n in range(1, hold + 1)]
            left -= hold
    return frames


def _row(plan: Plan, number: int, frame: _Shot, span: Span | None, place: int) -> Row:
    code = str(timecode(number - 1, plan.rate))
    if span is None:
        beat = _beat(plan, number - 1)
        return Row(number, code, "", 0, 0, frame.exposure, frame.held, frame.hold, beat=beat)
    return Row(
        number,
        code,
        span.action.label,
        place,
        span.frames,
        frame.exposure,
        frame.held,
        frame.hold,
        beat=_beat(plan, number - 1),
        notes=span.action.notes if place == 1 else "",
    )


def _beat(plan: Plan, frame: int) -> int | None:
    return None if plan.tempo is None else beat_of_frame(frame, plan.rate, plan.tempo)


def _about(plan: Plan, done: int) -> str:
    seconds = float(Fraction(plan.frame_count) / plan.rate)
    parts = [f"{plan.frame_count} frames", f"{seconds:.2f} s", f"{plan.exposure_count} exposures"]
    if plan.tempo is not None:
        parts.append(f"{float(plan.tempo):g} beats/min")
    return " · ".join([*parts, f"{done} frames shot"])
