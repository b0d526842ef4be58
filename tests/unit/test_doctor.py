"""`standclear doctor`: each thing that can be wrong with a machine is named, with what to do."""

import http.server
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from click.testing import CliRunner

from standclear.cameras.base import Identity
from standclear.cli import main
from standclear.commands.looks import cameras, copy, disk, network, time
from standclear.commands.looks.finding import Finding
from standclear.secure.authority import load_or_make
from standclear.secure.names import own_names
from tests.library_kit import IN_MEMORY, SetClock, keep, opened
from tests.mirror_kit import mirror_to, settle


def only(findings: Iterator[Finding]) -> Finding:
    (found,) = findings
    assert len(found.says) > 10
    return found


def test_it_looks_at_everything_and_changes_nothing(tmp_path: Path) -> None:
    opened(tmp_path / "library").close()
    before = sorted(tmp_path.rglob("*"))
    words = ["doctor", "--library", str(tmp_path / "library"), "--port", "0", "--json"]
    words += ["--certificates", str(tmp_path / "none"), "--mirror", str(tmp_path)]
    done = CliRunner().invoke(main, words)
    found = {one["about"]: one for one in json.loads(done.stdout)}
    assert set(found) >= {
        "library", "database", "room", "disk", "clock", "port", "network", "certificate",
        "second copy", "other programs", "cameras",
    }  # fmt: skip
    assert found["library"]["state"] == found["database"]["state"] == "well"
    assert sorted(tmp_path.rglob("*")) == before


# -- disk ------------------------------------------------------------------------------------


@pytest.mark.skipif(os.geteuid() != 0, reason="needs root to become somebody else")
def test_a_library_that_belongs_to_another_user_is_named() -> None:
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        Path(folder).chmod(0o755)
        _told_to_a_stranger(Path(folder))


def _told_to_a_stranger(tmp_path: Path) -> None:
    opened(tmp_path / "library").close()
    for path in (tmp_path / "library").rglob("*"):
        path.chmod(0o700 if path.is_dir() else 0o600)
    script = (
        "import os, sys; from pathlib import Path; from standclear.commands.looks import disk; "
        "os.setgid(65534); os.setuid(65534); "
        "print(*[one.state + ' ' + one.says for one in disk.folder(Path(sys.argv[1]))])"
    )
    (tmp_path / "library").chmod(0o755)
    told = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "library")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert told.stdout.startswith("fault")
    assert "belongs to root" in told.stdout
    assert "chown" in told.stdout


def test_a_file_where_the_folder_should_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert only(disk.folder(tmp_path / "file" / "library")).state == "fault"
    assert only(disk.folder(tmp_path / "new" / "library")).says.endswith("will be made.")


@pytest.mark.parametrize(
    ("free", "state"), [(10**12, "well"), (3 * 10**9, "warning"), (10**8, "fault")]
)
def test_little_room_is_told_in_pictures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, state: str
) -> None:
    usage = shutil._ntuple_diskusage(10**13, 0, free)  # type: ignore[attr-defined]
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)
    found = only(disk.room(tmp_path))
    assert found.state == state
    assert f"{free // 8_000_000} pictures" in found.says


def test_a_slow_and_a_failing_disk_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ticks = iter([0.0, 2.0])
    monkeypatch.setattr(disk.time, "monotonic", lambda: next(ticks))
    found = only(disk.speed(tmp_path))
    assert (found.state, "2000 ms" in found.says) == ("warning", True)
    assert list(tmp_path.iterdir()) == []

    def broken(_: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(disk.time, "monotonic", lambda: 0.0)
    monkeypatch.setattr(disk.os, "fsync", broken)
    assert only(disk.speed(tmp_path)).state == "fault"


@pytest.mark.parametrize(
    ("damage", "state", "word"),
    [("none", "well", "Whole"), ("gone", "fault", "recover"), ("damaged", "fault", "recover"),
     ("old", "warning", "upgraded")],
)  # fmt: skip
def test_a_database_that_cannot_be_opened_is_told(
    tmp_path: Path, damage: str, state: str, word: str
) -> None:
    with opened(tmp_path) as library:
        keep(library, library.create_shot("Cork").id)
    path = tmp_path / "library.db"
    if damage == "gone":
        path.unlink()
    elif damage == "damaged":
        path.write_bytes(b"cork" * 4000)
    elif damage == "old":
        import sqlite3

        with sqlite3.connect(path) as connection:
            connection.execute("UPDATE alembic_version SET version_num = '0001'")
        connection.close()
    found = only(disk.database(tmp_path))
    assert (found.state, word in found.says) == (state, True)


# -- clock -----------------------------------------------------------------------------------


def test_a_clock_that_was_never_set_or_was_set_back_is_told(tmp_path: Path) -> None:
    clock = SetClock()
    with opened(tmp_path, clock=clock) as library:
        keep(library, library.create_shot("Cork").id)
    assert only(time.clock(tmp_path, clock)).state == "well"
    clock.advance(hours=-1)
    found = only(time.clock(tmp_path, clock))
    assert found.state == "warning"
    assert "1:00:00 behind" in found.says
    assert only(time.clock(tmp_path, SetClock(datetime(1970, 1, 2, tzinfo=UTC)))).state == "fault"
    assert only(time.clock(tmp_path / "none", SetClock())).state == "well"


# -- network ---------------------------------------------------------------------------------


class _Answers(http.server.BaseHTTPRequestHandler):
    body = b""

    def do_GET(self) -> None:
        self.send_response(200)
        self.end_headers()
        self.wfile.write(self.body)

    def log_message(self, *_: object) -> None:
        pass


@pytest.mark.parametrize(
    ("body", "state", "word"),
    [(b'{"status": "well", "version": "1"}', "well", "Standclear"), (b"hello", "fault", "another")],
)
def test_who_has_the_port_is_told(body: bytes, state: str, word: str) -> None:
    handler = type("Handler", (_Answers,), {"body": body})
    with http.server.HTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        found = only(network.port(server.server_port))
        server.shutdown()
        thread.join()
    assert (found.state, word in found.says) == (state, True)


def test_a_free_port_and_a_mute_one_are_told() -> None:
    with socket.socket() as mute:
        mute.bind(("127.0.0.1", 0))
        number = mute.getsockname()[1]
        assert only(network.port(number)).state == "fault"
    assert only(network.port(number)).state == "well"


def test_no_network_is_told() -> None:
    assert only(network.address("127.0.0.1")).state == "warning"
    assert "192.0.2.7" in only(network.address("192.0.2.7")).says


def test_the_certificate_is_looked_at(tmp_path: Path) -> None:
    clock = SetClock()
    assert only(network.certificate(tmp_path, clock, secure=True)).state == "well"
    load_or_make(tmp_path, own_names(), clock.now(), timedelta(days=1))
    assert "valid until" in only(network.certificate(tmp_path, clock, secure=True)).says
    early = SetClock(clock.time - timedelta(days=30))
    assert only(network.certificate(tmp_path, early, secure=True)).state == "fault"
    late = SetClock(clock.time + timedelta(days=3640))
    assert "told to trust" in only(network.certificate(tmp_path, late, secure=True)).says
    (tmp_path / "authority.pem").write_text("damaged")
    found = only(network.certificate(tmp_path, clock, secure=True))
    assert (found.state, "Move it away" in found.says) == ("fault", True)


# -- the second copy -------------------------------------------------------------------------


def test_the_place_of_the_second_copy_is_looked_at(tmp_path: Path) -> None:
    here, there, clock = tmp_path / "library", tmp_path / "copy", SetClock()
    assert only(copy.second_copy(here, "")).state == "warning"
    assert only(copy.second_copy(here, str(there))).state == "fault"
    there.mkdir()
    assert "will be begun" in only(copy.second_copy(here, str(there))).says
    with opened(here, clock=clock) as library:
        settle(mirror_to(library, there, clock), clock)
    assert only(copy.second_copy(here, str(there))).state == "well"
    (here / "library.id").write_text("another")
    assert "another library" in only(copy.second_copy(here, str(there))).says
    assert only(copy.second_copy(here, str(here / "copy"))).state == "fault"


# -- cameras ---------------------------------------------------------------------------------


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """A made up /sys, /dev and /proc with a still camera (and a mouse) on the cable."""
    files = {
        "sys/1-2/product": "Still Camera", "sys/1-2/busnum": "1", "sys/1-2/devnum": "4",
        "sys/1-2:1.0/bInterfaceClass": "06", "sys/1-3/product": "Mouse", "sys/1-3/busnum": "1",
        "sys/1-3/devnum": "5", "sys/1-3:1.0/bInterfaceClass": "03", "dev/001/004": "",
        "dev/001/005": "", "proc/77/comm": "photos", "proc/78/comm": "gvfs-gphoto2-vo",
        "proc/self/comm": "x",
    }  # fmt: skip
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text + "\n")
    for process in ("77", "78"):
        (tmp_path / "proc" / process / "fd").mkdir()
    return tmp_path


def grabbed(machine: Path) -> list[Finding]:
    return list(cameras.grabbed(machine / "sys", machine / "dev", machine / "proc"))


def test_the_program_that_holds_the_camera_is_named(machine: Path) -> None:
    (machine / "proc" / "77" / "fd" / "3").symlink_to(machine / "dev" / "001" / "005")
    (machine / "proc" / "77" / "fd" / "9").symlink_to(machine / "dev" / "001" / "004")
    (found,) = grabbed(machine)
    assert found.state == "fault"
    assert "Still Camera is held by photos" in found.says
    assert "process 77" in found.says


def test_the_volume_monitor_is_named_with_what_to_do(machine: Path) -> None:
    (found,) = grabbed(machine)
    assert found.state == "warning"
    assert "gvfs-gphoto2-volume-monitor" in found.says
    (machine / "proc" / "78" / "fd" / "9").symlink_to(machine / "dev" / "001" / "004")
    (found,) = grabbed(machine)
    assert found.state == "fault"
    assert "eject the camera" in found.says
    shutil.rmtree(machine / "proc" / "78")
    (found,) = grabbed(machine)
    assert found.state == "well"


def test_a_camera_that_may_not_be_used_is_named(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = (machine / "sys", machine / "dev")
    assert only(cameras.rights(*looks)).state == "well"
    node = machine / "dev" / "001" / "004"
    monkeypatch.setattr(cameras.os, "access", lambda path, _mode: path != node)
    found = only(cameras.rights(*looks))
    assert found.state == "fault"
    assert "60-standclear-camera.rules" in found.says
    rules = Path(__file__).resolve().parents[2] / "deploy" / "60-standclear-camera.rules"
    assert rules.exists()
    shutil.rmtree(machine / "sys")
    assert list(cameras.rights(*looks)) == []


def test_no_camera_is_told_and_one_is_named() -> None:
    assert only(cameras.cameras(list)).state == "warning"
    one = Identity("webcam:0", "webcam", "Lens")
    assert only(cameras.cameras(lambda: [one])).says == "Lens (webcam:0)"
