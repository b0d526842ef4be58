"""Opening: one service at a time, older and newer databases, damage, what a crash left behind."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import psutil
import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from standclear.clock import SystemClock
from standclear.errors import StandclearError
from standclear.library import migrate
from standclear.library.check import check
from standclear.library.desk import Desk
from standclear.library.library import Library
from standclear.library.schema import Base
from tests.library_kit import BEGIN, SetClock, keep, opened, order, texts

HOLD = """
import sys
from pathlib import Path
from standclear.clock import SystemClock
from standclear.library.library import Library
library = Library.open(Path(sys.argv[1]), SystemClock())
print("held", flush=True)
sys.stdin.read()
"""


def code_of_opening(folder: Path) -> tuple[str, int]:
    with pytest.raises(StandclearError) as refused:
        opened(folder)
    return refused.value.code, refused.value.status


def test_what_was_kept_is_there_after_closing_and_opening(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        one, two = keep(library, shot.id, "a"), keep(library, shot.id, "b")
        library.bin_exposure(shot.id, one)
        before = library.shot(shot.id)
    with opened(tmp_path) as library:
        assert library.shot(shot.id) == before
        assert order(library, shot.id) == [two]
        library.undo(shot.id)
        assert texts(library, shot.id) == ["a", "b"]


def test_a_second_service_is_told_and_a_killed_one_holds_nothing(tmp_path: Path) -> None:
    command = [sys.executable, "-c", HOLD, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"held\n"
        assert code_of_opening(tmp_path) == ("library_in_use", 409)
        os.kill(holder.pid, signal.SIGKILL)
        holder.wait()
    opened(tmp_path).close()


def test_the_same_process_cannot_open_it_twice(tmp_path: Path) -> None:
    with opened(tmp_path):
        assert code_of_opening(tmp_path) == ("library_in_use", 409)
    opened(tmp_path).close()


def test_opening_fifty_times_leaves_threads_and_files_as_they_were(tmp_path: Path) -> None:
    opened(tmp_path).close()
    files = psutil.Process().num_fds()
    threads = psutil.Process().num_threads()
    for _ in range(50):
        opened(tmp_path).close()
    assert psutil.Process().num_fds() == files
    assert psutil.Process().num_threads() == threads


def test_a_closed_library_says_so(tmp_path: Path) -> None:
    library = opened(tmp_path)
    shot = library.create_shot("Cork").id
    library.close()
    library.close()
    for use in (library.shots, lambda: keep(library, shot), lambda: library.create_shot("B")):
        with pytest.raises(StandclearError) as refused:
            use()
        assert refused.value.code == "library_closed"


def test_the_first_version_and_the_models_agree(tmp_path: Path) -> None:
    opened(tmp_path).close()
    engine = create_engine(f"sqlite:///{tmp_path / 'library.db'}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, Base.metadata) == []
    engine.dispose()
    config = Config()
    config.set_main_option("script_location", str(migrate.MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_heads() == [migrate.HEAD]


def test_a_commit_is_flushed_before_it_returns(tmp_path: Path) -> None:
    """SQLite's own words: in WAL mode, FULL (2) syncs the log after each transaction
    (https://sqlite.org/pragma.html#pragma_synchronous)."""
    with opened(tmp_path) as library, library._parts.database.write() as write:
        ask = write.connection.exec_driver_sql
        assert ask("PRAGMA journal_mode").scalar() == "wal"
        assert ask("PRAGMA synchronous").scalar() == 2
        assert ask("PRAGMA foreign_keys").scalar() == 1


def test_a_newer_database_is_refused_and_untouched(tmp_path: Path) -> None:
    opened(tmp_path).close()
    path = tmp_path / "library.db"
    set_version(path, "9999")
    before = path.read_bytes()
    assert code_of_opening(tmp_path) == ("library_newer", 409)
    assert path.read_bytes() == before
    with pytest.raises(StandclearError):
        Desk.open(tmp_path, SystemClock())


def test_the_check_of_an_older_library_says_how_it_becomes_a_present_one(tmp_path: Path) -> None:
    opened(tmp_path).close()
    set_version(tmp_path / "library.db", "0001")
    with pytest.raises(StandclearError, match="upgraded") as refused:
        check(tmp_path)
    assert refused.value.code == "library_older"


def test_an_older_database_is_copied_then_upgraded(tmp_path: Path) -> None:
    with opened(tmp_path / "lib") as library:
        shot = library.create_shot("Cork")
    path, scripts = tmp_path / "lib" / "library.db", newer_scripts(tmp_path / "scripts")
    migrate.prepare(path, tmp_path / "lib" / "shots", BEGIN, scripts)
    (backup,) = path.parent.glob("*.backup.db")
    assert columns(path) == columns(backup) | {"added_later"}
    assert migrate.version_of(path) == "9999"
    assert migrate.version_of(backup) == migrate.HEAD
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT id FROM shots").fetchall() == [(shot.id,)]
    connection.close()


def test_an_upgrade_that_fails_leaves_the_database_as_it_was(tmp_path: Path) -> None:
    opened(tmp_path / "lib").close()
    path = tmp_path / "lib" / "library.db"
    before = columns(path)
    scripts = newer_scripts(tmp_path / "scripts", "op.execute('SELECT no_such_thing')")
    with pytest.raises(StandclearError):
        migrate.prepare(path, tmp_path / "lib" / "shots", BEGIN, scripts)
    assert columns(path) == before
    opened(tmp_path / "lib").close()


def newer_scripts(folder: Path, then: str = "") -> Path:
    (folder / "versions").mkdir(parents=True)
    (folder / "env.py").write_text((migrate.MIGRATIONS / "env.py").read_text())
    for known in (migrate.MIGRATIONS / "versions").glob("v*.py"):
        (folder / "versions" / known.name).write_text(known.read_text())
    (folder / "versions" / "v9999_later.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision, down_revision = '9999', '{migrate.HEAD}'\n"
        "def upgrade():\n"
        "    op.add_column('shots', sa.Column('added_later', sa.Text()))\n"
        f"    {then}\n"
    )
    return folder


def columns(path: Path) -> set[str]:
    connection = sqlite3.connect(path)
    names = {row[1] for row in connection.execute("PRAGMA table_info(shots)")}
    connection.close()
    return names


def set_version(path: Path, version: str) -> None:
    connection = sqlite3.connect(path)
    with connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (version,))
    connection.close()


@pytest.mark.parametrize("damage", ["no database", "cut short", "empty", "gone", "other database"])
def test_damage_is_told_with_the_way_out_and_nothing_is_changed(
    tmp_path: Path, damage: str
) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        keep(library, shot.id)
        for n in range(20):
            library.put_setting(f"s{n}", "x" * 2000)
    path = tmp_path / "library.db"
    inflict(damage, path)
    before = path.read_bytes() if path.exists() else None
    with pytest.raises(StandclearError, match="standclear recover") as refused:
        opened(tmp_path)
    assert (refused.value.code, refused.value.status) == ("library_damaged", 500)
    assert (path.read_bytes() if path.exists() else None) == before
    assert [p.read_text() for p in (tmp_path / "shots").glob("*/*.jpg")] == ["cork"]


def inflict(damage: str, path: Path) -> None:
    data = path.read_bytes()
    if damage == "gone":
        path.unlink()
    elif damage == "other database":
        path.unlink()
        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE recipes (cork TEXT)")
        connection.close()
    else:
        path.write_bytes(
            {"no database": b"cork" * 5000, "cut short": data[: len(data) // 2], "empty": b""}[
                damage
            ]
        )


def test_an_old_copy_of_the_database_is_noticed(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
    old = (tmp_path / "library.db").read_bytes()
    with opened(tmp_path) as library:
        keep(library, shot.id)
    (tmp_path / "library.db").write_bytes(old)
    assert code_of_opening(tmp_path)[0] == "library_damaged"
    assert len(list((tmp_path / "shots").glob("*/*.jpg"))) == 1


def test_half_files_go_and_whole_ones_without_a_record_are_set_aside(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        keep(library, shot.id)
    place = tmp_path / "shots" / shot.folder
    (place / ".cork_000002.jpg.part").write_bytes(b"half")
    (place / "cork_000002.jpg").write_bytes(b"whole")
    (place / "notes from the set.txt").write_text("stays")
    with opened(tmp_path) as library:
        assert library.swept.half_files == (f"{shot.folder}/.cork_000002.jpg.part",)
        assert library.unclaimed() == [place / "unclaimed" / "cork_000002.jpg"]
        assert library.unclaimed()[0].read_bytes() == b"whole"
        assert library.shot(shot.id).exposure_count == 1
        assert not (place / "cork_000002.jpg").exists()
        assert not (place / ".cork_000002.jpg.part").exists()
        assert (place / "notes from the set.txt").read_text() == "stays"
        kept = library.exposure(shot.id, keep(library, shot.id))
        assert kept.originals[0].name == "cork_000003.jpg"
    with opened(tmp_path) as library:
        assert library.swept.half_files == library.swept.unclaimed == library.swept.missing == ()


def test_a_first_opening_that_was_killed_can_be_begun_again(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "library.db")
    connection.execute("PRAGMA journal_mode=WAL")
    connection.close()
    assert (tmp_path / "library.db").stat().st_size > 0
    with opened(tmp_path) as library:
        library.create_shot("Cork")


def test_a_recorded_original_that_was_set_aside_comes_back(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork").id
        path = library.original_path(shot, keep(library, shot, "a"))
        library._parts.store.set_aside(path.parent.name, [path.name])
        assert not path.exists()
    with opened(tmp_path) as library:
        assert texts(library, shot) == ["a"]
        assert library.unclaimed() == []
        assert library.swept.missing == ()


def test_an_original_that_somebody_took_away_is_told(tmp_path: Path) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        path = library.original_path(shot.id, keep(library, shot.id))
    path.unlink()
    with opened(tmp_path) as library:
        assert library.swept.missing == (f"{shot.folder}/{path.name}",)
        assert library.shot(shot.id).exposure_count == 1


def test_settings_and_sessions_can_be_used_beside_a_running_service(tmp_path: Path) -> None:
    clock = SetClock()
    with opened(tmp_path, clock=clock) as library, Desk.open(tmp_path, clock) as desk:
        desk.put_setting("camera", {"id": "rehearsal"})
        assert library.setting("camera") == {"id": "rehearsal"}
        assert library.setting("unknown") is None
        clock.advance(hours=1)
        desk.add_session("hash", "phone", clock.now())
        assert library.session("hash") is None
        clock.advance(hours=-1)
        assert library.session("hash").name == "phone"  # type: ignore[union-attr]
        library.remove_session("hash")
        assert desk.sessions() == []


def test_the_desk_makes_a_library_where_there_is_none(tmp_path: Path) -> None:
    with Desk.open(tmp_path / "new") as desk:
        desk.put_setting("a", [1, None, "é"])
    with Library.open(tmp_path / "new", SystemClock()) as library:
        assert library.setting("a") == [1, None, "é"]


def test_a_library_may_lie_in_a_folder_of_any_name(tmp_path: Path) -> None:
    folder = tmp_path / "my films 100%25?mode=ro#é ☕" / "'; --"
    for _ in range(2):
        with opened(folder) as library:
            keep(library, library.create_shot("Cork").id)
    assert (folder / "library.db").is_file()
    with Desk.open(folder) as desk:
        desk.put_setting("a", 1)


def test_a_writer_has_the_database_to_itself_from_the_start_and_readers_go_on(
    tmp_path: Path,
) -> None:
    with opened(tmp_path) as library:
        shot = library.create_shot("Cork")
        other = sqlite3.connect(tmp_path / "library.db", timeout=0, isolation_level=None)
        with library._parts.database.write():
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                other.execute("BEGIN IMMEDIATE")
            assert library.shot(shot.id) == shot
        other.execute("BEGIN IMMEDIATE")
        other.close()


def test_what_a_killed_write_left_half_done_is_taken_back_before_reading(tmp_path: Path) -> None:
    """A hot rollback journal (https://sqlite.org/lockingv3.html#hot_journals): a database that
    died while it was being made can only be read after it was rolled back."""
    with opened(tmp_path / "lib") as library:
        shot = library.create_shot("Cork")
    path = tmp_path / "lib" / "library.db"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=DELETE")
    connection.execute("PRAGMA cache_size=1")
    connection.execute("BEGIN")
    for n in range(200):
        connection.execute("INSERT INTO settings VALUES (?, ?)", (f"s{n}", '"x"' * 500))
    assert path.with_name("library.db-journal").stat().st_size > 0
    shutil.copytree(tmp_path / "lib", tmp_path / "killed")
    connection.close()
    with opened(tmp_path / "killed") as library:
        assert library.shot(shot.id).name == "Cork"
        assert library.setting("s1") is None
