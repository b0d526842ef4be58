"""The command line: every command explains itself, speaks JSON, and fails with a sentence."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from standclear.cli import main
from standclear.clock import SystemClock
from standclear.finishing.formats import FORMATS
from standclear.library.library import Library
from tests.library_kit import keep


def run(*words: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    done = CliRunner().invoke(main, list(words))
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A library with one shot of three exposures."""
    with Library.open(tmp_path / "library", SystemClock()) as library:
        shot = library.create_shot("cork wakes").id
        for _ in range(3):
            keep(library, shot)
    return tmp_path / "library"


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_explains_itself(name: str) -> None:
    code, out, _ = run(name, "--help")
    assert code == 0
    assert len(out.splitlines()) > 5
    assert main.commands[name].help


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_speaks_json_and_shows_how_it_is_used(name: str) -> None:
    page = run(name, "--help")[1]
    assert "--json" in page
    assert f"standclear {name}" in page.split("Examples:")[1]
    assert re.search(r"Exit status:\n\s+0  \S+", page)


def test_the_first_page_names_every_command_and_how_to_begin() -> None:
    page = run("--help")[1]
    assert "standclear rehearse" in page.split("Examples:")[1]
    assert all(re.search(rf"^  {name}\b", page, re.MULTILINE) for name in main.commands)


def test_what_is_mistyped_is_understood_nearly() -> None:
    assert "'serve'" in run("serv")[2]
    assert "--library" in run("check", "--librari", "x")[2]
    code, _, err = run("serve", "--port", "99999")
    assert code == 2
    assert "--port" in err
    assert "65535" in err


@pytest.mark.parametrize(
    ("shell", "says"), [("bash", "complete -o"), ("zsh", "#compdef"), ("fish", "complete --")]
)
def test_the_shell_is_given_what_it_completes_with(shell: str, says: str) -> None:
    code, out, _ = run("completion", shell)
    assert code == 0
    assert says in out
    assert json.loads(run("completion", shell, "--json")[1])["shell"] == shell


def completed(*words: str) -> list[str]:
    """What bash is offered after these words, the last of them begun (click's own protocol)."""
    env = {"_STANDCLEAR_COMPLETE": "bash_complete", "COMP_CWORD": str(len(words))}
    env["COMP_WORDS"] = " ".join(["standclear", *words])
    done = CliRunner().invoke(main, [], env=env, prog_name="standclear")
    return [line.split(",", 1)[1] for line in done.stdout.splitlines()]


def test_the_shell_completes_commands_options_and_formats() -> None:
    assert completed("re") == ["recover", "rehearse"]
    assert "--library" in completed("check", "--li")
    assert set(completed("export", "cork", "--format", "")) == set(FORMATS)


def test_pair_shows_six_digits_and_token_a_token(folder: Path) -> None:
    code, out, _ = run("pair", "--library", str(folder), "--json")
    assert code == 0
    assert len(json.loads(out)["code"]) == 6
    code, out, _ = run("token", "--library", str(folder))
    assert code == 0
    assert len(out.strip()) > 30


def test_recover_rebuilds_a_library_whose_database_is_gone(folder: Path) -> None:
    for path in folder.glob("library.db*"):
        path.unlink()
    code, out, err = run("recover", "--library", str(folder), "--json")
    assert code == 0, err
    assert json.loads(out)["exposures"] == 3
    with Library.open(folder, SystemClock()) as library:
        assert library.shots().items[0].name == "cork wakes"


def test_recover_of_what_is_no_library_says_so(tmp_path: Path) -> None:
    code, _, err = run("recover", "--library", str(tmp_path))
    assert code != 0
    assert "no library here" in err
    assert "Traceback" not in err


def test_export_makes_a_file_by_name(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "sheet.csv"
    words = ("export", "cork wakes", str(target), "--library", str(folder), "--format", "csv")
    code, out, err = run(*words, "--json")
    assert code == 0, err
    assert json.loads(out)["frames"] == 3
    assert target.exists()


@pytest.mark.parametrize(
    "words",
    [
        ("nobody", "--format", "csv"),
        ("cork wakes", "--format", "betamax"),
        ("cork wakes", "--options", "["),
    ],
)
def test_export_fails_with_a_sentence(folder: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    shot, *more = words
    code, _, err = run("export", shot, str(tmp_path / "x"), "--library", str(folder), *more)
    assert code != 0
    assert err.startswith(("Error:", "frames")) or "Error:" in err
    assert not (tmp_path / "x").exists()


def test_doctor_names_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("not a folder")
    code, out, _ = run("doctor", "--library", str(file / "library"))
    assert code == 1
    assert "fault" in out
