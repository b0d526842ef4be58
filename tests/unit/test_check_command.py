"""`standclear check`: files against their records, and a shot's verdicts made anew."""

import contextlib
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from standclear.cameras.kinds import camera_from_id
from standclear.cli import main
from standclear.clock import SystemClock
from standclear.library.library import Library


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A library with one shot of four; the camera was nudged at the third."""
    folder = tmp_path / "library"
    camera = camera_from_id("rehearsal:seed=3,nudge=3")
    camera.open()
    with Library.open(folder, SystemClock()) as library:
        shot = library.create_shot("cork wakes").id
        for _ in range(4):
            library.keep(shot, camera.capture(), camera="Rehearsal set")
    camera.close()
    return folder


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["check", *arguments])


def found(folder: Path, *arguments: str) -> Any:
    result = run("--library", str(folder), "--json", *arguments)
    return json.loads(result.stdout)


def test_a_named_shot_is_looked_at_again_and_its_verdicts_are_kept(folder: Path) -> None:
    answer = found(folder, "cork wakes")
    assert answer["well"]
    states = [one["verdict"]["state"] for one in answer["exposures"]]
    assert states == ["clear", "clear", "flagged", "flagged"]
    assert answer["exposures"][2]["verdict"]["watches"]["rig"]["causes"] == ["bump"]
    with Library.open(folder, SystemClock()) as library:
        shot = library.shots().items[0]
        kept = [line.verdict for line in library.judged(shot.id)]
        assert kept == [one["verdict"] for one in answer["exposures"]]
        library.put_verdict(library.judged(shot.id)[2].id, {**kept[2], "accepted": True})  # type: ignore[dict-item]
    again = found(folder, shot.id)["exposures"]
    assert [one["verdict"]["state"] for one in again] == ["clear", "clear", "flagged", "clear"]
    assert again[2]["verdict"]["accepted"] is True


def test_a_progress_bar_tells_how_far_the_looking_is(folder: Path) -> None:
    class Screen(io.StringIO):
        """What a bar is drawn on: click draws none where nobody looks."""

        def isatty(self) -> bool:
            return True

    screen = Screen()
    with (
        contextlib.redirect_stderr(screen),
        contextlib.redirect_stdout(io.StringIO()),
        pytest.raises(SystemExit, match="0"),
    ):
        main(["check", "--library", str(folder), "cork wakes"], standalone_mode=False)
    assert re.search(r"verdicts\s+\[#+\]\s+100%", screen.getvalue())


def test_without_a_shot_only_the_files_are_checked(folder: Path) -> None:
    result = run("--library", str(folder))
    assert result.exit_code == 0
    assert "4 originals" in result.stdout
    assert "as it was kept" in result.stdout
    assert "exposures" not in found(folder)


def test_an_altered_and_a_missing_file_are_named_and_end_with_1(folder: Path) -> None:
    files = sorted((folder / "shots").glob("*/*.jpg"))
    files[1].write_bytes(files[1].read_bytes()[:-1] + b"x")
    files[3].unlink()
    result = run("--library", str(folder), "cork wakes")
    assert result.exit_code == 1
    assert f"{files[1].name}: altered" in result.stdout
    assert f"{files[3].name}: missing" in result.stdout
    assert "4 exposures looked at" in result.stdout


def test_an_unknown_shot_is_told_in_a_sentence(folder: Path) -> None:
    result = run("--library", str(folder), "no such shot")
    assert result.exit_code == 1
    assert "There is no shot" in result.output
