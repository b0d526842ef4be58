"""Found by name and at the right address. The announcement is read from the wire by dnspython.

RFC 6762 (Multicast DNS), RFC 6763 (DNS-Based Service Discovery), RFC 2782 (SRV).
"""

import socket
from collections.abc import Iterator
from typing import Any

import dns.message
import dns.name
import dns.rdatatype
import dns.wire
import pytest

from standclear.nearby.announce import Announcement, host_label
from standclear.nearby.interfaces import Interface, interfaces, reachable
from standclear.nearby.watch import AddressWatch
from tests.waiting import until

CABLE = Interface("enp3s0", "192.168.1.20")
RADIO = Interface("wlp2s0", "192.168.178.31", wireless=True)
BRIDGE = Interface("br-1f0a", "172.18.0.1")
TUNNEL = Interface("tun0", "10.8.0.6")
MADE_UP = Interface("enp3s0", "169.254.7.9")
LOOPBACK = Interface("lo", "127.0.0.1")
PUBLIC = Interface("enp3s0", "203.0.113.7")
SIXTH = Interface("wlp2s0", "fd12::5", wireless=True)
ZONED = Interface("wlp2s0", "fe80::1", wireless=True)


@pytest.mark.parametrize(
    ("found", "outward", "best"),
    [
        ([LOOPBACK, CABLE], None, "192.168.1.20"),
        ([CABLE, RADIO], "192.168.1.20", "192.168.178.31"),  # phones are where the radio is
        ([BRIDGE, TUNNEL, CABLE], "10.8.0.6", "192.168.1.20"),  # though the way out is a tunnel
        ([MADE_UP, RADIO], None, "192.168.178.31"),
        ([MADE_UP, LOOPBACK], None, "169.254.7.9"),  # two devices on one cable, nobody else
        ([SIXTH, RADIO], None, "192.168.178.31"),
        ([SIXTH, ZONED, LOOPBACK], None, "fd12::5"),
        ([BRIDGE, LOOPBACK], None, "172.18.0.1"),  # better than none
        (
            [CABLE, Interface("enp4s0", "192.168.2.20")],
            "192.168.2.20",
            "192.168.2.20",
        ),
    ],
)
def test_the_address_that_a_phone_can_reach_comes_first(
    found: list[Interface], outward: str | None, best: str
) -> None:
    assert reachable(found, outward)[0] == best


def test_what_no_other_device_can_use_is_not_offered() -> None:
    assert reachable([LOOPBACK, ZONED, Interface("lo", "::1")]) == []


def test_a_private_address_goes_before_a_public_one() -> None:
    """203.0.113.0/24 is documentation (RFC 5737), so a real public one stands in here."""
    public = Interface("enp3s0", "8.8.4.4")
    assert reachable([public, CABLE])[0] == CABLE.address


def test_this_computer_has_its_loopback_address() -> None:
    assert "127.0.0.1" in {one.address for one in interfaces()}


def records(wire: bytes) -> dict[str, list[Any]]:
    """The answer's records by type; names inside SRV may be compressed (RFC 6762, 18.14)."""
    parser = dns.wire.Parser(wire)
    _, flags, questions, *counts = parser.get_struct("!HHHHHH")
    assert flags & 0x8400 == 0x8400, "an authoritative answer (RFC 6762, 18.2 and 18.4)"
    for _ in range(questions):
        parser.get_name(decompress=True)
        parser.get_struct("!HH")
    found: dict[str, list[Any]] = {}
    for _ in range(sum(counts)):
        name = parser.get_name(decompress=True)
        kind, _, ttl, length = parser.get_struct("!HHIH")
        with parser.restrict_to(length):
            found.setdefault(dns.rdatatype.to_text(kind), []).append(
                (name.to_text(), ttl, _value(parser, kind))
            )
    return found


def _value(parser: dns.wire.Parser, kind: int) -> Any:
    if kind == dns.rdatatype.PTR:
        return parser.get_name(decompress=True).to_text()
    if kind == dns.rdatatype.SRV:
        _, _, port = parser.get_struct("!HHH")
        return port, parser.get_name(decompress=True).to_text()
    if kind == dns.rdatatype.A:
        return socket.inet_ntoa(parser.get_bytes(4))
    return parser.get_remaining()


def asked(question: str) -> dict[str, list[Any]]:
    """A one-shot query (RFC 6762, 5.1) by multicast on the loopback interface."""
    query = dns.message.make_query(question, "PTR")
    query.flags = 0
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        sock.settimeout(0.5)

        def answer() -> bytes | None:
            sock.sendto(query.to_wire(), ("224.0.0.251", 5353))
            try:
                return sock.recv(9000)
            except TimeoutError:
                return None

        return records(until(answer, 10, "for an answer by Multicast DNS") or b"")


@pytest.fixture
def announced() -> Iterator[Announcement]:
    made = Announcement(8422, only=["127.0.0.1"])
    if not made.at(["192.168.1.20"]):
        pytest.skip("no multicast on this machine's loopback interface")
    yield made
    made.close()


def test_the_service_is_found_by_its_type_with_name_port_path_and_address(
    announced: Announcement,
) -> None:
    found = asked("_http._tcp.local.")
    [(_, _, name)] = found["PTR"]
    assert name.replace("\\032", " ").startswith("Standclear on ")
    [(_, _, (port, host))] = found["SRV"]
    assert port == 8422
    assert host == f"{host_label()}.local."
    [(_, _, text)] = found["TXT"]
    assert text == b"\x06path=/"
    assert [value for _, _, value in found["A"]] == ["192.168.1.20"]
    assert announced.name.startswith("Standclear on ")


def test_another_address_replaces_the_one_before(announced: Announcement) -> None:
    assert announced.at(["192.168.178.31"])
    found = asked("_http._tcp.local.")
    assert [value for _, _, value in found["A"]] == ["192.168.178.31"]


def test_a_change_of_address_is_told_once() -> None:
    now = ["192.168.1.20"]
    told: list[tuple[list[str], bool]] = []
    watch = AddressWatch(lambda: now, lambda found, new: told.append((list(found), new)), every_s=0)
    watch.start()
    try:
        until(lambda: told)
        assert told == [(["192.168.1.20"], False)]
        now = []
        until(lambda: len(told) == 2)
        now = ["192.168.178.31"]
        until(lambda: len(told) == 3)
    finally:
        watch.stop()
    assert told[1:] == [([], True), (["192.168.178.31"], True)]
