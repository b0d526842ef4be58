"""Undo and redo, against a plain list that is copied before each edit."""

import copy
import os
import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from standclear.library import journal
from standclear.library.history import NothingToRedo, NothingToUndo
from standclear.library.replay import replay
from tests.library_kit import IN_MEMORY, keep, opened

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
PLACES = st.integers(0, 10**6)


@dataclass
class Model:
    """The shot as a person would keep it on paper."""

    name: str = "Cork"
    order: list[str] = field(default_factory=list)
    holds: dict[str, int] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)


class EditsAgainstAList(RuleBasedStateMachine):
    """Any edits, undone and redone in any order, are what the list says."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="standclear-", dir=IN_MEMORY))
        self.library = opened(self.folder)
        self.shot = self.library.create_shot("Cork").id
        self.model = Model()
        self.past: list[Model] = []
        self.future: list[Model] = []
        self.binned: set[str] = set()

    def teardown(self) -> None:
        self.library.close()
        shutil.rmtree(self.folder)

    def before_edit(self) -> None:
        self.past.append(copy.deepcopy(self.model))
        self.future.clear()

    def one_of_the_shot(self, n: int) -> str:
        return self.model.order[n % len(self.model.order)]

    def meet(self, new: str, hold: int, place: int) -> None:
        self.model.order.insert(place, new)
        self.model.holds[new] = hold
        self.model.notes[new] = ""

    @rule(hold=st.integers(1, 4))
    def take(self, hold: int) -> None:
        self.before_edit()
        self.meet(keep(self.library, self.shot, hold=hold), hold, len(self.model.order))

    @rule()
    def insert_at_the_start(self) -> None:
        self.before_edit()
        self.meet(keep(self.library, self.shot, insert_after="start"), 1, 0)

    @precondition(lambda self: self.model.order)
    @rule(n=PLACES)
    def insert_after(self, n: int) -> None:
        self.before_edit()
        anchor = self.one_of_the_shot(n)
        new = keep(self.library, self.shot, insert_after=anchor)
        self.meet(new, 1, self.model.order.index(anchor) + 1)

    @precondition(lambda self: self.model.order)
    @rule(n=PLACES)
    def retake(self, n: int) -> None:
        self.before_edit()
        old = self.one_of_the_shot(n)
        new = keep(self.library, self.shot, replaces=old)
        place = self.model.order.index(old)
        self.model.order.pop(place)
        self.meet(new, self.model.holds[old], place)

    @precondition(lambda self: self.model.order)
    @rule(n=PLACES)
    def delete(self, n: int) -> None:
        self.before_edit()
        one = self.one_of_the_shot(n)
        self.library.bin_exposure(self.shot, one)
        self.model.order.remove(one)

    @precondition(lambda self: self.model.order)
    @rule(n=PLACES, hold=st.integers(1, 9))
    def hold(self, n: int, hold: int) -> None:
        one = self.one_of_the_shot(n)
        if self.model.holds[one] != hold:
            self.before_edit()
        self.library.change_exposure(self.shot, one, hold=hold)
        self.model.holds[one] = hold

    @precondition(lambda self: self.model.order)
    @rule(n=PLACES, note=st.sampled_from(["", "ear", "tail"]))
    def note(self, n: int, note: str) -> None:
        one = self.one_of_the_shot(n)
        if self.model.notes[one] != note:
            self.before_edit()
        self.library.change_exposure(self.shot, one, note=note)
        self.model.notes[one] = note

    @rule(name=st.sampled_from(["Cork", "Cork wakes", "Cork sleeps"]))
    def rename(self, name: str) -> None:
        if self.model.name != name:
            self.before_edit()
        self.library.change_shot(self.shot, name=name)
        self.model.name = name

    @rule(n=PLACES)
    def restore(self, n: int) -> None:
        binned = [e.id for e in self.library.binned(self.shot).items]
        if not binned:
            return
        self.before_edit()
        one = binned[n % len(binned)]
        back = self.library.restore_exposure(self.shot, one)
        assert back.number is not None
        self.model.order.insert(back.number - 1, one)
        # What an undone retake or take left behind keeps its own hold and note.
        self.model.holds[one], self.model.notes[one] = back.hold, back.note

    @rule()
    def undo(self) -> None:
        if not self.past:
            try:
                self.library.undo(self.shot)
            except NothingToUndo:
                return
            raise AssertionError("undid what was never done")
        self.library.undo(self.shot)
        self.future.append(copy.deepcopy(self.model))
        self.model = self.past.pop()

    @rule()
    def redo(self) -> None:
        if not self.future:
            try:
                self.library.redo(self.shot)
            except NothingToRedo:
                return
            raise AssertionError("redid what was never undone")
        self.library.redo(self.shot)
        self.past.append(copy.deepcopy(self.model))
        self.model = self.future.pop()

    @rule()
    def empty_the_bin(self) -> None:
        gone = set(self.library.empty_bin(self.shot))
        if gone:
            # Steps that need what is gone are dropped, and those that lie beyond them.
            self.past = self.past[len(self.past) - self.reach(self.library.undo) :]
            self.future = self.future[len(self.future) - self.reach(self.library.redo) :]

    def reach(self, step: object) -> int:
        """How many steps can be made that way; they are taken back again."""
        back = self.library.redo if step == self.library.undo else self.library.undo
        count = 0
        while True:
            try:
                step(self.shot)  # type: ignore[operator]
            except (NothingToUndo, NothingToRedo):
                break
            count += 1
        for _ in range(count):
            back(self.shot)
        return count

    @rule()
    def close_and_open(self) -> None:
        self.library.close()
        self.library = opened(self.folder)
        assert self.library.swept.journals == ()

    @invariant()
    def is_what_the_list_says(self) -> None:
        shot = self.library.shot(self.shot)
        found = list(self.library.exposures(self.shot, limit=1000).items)
        assert [e.id for e in found] == self.model.order
        assert [e.number for e in found] == list(range(1, len(found) + 1))
        assert {e.id: (e.hold, e.note) for e in found} == {
            one: (self.model.holds[one], self.model.notes[one]) for one in self.model.order
        }
        assert shot.name == self.model.name
        assert shot.exposure_count == len(found)
        assert shot.frame_count == sum(e.hold for e in found)
        assert (shot.can_undo, shot.can_redo) == (bool(self.past), bool(self.future))

    @invariant()
    def is_what_the_journal_says(self) -> None:
        """The journal alone tells the same."""
        shot = self.library.shot(self.shot)
        told = replay(journal.read(self.folder / "shots" / shot.folder / "shot.jsonl"))
        assert told.passed_over == 0
        assert told.order == self.model.order
        assert told.shot["name"] == self.model.name
        assert [told.exposures[one]["hold"] for one in told.order] == [
            self.model.holds[one] for one in self.model.order
        ]
        assert set(told.exposures) == set(told.order) | {
            e.id for e in self.library.binned(self.shot).items
        }


TestEditsAgainstAList = EditsAgainstAList.TestCase
TestEditsAgainstAList.settings = settings(
    max_examples=200 if LONG else 5,
    stateful_step_count=50 if LONG else 20,
    deadline=None,
    derandomize=not LONG,
)
