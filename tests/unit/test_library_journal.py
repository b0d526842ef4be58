"""The journal: written after each commit, flushed in the background, never two lines behind."""

import json
import threading
from pathlib import Path

import pytest

from standclear.library import journal
from standclear.library.disk import Disk
from standclear.library.journal import Journal
from tests.library_kit import keep, opened
from tests.waiting import until


class SlowToFlush(Disk):
    """Flushes only when it is let."""

    def __init__(self) -> None:
        self.let = threading.Event()
        self.flushes = 0

    def fsync(self, descriptor: int) -> None:
        self.let.wait(20)
        super().fsync(descriptor)
        self.flushes += 1


def test_each_edit_is_in_the_journal_when_it_is_acknowledged(tmp_path: Path) -> None:
    """So a killed process loses no line: what was written is the system's to keep."""
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        path = tmp_path / "shots" / shot.folder / "shot.jsonl"
        for edit in range(1, 6):
            one = keep(library, shot.id)
            lines = path.read_text().splitlines()
            assert len(lines) == 1 + edit
            assert json.loads(lines[-1])["exposure"]["id"] == one
            assert json.loads(lines[-1])["n"] == journal.last_sequence(path) == 1 + edit


def test_a_press_does_not_wait_for_the_flush_but_the_one_after_does(tmp_path: Path) -> None:
    disk, path = SlowToFlush(), tmp_path / "shot.jsonl"
    book = Journal(disk)
    book.append(path, {"n": 1})
    assert path.read_text() == '{"n":1}\n'
    assert disk.flushes == 0
    second = threading.Thread(target=book.append, args=(path, {"n": 2}))
    second.start()
    second.join(0.05)
    assert second.is_alive()
    assert path.read_text() == '{"n":1}\n'
    disk.let.set()
    second.join(20)
    assert path.read_text() == '{"n":1}\n{"n":2}\n'
    book.settle()
    assert disk.flushes == 2
    book.close()


def test_one_slow_journal_does_not_hold_up_another(tmp_path: Path) -> None:
    disk = SlowToFlush()
    book = Journal(disk)
    book.append(tmp_path / "a", {"n": 1})
    book.append(tmp_path / "b", {"n": 1})
    disk.let.set()
    book.close()
    assert disk.flushes == 2


def test_a_flush_that_fails_is_told_to_whoever_asks(tmp_path: Path) -> None:
    class Failing(Disk):
        def fsync(self, descriptor: int) -> None:
            raise OSError(5, "Input/output error")

    book = Journal(Failing())
    book.append(tmp_path / "a", {"n": 1})
    assert until(book.failed) == {tmp_path / "a"}
    assert book.failed() == set()
    book.close()


@pytest.mark.parametrize("size", [1, 70_000, 300_000])
def test_the_last_number_is_found_however_long_the_line(tmp_path: Path, size: int) -> None:
    path = tmp_path / "shot.jsonl"
    assert journal.last_sequence(path) == 0
    path.write_text('{"n":1}\n' + json.dumps({"n": 2, "snapshot": "x" * size}) + "\n")
    assert journal.last_sequence(path) == 2
    assert not journal.is_torn(path)
    with path.open("a") as file:
        file.write('{"n":3,"st')
    assert journal.last_sequence(path) == 0
    assert journal.is_torn(path)


def test_what_is_no_line_of_ours_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "shot.jsonl"
    path.write_bytes(b'{"n":1}\n\xff\xfe\n[]\n{"n":"x"}\n{"n":-1}\n{"n":2}\n' + b"[" * 100_000)
    assert [line and line["n"] for line in journal.read(path)] == [
        1,
        None,
        None,
        None,
        None,
        2,
        None,
    ]
