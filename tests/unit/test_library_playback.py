"""Playback: which exposure is shown in which frame."""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standclear.errors import Invalid
from standclear.library.library import Library
from tests.library_kit import IN_MEMORY, keep, opened

HOLDS = [1, 3, 2, 1, 7, 1, 1, 2, 40, 1] * 8


@pytest.fixture(scope="module")
def library() -> Iterator[Library]:
    with TemporaryDirectory(dir=IN_MEMORY) as folder, opened(Path(folder)) as library:
        yield library


@pytest.fixture(scope="module")
def shot(library: Library) -> str:
    shot = library.create_shot("Cork", frame_rate="24000/1001").id
    for hold in HOLDS:
        keep(library, shot, hold=hold)
    return shot


#: The film, frame by frame, by the plain meaning of a hold: (frame, number of the exposure).
FILM = [
    (frame, number)
    for frame, number in enumerate(
        (number for number, hold in enumerate(HOLDS, 1) for _ in range(hold)), start=1
    )
]


@given(last=st.integers(1, 2 * len(FILM)))
@settings(max_examples=40, deadline=None)
def test_the_last_frames_are_shown_with_their_holds(library: Library, shot: str, last: int) -> None:
    found = library.playback(shot, last=last)
    assert [(f.frame, f.number) for f in found.frames] == FILM[-last:]
    assert found.first == FILM[-last:][0][0]
    assert (found.frame_rate, found.frame_count) == ("24000/1001", len(FILM))


@given(a=st.integers(1, len(FILM) + 5), b=st.integers(1, len(FILM) + 5))
@settings(max_examples=60, deadline=None)
def test_a_window_is_shown_whatever_its_ends(library: Library, shot: str, a: int, b: int) -> None:
    found = library.playback(shot, first=a, to=b)
    assert [(f.frame, f.number) for f in found.frames] == FILM[a - 1 : b]


def test_the_whole_shot_and_the_ids_of_its_exposures(library: Library, shot: str) -> None:
    found = library.playback(shot)
    assert [(f.frame, f.number) for f in found.frames] == FILM
    numbers = {e.number: e.id for e in library.exposures(shot, limit=1000).items}
    assert all(numbers[f.number] == f.exposure_id for f in found.frames)
    assert [f.frame for f in library.playback(shot, first=5, limit=3).frames] == [5, 6, 7]


def test_an_empty_shot_has_no_frames(library: Library) -> None:
    empty = library.create_shot("Empty").id
    for how in ({}, {"last": 24}, {"first": 1, "to": 10}):
        found = library.playback(empty, **how)
        assert (found.first, found.frame_count, found.frames) == (0, 0, ())


def test_one_long_hold_is_no_long_walk(library: Library) -> None:
    shot = library.create_shot("Long").id
    for _ in range(3):
        keep(library, shot, hold=10_000)
    assert [f.frame for f in library.playback(shot, last=2).frames] == [29_999, 30_000]
    assert [f.number for f in library.playback(shot, first=10_000, to=10_001).frames] == [1, 2]


@pytest.mark.parametrize(
    "how",
    [
        *({"last": 0}, {"last": -1}, {"first": 0}, {"to": 0}, {"limit": 0}, {"last": 10**12}),
        {"last": 1, "first": 1},
    ],
)
def test_an_absurd_window_is_refused(library: Library, shot: str, how: dict[str, int]) -> None:
    with pytest.raises(Invalid):
        library.playback(shot, **how)


def test_the_start_of_the_last_frames_is_found_without_walking_the_shot(
    library: Library, shot: str, tmp_path: Path
) -> None:
    """SQLite's plan for the walk is a search of the covering index, not a scan."""
    from standclear.library import playback

    with library._parts.database.read() as c:
        for statement in (playback._FORWARDS, playback._BACKWARDS):
            sql = str(statement.compile(c.engine, compile_kwargs={"literal_binds": False}))
            plan = c.exec_driver_sql(
                f"EXPLAIN QUERY PLAN {sql}", (shot, 1, 64, 0)[: sql.count("?")]
            ).all()
            assert [row[3].split(" USING")[0] for row in plan] == ["SEARCH exposures"], plan
            assert "exposures_in_order" in plan[0][3]
