"""This computer's addresses, the one that a phone can most likely reach first.

A computer beside a set has several: its cable, its radio, bridges for virtual machines, tunnels to
elsewhere. A phone reaches the first two at most.
"""

import ipaddress
import re
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import ifaddr

# Names that the kernel or its administrators give to what has no cable and no aerial. Common
# practice, no source.
_INWARD = re.compile(
    r"(br-|bridge|docker|veth|virbr|vmnet|vboxnet|utun|tun|tap|wg|ppp|lo|awdl|llw)"
)
_SYS = Path("/sys/class/net")


@dataclass(frozen=True, slots=True)
class Interface:
    """One address of one interface; ``wireless`` where the system tells."""

    name: str
    address: str
    wireless: bool = False


def interfaces(system: Path = _SYS) -> list[Interface]:
    """All addresses of this computer, loopback included, IPv6 without zones."""
    found = []
    for adapter in ifaddr.get_adapters():
        name = str(adapter.name)
        wireless = (system / name / "wireless").exists()
        for ip in adapter.ips:
            address = ip.ip if isinstance(ip.ip, str) else ip.ip[0]
            found.append(Interface(name, address.partition("%")[0], wireless))
    return found


def reachable(found: Sequence[Interface], outward: str | None = None) -> list[str]:
    """The addresses that another device could use, best first. ``outward`` is the address that the
    default route goes out by, where there is one.

    Before others come, in this order: what is no bridge or tunnel; IPv4 (it can be typed); an
    address that was given and not made up (169.254.0.0/16, RFC 3927); one of a private network
    (RFC 1918, RFC 4193); a wireless one, since that is where phones are; the way out.
    """

    def rank(one: Interface) -> tuple[bool, ...]:
        address = ipaddress.ip_address(one.address)
        return (
            _INWARD.match(one.name) is not None,
            address.version == 6,
            address.is_link_local,
            not address.is_private,
            not one.wireless,
            one.address != outward,
        )

    usable = [one for one in found if _usable(one.address)]
    return list(dict.fromkeys(one.address for one in sorted(usable, key=rank)))


def _usable(text: str) -> bool:
    """Loopback is nobody else's; an IPv6 link-local address needs a zone that only its host has."""
    address = ipaddress.ip_address(text)
    if address.is_loopback or address.is_multicast or address.is_unspecified:
        return False
    return address.version == 4 or not address.is_link_local


def outward_address() -> str | None:
    """This machine's address on the network that leads out; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): a route, never a packet
            return str(probe.getsockname()[0])
        except OSError:
            return None


def present() -> list[str]:
    """The addresses that a phone could use now, best first; empty without a network."""
    return reachable(interfaces(), outward_address())
