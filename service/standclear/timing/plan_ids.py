"""Ids for a plan that was typed anew: actions that were there before keep theirs."""

from collections.abc import Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from standclear.timing.plan import Action, Plan, new_id


def with_kept_ids(actions: Sequence[Action], before: Plan | None) -> tuple[Action, ...]:
    """The actions with the ids of those of the same name, in order, in the plan before.

    A run of renamed actions as long as the run it replaces keeps its ids too; others get new ones.
    """
    if before is None:
        return tuple(replace(action, id=f"a{n}") for n, action in enumerate(actions, start=1))
    old = [action.label for action in before.actions]
    new = [action.label for action in actions]
    ids: dict[int, str] = {}
    for kind, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if kind == "equal" or (kind == "replace" and b - a == d - c):
            for n in range(b - a):
                ids[c + n] = before.actions[a + n].id
    fresh = int(new_id(before)[1:])
    kept = []
    for n, action in enumerate(actions):
        if n not in ids:
            ids[n], fresh = f"a{fresh}", fresh + 1
        kept.append(replace(action, id=ids[n]))
    return tuple(kept)
