"""A plan as CSV (RFC 4180), for spreadsheets: one action a row, in and out.

Columns may come in any order; ``action`` and ``duration`` must be there. Tempo and scale stand in a
row of their own without an action. Frame numbers are written for the reader and not read back.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from standclear.timing.durations import Duration, parse_tempo
from standclear.timing.easing import LINEAR
from standclear.timing.easing_text import easing_text, parse_easing
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.gravity import parse_scale
from standclear.timing.numbers import number_text
from standclear.timing.plan import MOST_ACTIONS, Action, Move, Plan, Span, carried
from standclear.timing.plan_ids import with_kept_ids
from standclear.timing.plan_text import LONGEST_TEXT
from standclear.timing.plan_words import (
    UNIT_WORDS,
    number,
    pace_text,
    parse_on,
    parse_pace,
    parse_part,
    parse_path,
    part_text,
    path_text,
)

READ = ("action", "duration", "unit", "on", "pace", "length_mm", "easing", "path", "part", "notes")
SETTINGS = ("tempo", "scale")
WRITTEN = ("first_frame", "last_frame", "exposures")
COLUMNS = (*READ, *SETTINGS, *WRITTEN)
# A spreadsheet takes a cell that begins so for a formula; an apostrophe in front keeps it text.
_FORMULA = ("=", "+", "-", "@", "'")


def plan_csv(plan: Plan) -> str:
    """The plan as CSV with a header, lines ending in CR LF."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    if plan.tempo is not None or plan.scale != 1:
        tempo = "" if plan.tempo is None else number_text(plan.tempo)
        writer.writerow({"tempo": tempo, "scale": f"1:{number_text(plan.scale)}"})
    for span in plan.spans():
        writer.writerow(_row(span))
    return out.getvalue()


def _row(span: Span) -> dict[str, str]:
    action, move = span.action, span.action.move
    row = {
        "action": _guarded(action.label),
        "duration": number_text(action.duration.value),
        "unit": action.duration.unit,
        "on": str(action.on),
        "pace": pace_text(action.pace) if action.pace else "",
        "notes": _guarded(action.notes),
        "first_frame": str(span.first),
        "last_frame": str(span.last),
        "exposures": str(span.exposures),
    }
    if move:
        row["length_mm"] = "" if move.length_mm is None else number_text(move.length_mm)
        row["easing"] = easing_text(move.easing)
        row["path"], row["part"] = path_text(move), part_text(move)
    return row


def parse_csv(text: str, rate: Fraction, before: Plan | None = None) -> Plan:
    """The plan in the CSV. PlanError carries the line and the number of the field, from 1."""
    if len(text) > LONGEST_TEXT:
        raise PlanError("The file is longer than 500,000 characters; a plan is far shorter.")
    actions: list[Action] = []
    lines: list[int] = []
    settings: dict[str, str] = {}
    for line, row, fields in _rows(text):
        if not row["action"] and any(row[name] for name in SETTINGS):
            settings.update({name: row[name] for name in SETTINGS if row[name]})
            continue
        actions.append(_Row(row, line, fields).action(f"a{len(actions) + 1}"))
        lines.append(line)
        if len(actions) > MOST_ACTIONS:
            raise PlanError(f"A plan has at most {MOST_ACTIONS:,} actions.", line)
    try:
        tempo = parse_tempo(settings["tempo"]) if "tempo" in settings else None
        scale = parse_scale(settings.get("scale", "1"))
        kept = with_kept_ids(actions, before)
        return replace(carried(before, rate), actions=kept, tempo=tempo, scale=scale)
    except PlanError as error:
        raise PlanError(error.sentence, lines[error.line - 1] if error.line else 0) from error
    except TimingError as error:
        raise PlanError(error.sentence) from error


def _rows(text: str) -> Iterator[tuple[int, dict[str, str], dict[str, int]]]:
    """The line each row ends on, the row with all columns, and which field has which column."""
    text = text.lstrip("\ufeff")
    head = text.partition("\n")[0]
    mark = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        names = _header([name.strip().lower() for name in next(reader, [])])
        fields = {name: number for number, name in enumerate(names, start=1)}
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(names):
                raise PlanError("This row has more fields than the header.", reader.line_num)
            filled = dict(zip(names, (cell.strip() for cell in cells), strict=False))
            yield reader.line_num, {name: filled.get(name, "") for name in COLUMNS}, fields
    except csv.Error as error:
        raise PlanError(f"This is broken CSV: {error}.", reader.line_num) from error


def _header(names: list[str]) -> list[str]:
    for name in ("action", "duration"):
        if name not in names:
            raise PlanError(f"The first line must name the columns; “{name}” is missing.", 1)
    if len(set(names)) != len(names):
        raise PlanError("Two columns have the same name.", 1)
    return names


class _Row:
    """One row, read field by field so that a complaint knows its field."""

    def __init__(self, row: dict[str, str], line: int, fields: dict[str, int]) -> None:
        self.row, self.line, self.fields = row, line, fields

    def action(self, name: str) -> Action:
        try:
            return self._read(name)
        except PlanError as error:
            raise error.at(self.line) from error
        except TimingError as error:
            raise PlanError(error.sentence, self.line) from error

    def _read(self, name: str) -> Action:
        row = self.row
        unit = UNIT_WORDS.get(row["unit"].lower() or "s")
        if unit is None:
            raise PlanError("The unit is s, frames or beats.", column=self.fields["unit"])
        return Action(
            name,
            _unguarded(row["action"]),
            Duration(self._number("duration"), unit),
            on=parse_on(f"on {row['on']}") if row["on"] else 1,
            pace=parse_pace(row["pace"].lower()) if row["pace"] else None,
            move=self._move(),
            notes=_unguarded(row["notes"]),
        )

    def _number(self, name: str) -> Fraction:
        try:
            return number(self.row[name])
        except PlanError as error:
            raise error.at(self.line, self.fields[name]) from error

    def _move(self) -> Move | None:
        row = self.row
        if not row["length_mm"] and not row["path"]:
            return None
        length = self._number("length_mm") if row["length_mm"] else None
        easing = parse_easing(row["easing"]) if row["easing"] else LINEAR
        part = parse_part(row["part"]) if row["part"] else (Fraction(0), Fraction(1))
        if not row["path"]:
            return Move(length, easing, part=part)
        curve, space, points = parse_path(row["path"])
        return Move(length, easing, points, curve, space, part)


def _guarded(text: str) -> str:
    return "'" + text if text.startswith(_FORMULA) else text


def _unguarded(text: str) -> str:
    return text[1:] if text.startswith("'") else text
