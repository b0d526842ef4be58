"""A plan typed as plain text, one action a line.

::

    # lines that start with # are for people only
    tempo 96
    scale 1:6
    wait 1 s
    creep 120 mm over 10 s, ease in, on twos   # notes of the action
    look up 4 beats, slow
    dash 300 mm at 150 mm/s, smooth on picture 100 400 320 380 700 420
    "2 s stop, then look" 12 frames
    drop 100 mm, fall

A line is a name, an optional length, a duration and options between commas; a fall or bounce
without a duration takes the time that gravity gives it at the scale named above it. What cannot
be read is refused with its line and column (from 1). ``plan_text_writer.py`` writes what this
reads.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from standclear.timing.durations import parse_tempo
from standclear.timing.easing import Easing
from standclear.timing.errors import PlanError, TimingError
from standclear.timing.gravity import natural_seconds, parse_scale
from standclear.timing.plan import MOST_ACTIONS, Action, Plan, carried
from standclear.timing.plan_amounts import Gravity, starts_as_number, take_amounts, words_of
from standclear.timing.plan_ids import with_kept_ids
from standclear.timing.plan_options import read_options
from standclear.timing.plan_words import Word

LONGEST_TEXT = 500_000
LONGEST_LINE = 100_000
DIRECTIVES = ("tempo", "scale")
_INSIDE_NUMBER = re.compile(r"\d,\d", re.ASCII)
_QUOTED = re.compile(r'\s*"((?:[^"\\]|\\.)*)"')


def parse_plan(text: str, rate: Fraction, before: Plan | None = None) -> Plan:
    """The plan that the text describes, at ``rate``.

    Actions that were in ``before`` keep their ids; its ties and calibration are kept.
    Raises PlanError.
    """
    if len(text) > LONGEST_TEXT:
        raise PlanError("The text is longer than 500,000 characters; a plan is far shorter.")
    actions: list[Action] = []
    lines: list[int] = []
    tempo, scale = None, Fraction(1)
    for line_number, line in _lines(text):
        try:
            words = line.split()
            if len(words) == 2 and words[0] in DIRECTIVES:
                tempo, scale = _directive(words, line, tempo, scale)
                continue
            actions.append(_action(line, f"a{len(actions) + 1}", scale))
            lines.append(line_number)
        except PlanError as error:
            raise error.at(line_number, 1) from error
        if len(actions) > MOST_ACTIONS:
            raise PlanError(f"A plan has at most {MOST_ACTIONS:,} actions.", line_number, 1)
    kept = with_kept_ids(actions, before)
    try:
        return replace(carried(before, rate), actions=kept, tempo=tempo, scale=scale)
    except PlanError as error:  # its line counts actions; say the line of the text
        raise PlanError(error.sentence, lines[error.line - 1] if error.line else 0, 1) from error


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines that say something, numbered from 1."""
    for line_number, line in enumerate(text.lstrip("\ufeff").split("\n"), start=1):
        if line.strip() and not line.lstrip().startswith("#"):
            yield line_number, line.rstrip("\r")


def _directive(
    words: list[str], line: str, tempo: Fraction | None, scale: Fraction
) -> tuple[Fraction | None, Fraction]:
    column = line.index(words[1], line.index(words[0]) + len(words[0])) + 1
    try:
        if words[0] == "tempo":
            return parse_tempo(words[1]), scale
        return tempo, parse_scale(words[1])
    except TimingError as error:
        raise PlanError(error.sentence, column=column) from error


def _action(line: str, name: str, scale: Fraction) -> Action:
    """One line as an action."""
    if len(line) > LONGEST_LINE:
        raise PlanError("The line is longer than 100,000 characters.", column=1)
    label, start = _quoted_label(line)
    content, notes = _notes(line, start)
    first, *others = _pieces(content, start)
    head = words_of(first)
    options = read_options(others)
    end = first.column + len(first.text.rstrip())
    amounts = take_amounts(head, end, _gravity(options.easing, scale))
    if label is None:
        label = _plain_label(head)
    elif head:
        raise PlanError(f"“{head[0].text}” is not expected after the name.", column=head[0].column)
    if amounts.pace and options.pace:
        raise PlanError("The pace is given twice; keep one.", column=options.columns["pace"])
    return Action(
        name,
        label,
        amounts.duration,
        on=options.on or 1,
        pace=amounts.pace or options.pace,
        move=options.move(amounts.length_mm),
        notes=notes,
    )


def _gravity(easing: Easing | None, scale: Fraction) -> Gravity | None:
    """How long a fall lasts, to the millisecond; None for a move that does not fall."""
    if easing is None or natural_seconds(easing, 1.0) is None:
        return None

    def lasts(height_mm: Fraction) -> Fraction:
        seconds = natural_seconds(easing, float(height_mm), float(scale)) or 0.0
        return Fraction(max(round(seconds * 1000), 1), 1000)

    return lasts


def _quoted_label(line: str) -> tuple[str | None, int]:
    """A name in quotes and where the rest begins; (None, 0) for a plain one."""
    if not line.lstrip().startswith('"'):
        return None, 0
    found = _QUOTED.match(line)
    if not found:
        raise PlanError("The name's closing quote is missing.", column=line.index('"') + 1)
    return re.sub(r"\\(.)", r"\1", found[1]), found.end()


def _notes(line: str, start: int) -> tuple[str, str]:
    """The line without its notes, and the notes, where \\n stands for a new line."""
    content, mark, notes = line[start:].partition("#")
    if not mark:
        return line, ""
    plain = re.sub(r"\\(.)", lambda m: "\n" if m[1] == "n" else m[1], notes.strip())
    return line[:start] + content, plain


def _pieces(content: str, start: int) -> Iterator[Word]:
    """The parts between commas, but for commas inside brackets or a number."""
    depth, begin = 0, start
    for place in range(start, len(content)):
        depth += {"(": 1, ")": -1}.get(content[place], 0)
        if content[place] == "," and depth <= 0 and not _INSIDE_NUMBER.match(content, place - 1):
            yield Word(content[begin:place], begin + 1)
            begin = place + 1
    yield Word(content[begin:], begin + 1)


def _plain_label(head: list[Word]) -> str:
    if not head:
        raise PlanError("An action needs a name; write what happens before how long.", column=1)
    for word in head:
        if starts_as_number(word.text):
            raise PlanError(
                f"“{word.text[:30]}” is not expected here; put a name with numbers in quotes.",
                column=word.column,
            )
    return " ".join(word.text for word in head)
