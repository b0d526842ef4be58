"""The second copy against real servers: SFTP (asyncssh) and an S3-compatible store (moto).

What lies there is read past our own code: from the SFTP server's folder, and through another
client of S3 (boto3).
"""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import boto3
import pytest

from standclear.library.mirror.address import parse
from standclear.library.mirror.check import check_copy
from standclear.library.mirror.fetch import fetch
from standclear.library.mirror.place import place_at
from standclear.library.recover import recover
from tests.library_kit import IN_MEMORY, SetClock, keep, opened, order, texts
from tests.mirror_kit import mirror_to, originals_under, settle
from tests.second_places import S3Server, SftpServer


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        yield Path(folder)


@pytest.fixture
def sftp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SftpServer]:
    (tmp_path / "served" / "copy").mkdir(parents=True)
    server = SftpServer(tmp_path / "served", tmp_path / "home")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("SSH_AUTH_SOCK", raising=False)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def s3(monkeypatch: pytest.MonkeyPatch) -> Iterator[S3Server]:
    server = S3Server()
    for name, value in server.environment.items():
        monkeypatch.setenv(name, value)
    server.start()
    server.make_bucket()
    yield server
    server.stop()


def stored(s3: S3Server, name: str) -> bytes:
    client = boto3.client("s3", endpoint_url=s3.url)
    found = client.get_object(Bucket=s3.BUCKET, Key=f"copy/{name}")["Body"].read()
    client.close()
    return bytes(found)


def test_sftp_holds_every_byte_and_survives_the_server_going_away(
    tmp_path: Path, sftp: SftpServer
) -> None:
    clock = SetClock()
    with opened(tmp_path / "library", clock=clock) as library:
        shot = library.create_shot("Cork").id
        mirror = mirror_to(library, sftp.address, clock)
        keep(library, shot, "one")
        settle(mirror, clock)
        assert mirror.state().state == "in_step", mirror.state().says
        sftp.stop()
        for n in range(5):
            keep(library, shot, f"while away {n}")
        settle(mirror, clock, 600)
        state = mirror.state()
        assert (state.state, state.waiting_exposures) == ("away", 5), state.says
        assert "127.0.0.1" in state.says
        clock.advance(seconds=3600)
        assert mirror.state().lag_s >= 3600
        sftp.start()
        settle(mirror, clock)
        assert mirror.state().state == "in_step", mirror.state().says
        here = originals_under(library.folder)
        report = check_copy(library.copies, place_at(parse(sftp.address)))
        assert (report.well, report.originals) == (True, 6)
    assert originals_under(sftp.folder / "copy") == here
    assert not list(sftp.folder.rglob("*.part"))


def test_a_library_is_made_from_the_copy_on_the_sftp_server_alone(
    tmp_path: Path, sftp: SftpServer
) -> None:
    clock = SetClock()
    with opened(tmp_path / "library", clock=clock) as library:
        shot = library.create_shot("Cork", frame_rate="25").id
        for text in "abc":
            keep(library, shot, text)
        library.bin_exposure(shot, order(library, shot)[0])
        library.change_exposure(shot, order(library, shot)[0], hold=4)
        settle(mirror_to(library, sftp.address, clock), clock)
        expected = order(library, shot)
    fetched = fetch(place_at(parse(sftp.address)), tmp_path / "again")
    assert fetched.originals == 3
    report = recover(tmp_path / "again", clock)
    assert report.altered == report.missing == report.appended == ()
    with opened(tmp_path / "again", clock=clock) as library:
        assert order(library, shot) == expected
        assert texts(library, shot) == ["b", "c"]
        assert library.shot(shot).frame_rate == "25"
        assert library.exposure(shot, expected[0]).hold == 4
        mirror = mirror_to(library, sftp.address, clock)
        settle(mirror, clock)
        assert mirror.state().state == "in_step", "and it goes on with the copy it came from"


def test_a_server_whose_key_is_unknown_gets_nothing(tmp_path: Path, sftp: SftpServer) -> None:
    clock = SetClock()
    sftp.forget_host_key()
    with opened(tmp_path / "library", clock=clock) as library:
        mirror = mirror_to(library, sftp.address, clock)
        mirror.work()
        assert mirror.state().state == "fault"
        assert "key" in mirror.state().says
    assert list((sftp.folder / "copy").iterdir()) == []


def test_a_stranger_is_not_let_in_and_that_is_said(tmp_path: Path, sftp: SftpServer) -> None:
    clock = SetClock()
    (tmp_path / "home" / ".ssh" / "id_ed25519").unlink()
    with opened(tmp_path / "library", clock=clock) as library:
        mirror = mirror_to(library, sftp.address.replace("cork@", "cork:hush@"), clock)
        mirror.work()
        assert mirror.state().state == "fault"
        assert "does not let us in" in mirror.state().says
        assert "hush" not in repr(mirror.state())


def test_a_store_holds_every_byte_and_is_caught_up_with(tmp_path: Path, s3: S3Server) -> None:
    clock = SetClock()
    with opened(tmp_path / "library", clock=clock) as library:
        shot = library.create_shot("Cork").id
        mirror = mirror_to(library, s3.address, clock)
        keep(library, shot, "one")
        settle(mirror, clock)
        assert mirror.state().state == "in_step", mirror.state().says
        here = originals_under(library.folder)
        assert {name: stored(s3, name) for name in here} == here
        s3.stop()
        for n in range(3):
            keep(library, shot, f"while away {n}")
        settle(mirror, clock, 600)
        state = mirror.state()
        assert (state.state, state.waiting_exposures) == ("away", 3), state.says
        assert "hush" not in repr(state)
        clock.advance(seconds=3600)
        # This store forgets when it is switched off: another one, that must be said to be meant.
        s3.start()
        s3.make_bucket()
        settle(mirror, clock)
        assert mirror.state().state == "fault"
        mirror.begin_anew()
        settle(mirror, clock)
        assert mirror.state().state == "in_step", mirror.state().says
        here = originals_under(library.folder)
        assert {name: stored(s3, name) for name in here} == here
        assert check_copy(library.copies, place_at(parse(s3.address))).well
    fetched = fetch(place_at(parse(s3.address)), tmp_path / "again")
    assert fetched.originals == 4
    assert recover(tmp_path / "again", clock).appended == ()
    assert originals_under(tmp_path / "again") == here


def test_a_store_that_does_not_let_us_in_or_has_no_bucket_is_told(
    tmp_path: Path, s3: S3Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = SetClock()
    with opened(tmp_path / "library", clock=clock) as library:
        mirror = mirror_to(library, "s3://no-such-bucket/copy", clock)
        mirror.work()
        assert mirror.state().state == "away"
        assert "no-such-bucket" in mirror.state().says
        for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
            monkeypatch.delenv(name)
        monkeypatch.setenv("AWS_SHARED_CREDENTIALS_FILE", str(tmp_path / "none"))
        monkeypatch.setenv("AWS_CONFIG_FILE", str(tmp_path / "none"))
        mirror = mirror_to(library, s3.address, clock)
        mirror.work()
        assert mirror.state().state in {"fault", "away"}
        assert len(mirror.state().says) > 20
