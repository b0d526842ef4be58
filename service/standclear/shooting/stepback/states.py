"""The step-back trigger's states, what moves it between them, and what it says.

Rules of this file: everything that the machine may do stands in :data:`TABLE`, (state, happening)
→ (state, cause); what the table does not name changes nothing. A test reads the table and proves
that no line leads from hands to the shutter.

    learning → watching → hands_in → settling → take → rest → watching
                             ↑           │  ╲→ counting → take
                             └───────────┤
                                         ├→ asking   (a person must say: press, or come in again)
                                         └→ blocked  (something must be put right first)
    any → held_back on a touch; a new visit or a press goes on from there
    any → blind while no picture comes

Theory of operation. The hands' visit is seen at the picture's edge: whatever differs from the last
kept picture and touches the edge is a hand, a sleeve or a tool, be it still or not. Only when
nothing does, and the set has been still for a while, is a *study* made of it, and only a study
that finds a changed pose after a visit leads to a picture. Glances are told apart by
``judge.py``; what a study's verdict means for this state is decided in ``machine.py``.
"""

from collections.abc import Mapping
from typing import Literal

State = Literal[
    "learning",
    "watching",
    "hands_in",
    "settling",
    "counting",
    "take",
    "rest",
    "asking",
    "blocked",
    "blind",
    "held_back",
]

Cause = Literal[
    "",
    "restless",
    "hands",
    "hand_resting",
    "stirring",
    "wobbling",
    "still",
    "shadow",
    "light",
    "changed",
    "nothing_changed",
    "passed_by",
    "no_hand_seen",
    "left_behind",
    "large_change",
    "at_the_edge",
    "light_stays",
    "bumped",
    "ready",
    "no_picture",
    "held",
    "action_done",
    "failed",
]

Happening = Literal[
    # while learning
    "restless",
    "learnt",
    # a glance at one picture
    "hands",
    "touching",
    "stirring",
    "shadow",
    "light",
    "still",
    "blind",
    # a study of the set at rest
    "resting",
    "edge_stays",
    "take_it",
    "count_it",
    "ask_it",
    "nobody_was_in",
    "nothing_changed",
    "passed_by",
    "as_before",
    "left_behind",
    "large_change",
    "light_stays",
    "bumped",
    "settle_again",
    "learn_again",
    # time, camera and people
    "counted",
    "taken",
    "failed",
    "rested",
    "limit",
    "hold_back",
    "press",
    "accept",
    "exposed",
]

STATES: tuple[State, ...] = (
    "learning",
    "watching",
    "hands_in",
    "settling",
    "counting",
    "take",
    "rest",
    "asking",
    "blocked",
    "blind",
    "held_back",
)

Line = tuple[State, Happening]
Goal = tuple[State, Cause]

_LEARNING: Mapping[Line, Goal] = {
    ("learning", "restless"): ("learning", "restless"),
    ("learning", "learnt"): ("watching", ""),
}

_WATCHING: Mapping[Line, Goal] = {
    ("watching", "hands"): ("hands_in", "hands"),
    ("watching", "touching"): ("hands_in", "hands"),
    ("watching", "stirring"): ("settling", "stirring"),
    ("watching", "shadow"): ("watching", "shadow"),
    ("watching", "light"): ("watching", "light"),
    ("watching", "still"): ("watching", ""),
}

_HANDS_IN: Mapping[Line, Goal] = {
    ("hands_in", "hands"): ("hands_in", "hands"),
    ("hands_in", "resting"): ("hands_in", "hand_resting"),
    ("hands_in", "edge_stays"): ("blocked", "at_the_edge"),
    ("hands_in", "bumped"): ("blocked", "bumped"),
    ("hands_in", "learn_again"): ("learning", "restless"),
    ("hands_in", "stirring"): ("settling", "wobbling"),
    ("hands_in", "shadow"): ("settling", "shadow"),
    ("hands_in", "light"): ("settling", "light"),
    ("hands_in", "still"): ("settling", "still"),
}

_SETTLING: Mapping[Line, Goal] = {
    ("settling", "hands"): ("hands_in", "hands"),
    ("settling", "touching"): ("hands_in", "hands"),
    ("settling", "stirring"): ("settling", "wobbling"),
    ("settling", "shadow"): ("settling", "shadow"),
    ("settling", "light"): ("settling", "light"),
    ("settling", "still"): ("settling", "still"),
    ("settling", "resting"): ("hands_in", "hand_resting"),
    ("settling", "take_it"): ("take", "changed"),
    ("settling", "count_it"): ("counting", "changed"),
    ("settling", "ask_it"): ("asking", "ready"),
    ("settling", "nobody_was_in"): ("asking", "no_hand_seen"),
    ("settling", "nothing_changed"): ("asking", "nothing_changed"),
    ("settling", "passed_by"): ("watching", "passed_by"),
    ("settling", "as_before"): ("watching", ""),
    ("settling", "left_behind"): ("asking", "left_behind"),
    ("settling", "large_change"): ("asking", "large_change"),
    ("settling", "light_stays"): ("asking", "light_stays"),
    ("settling", "bumped"): ("blocked", "bumped"),
    ("settling", "learn_again"): ("learning", "restless"),
}

_COUNTING: Mapping[Line, Goal] = {
    ("counting", "hands"): ("hands_in", "hands"),
    ("counting", "touching"): ("hands_in", "hands"),
    ("counting", "stirring"): ("settling", "wobbling"),
    ("counting", "shadow"): ("settling", "shadow"),
    ("counting", "light"): ("settling", "light"),
    ("counting", "counted"): ("take", "changed"),
}

_TAKE: Mapping[Line, Goal] = {
    ("take", "taken"): ("rest", ""),
    ("take", "failed"): ("asking", "failed"),
}

_REST: Mapping[Line, Goal] = {
    ("rest", "hands"): ("hands_in", "hands"),
    ("rest", "touching"): ("hands_in", "hands"),
    ("rest", "rested"): ("watching", ""),
    ("rest", "limit"): ("held_back", "action_done"),
}

_ASKING: Mapping[Line, Goal] = {
    ("asking", "hands"): ("hands_in", "hands"),
    ("asking", "touching"): ("hands_in", "hands"),
    ("asking", "press"): ("take", "changed"),
    ("asking", "as_before"): ("watching", ""),
    ("asking", "bumped"): ("blocked", "bumped"),
    ("asking", "stirring"): ("settling", "wobbling"),
    ("asking", "settle_again"): ("settling", "still"),
}

_BLOCKED: Mapping[Line, Goal] = {
    ("blocked", "hands"): ("hands_in", "hands"),
    ("blocked", "accept"): ("learning", ""),
    ("blocked", "settle_again"): ("settling", "still"),
    ("blocked", "as_before"): ("watching", ""),
    ("blocked", "bumped"): ("blocked", "bumped"),
    ("blocked", "learn_again"): ("learning", "restless"),
}

_BLIND: Mapping[Line, Goal] = {
    ("blind", "hands"): ("hands_in", "hands"),
    ("blind", "touching"): ("hands_in", "hands"),
    ("blind", "stirring"): ("settling", "stirring"),
    ("blind", "shadow"): ("settling", "shadow"),
    ("blind", "light"): ("settling", "light"),
    ("blind", "still"): ("settling", "still"),
    ("blind", "restless"): ("learning", "restless"),
}

_HELD_BACK: Mapping[Line, Goal] = {
    ("held_back", "hands"): ("hands_in", "hands"),
    ("held_back", "touching"): ("hands_in", "hands"),
    ("held_back", "press"): ("settling", "still"),
    ("held_back", "accept"): ("learning", ""),
}

_HOLDABLE: tuple[State, ...] = tuple(state for state in STATES if state != "held_back")
_ANY: Mapping[Line, Goal] = {
    **{(state, "hold_back"): ("held_back", "held") for state in _HOLDABLE},
    **{(state, "exposed"): ("rest", "") for state in STATES if state not in ("learning", "take")},
    **{
        (state, "blind"): ("blind", "no_picture")
        for state in STATES
        if state not in ("take", "held_back")
    },
}

TABLE: Mapping[Line, Goal] = {
    **_LEARNING,
    **_WATCHING,
    **_HANDS_IN,
    **_SETTLING,
    **_COUNTING,
    **_TAKE,
    **_REST,
    **_ASKING,
    **_BLOCKED,
    **_BLIND,
    **_HELD_BACK,
    **_ANY,
}
