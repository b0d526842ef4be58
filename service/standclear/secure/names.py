"""The names and addresses that this computer is reached by."""

import ipaddress
import re
import socket
from collections.abc import Collection
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address

import ifaddr

Address = IPv4Address | IPv6Address
_LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)")


@dataclass(frozen=True, slots=True)
class HostNames:
    """DNS names in lower case, and addresses without their zones."""

    dns: frozenset[str]
    addresses: frozenset[Address]

    def __str__(self) -> str:
        return ", ".join([*sorted(self.dns), *sorted(map(str, self.addresses))])


def own_names(extra: Collection[str] = ()) -> HostNames:
    """This computer's names, with those in ``extra``, and the addresses of all its interfaces.

    What could stand in no certificate (an underscore in a name) is left out.
    """
    host = socket.gethostname().lower()
    names = {"localhost", host, f"{host.split('.')[0]}.local", *map(str.lower, extra)}
    found = {_address(ip.ip) for adapter in ifaddr.get_adapters() for ip in adapter.ips}
    found |= {ipaddress.ip_address("127.0.0.1"), ipaddress.ip_address("::1")}
    return HostNames(frozenset(filter(is_dns_name, names)), frozenset(found))


def is_dns_name(name: str) -> bool:
    """Whether it is a host name as RFC 1123, section 2.1 has it."""
    return len(name) <= 253 and all(_LABEL.fullmatch(label) for label in name.split("."))


def _address(ip: str | tuple[str, int, int]) -> Address:
    """ifaddr gives IPv6 as (address, flow, scope)."""
    text = ip if isinstance(ip, str) else ip[0]
    return ipaddress.ip_address(text.partition("%")[0])
