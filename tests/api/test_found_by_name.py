"""The service shows an address that a phone can reach, and notices when it has another.

In a network namespace of the test's own, with a cable whose address is changed.
"""

import os
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from standclear.nearby.door import addresses
from tests.service import ServiceProcess
from tests.waiting import until

Run = Callable[..., None]


@pytest.fixture
def namespace() -> Iterator[tuple[tuple[str, ...], Run]]:
    """What to put before a command, and a way to run `ip` inside."""
    if os.geteuid() != 0 or shutil.which("ip") is None:
        pytest.skip("a network namespace needs root and `ip` (Debian's package iproute2)")
    name = f"standclear-door-{os.getpid()}"
    made = subprocess.run(["ip", "netns", "add", name], capture_output=True, check=False)
    if made.returncode:
        pytest.skip(f"no network namespace here: {made.stderr.decode().strip()}")
    inside = ("ip", "netns", "exec", name)

    def ip(*words: str) -> None:
        subprocess.run([*inside, "ip", *words], check=True, capture_output=True)

    try:
        ip("link", "set", "lo", "up")
        ip("link", "add", "name", "set0", "type", "veth", "peer", "name", "set1")
        ip("link", "set", "set0", "up")
        ip("link", "set", "set1", "up")
        yield inside, ip
    finally:
        subprocess.run(["ip", "netns", "del", name], check=False)


def test_a_change_of_address_is_noticed_printed_and_announced(
    namespace: tuple[tuple[str, ...], Run], tmp_path: Path
) -> None:
    inside, ip = namespace
    ip("addr", "add", "10.77.0.5/24", "dev", "set0")
    everywhere = ("--host", "0.0.0.0")
    with ServiceProcess(tmp_path / "library", "rehearsal", *everywhere, prefix=inside) as service:
        assert service.find(r"Open (http://\S+?):\d+ on the phone") == "http://10.77.0.5"
        first = service.code()
        service.find(r"found by name as: (Standclear on \S+)")
        ip("addr", "del", "10.77.0.5/24", "dev", "set0")
        service.find(r"(has left its network)")
        ip("addr", "add", "10.78.0.9/24", "dev", "set0")
        service.find(r"(has another address now)")
        service.find(r"Open (http://10\.78\.0\.9:\d+) on the phone")
        until(lambda: len(re.findall(r"pairing code: [\d ]+", service.output())) == 2)
        assert service.output().rpartition("pairing code: ")[2][:7].replace(" ", "") != first


def test_alone_on_its_own_address_nothing_is_announced(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        service.code()
        service.stop()
        assert "found by name" not in service.output()


def test_a_wildcard_is_shown_as_the_address_that_a_phone_can_reach() -> None:
    found = addresses("0.0.0.0", 8422, ["192.168.1.20", "fd12::5"])
    assert found.listening == "http://127.0.0.1:8422"
    assert found.phone == "http://192.168.1.20:8422"
    assert found.others == ("http://[fd12::5]:8422",)


def test_an_address_that_was_asked_for_is_shown_as_it_is() -> None:
    found = addresses("192.168.1.9", 80, ["192.168.1.20"], secure=True)
    assert (found.listening, found.phone) == ("https://192.168.1.9:80", "http://192.168.1.9:80")


def test_without_a_network_this_machine_alone_is_left() -> None:
    assert addresses("0.0.0.0", 8422, []).phone == "http://127.0.0.1:8422"
