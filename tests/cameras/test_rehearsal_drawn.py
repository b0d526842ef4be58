"""The drawn set that is kept between runs is the set that would be drawn."""

from pathlib import Path

import numpy as np
import pytest

from standclear.cameras.rehearsal import drawn, scene
from standclear.cameras.rehearsal.scene import Scene


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own to keep drawings in."""
    monkeypatch.setenv(drawn.SETTING, str(tmp_path / "drawn"))
    return tmp_path / "drawn"


def same(one: Scene, other: Scene) -> bool:
    return np.array_equal(one.master, other.master) and np.array_equal(one.bottle, other.bottle)


def test_what_was_kept_is_what_was_drawn(folder: Path) -> None:
    first = drawn.drawn_set(card=False)
    assert [file.suffix for file in folder.iterdir()] == [".npz"]
    again = drawn.drawn_set(card=False)
    assert again is not first
    assert same(again, scene.empty_set(False))
    assert same(again, first)


def test_half_a_drawing_is_drawn_again(folder: Path) -> None:
    drawn.drawn_set(card=False)
    (file,) = folder.iterdir()
    file.write_bytes(file.read_bytes()[:1000])
    assert same(drawn.drawn_set(card=False), scene.empty_set(False))
    assert file.stat().st_size > 1000


def test_a_set_with_a_card_is_another(folder: Path) -> None:
    assert not same(drawn.drawn_set(card=False), drawn.drawn_set(card=True))
    assert len(list(folder.iterdir())) == 2


def test_without_a_folder_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(drawn.SETTING, raising=False)
    monkeypatch.chdir(tmp_path)
    drawn.drawn_set(card=False)
    assert list(tmp_path.iterdir()) == []
