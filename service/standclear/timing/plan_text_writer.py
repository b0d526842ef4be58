"""A plan as the plain text that ``plan_text.parse_plan`` reads back as the same plan."""

import re

from standclear.timing.easing import LINEAR
from standclear.timing.easing_text import easing_text
from standclear.timing.numbers import number_text
from standclear.timing.plan import Action, Move, Plan
from standclear.timing.plan_amounts import NOT_FINITE
from standclear.timing.plan_text import DIRECTIVES
from standclear.timing.plan_words import on_text, pace_text, part_text, path_text

_PLAIN_WORD = re.compile(r'[^\s\d,#"\\()+.\-][^\s,#"\\()]*')
_NOT_PLAIN = NOT_FINITE | {"over", "for", "at", "mm/s"}


def plan_text(plan: Plan) -> str:
    """Tempo, scale, then one action a line. Ids and ties are not in the text."""
    lines = []
    if plan.tempo is not None:
        lines.append(f"tempo {number_text(plan.tempo)}")
    if plan.scale != 1:
        lines.append(f"scale 1:{number_text(plan.scale)}")
    lines.extend(action_text(action) for action in plan.actions)
    return "".join(line + "\n" for line in lines)


def action_text(action: Action) -> str:
    """One action as one line, such as ``creep 120 mm over 10 s, ease in, on twos``."""
    head = label_text(action.label)
    if action.move and action.move.length_mm is not None:
        head += f" {number_text(action.move.length_mm)} mm over"
    parts = [f"{head} {action.duration}"]
    if action.move:
        parts += _move_words(action.move)
    if action.on != 1:
        parts.append(on_text(action.on))
    if action.pace:
        parts.append(pace_text(action.pace))
    line = ", ".join(parts)
    return f"{line}  # {_one_line(action.notes)}" if action.notes else line


def label_text(label: str) -> str:
    """The name, in quotes when it could be read as something else."""
    words = label.split(" ")
    plain = all(_PLAIN_WORD.fullmatch(word) and word.lower() not in _NOT_PLAIN for word in words)
    if plain and words[0] not in DIRECTIVES:
        return label
    return '"' + re.sub(r'(["\\])', r"\\\1", label) + '"'


def _move_words(move: Move) -> list[str]:
    words = [] if move.easing == LINEAR else [easing_text(move.easing)]
    return words + [text for text in (path_text(move), part_text(move)) if text]


def _one_line(notes: str) -> str:
    return notes.replace("\\", "\\\\").replace("\n", "\\n")
