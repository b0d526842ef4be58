"""Receipts: one key, one request, one answer."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from standclear.errors import NotFound, StandclearError
from standclear.library.failures import KeyReused
from standclear.library.library import Library
from standclear.library.records import Receipt
from tests.library_kit import SetClock, keep, opened


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture
def library(tmp_path: Path, clock: SetClock) -> Iterator[Library]:
    with opened(tmp_path, clock=clock) as library:
        yield library


def test_a_key_is_claimed_once_and_tells_what_was_done_under_it(library: Library) -> None:
    shot = library.create_shot("Cork").id
    assert library.receipt("key") is None
    assert library.claim_receipt("key", "print") is None
    first = keep(library, shot, receipt="key")
    second = keep(library, shot, receipt="key")
    assert library.claim_receipt("key", "print") == Receipt("key", "print", (first, second))
    library.close_receipt("key", {"status": 201})
    assert library.receipt("key") == Receipt("key", "print", (first, second), {"status": 201})


def test_a_key_used_for_another_request_is_refused(library: Library) -> None:
    library.claim_receipt("key", "print")
    with pytest.raises(StandclearError) as refused:
        library.claim_receipt("key", "other print")
    assert (refused.value.code, refused.value.status) == ("key_reused", 409)


def test_of_many_who_claim_a_key_at_once_one_has_it(library: Library) -> None:
    together = threading.Barrier(8)
    answers: list[Receipt | None] = []

    def claim() -> None:
        together.wait()
        answers.append(library.claim_receipt("key", "print"))

    threads = [threading.Thread(target=claim) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answer is None for answer in answers) == [False] * 7 + [True]


def test_a_receipt_lasts_a_day_whatever_the_clock_does_and_not_for_ever(
    library: Library, clock: SetClock
) -> None:
    library.claim_receipt("old", "print")
    clock.advance(hours=-1)
    library.claim_receipt("while the clock was set back", "print")
    clock.advance(hours=25)
    library.claim_receipt("new", "print")
    assert library.receipt("old") is not None
    assert library.receipt("while the clock was set back") is not None
    clock.advance(hours=48)
    library.claim_receipt("newest", "print")
    assert library.receipt("old") is None
    assert library.receipt("newest") is not None


def test_a_key_comes_back_only_where_nothing_was_kept_under_it(library: Library) -> None:
    shot = library.create_shot("Cork").id
    library.claim_receipt("nothing", "print")
    library.claim_receipt("something", "print")
    kept = keep(library, shot, receipt="something")
    library.release_receipt("nothing")
    library.release_receipt("something")
    library.release_receipt("never claimed")
    assert library.receipt("nothing") is None
    assert library.receipt("something") == Receipt("something", "print", (kept,))


def test_an_answer_needs_a_claim(library: Library) -> None:
    with pytest.raises(NotFound):
        library.close_receipt("never claimed", {})


def test_receipts_survive_the_service(tmp_path: Path) -> None:
    with opened(tmp_path / "again") as library:
        shot = library.create_shot("Cork").id
        library.claim_receipt("key", "print")
        kept = keep(library, shot, receipt="key")
    with opened(tmp_path / "again") as library:
        assert library.receipt("key") == Receipt("key", "print", (kept,))


def test_an_exposure_claims_its_key_as_it_is_kept(library: Library) -> None:
    shot = library.create_shot("Cork").id
    first = keep(library, shot, receipt="key", fingerprint="print")
    second = keep(library, shot, receipt="key", fingerprint="print")
    assert library.receipt("key") == Receipt("key", "print", (first, second))
    with pytest.raises(KeyReused):
        library.claim_receipt("key", "other print")
