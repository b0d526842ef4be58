"""The service announced by name: Multicast DNS (RFC 6762) and DNS-SD (RFC 6763).

It is an ordinary web service, `_http._tcp` or `_https._tcp`, whose TXT record says `path=/`.
Nothing leaves the local network, and nothing is asked of anybody.
"""

import logging
import socket
from collections.abc import Sequence

from zeroconf import Error as ZeroconfError
from zeroconf import InterfaceChoice, NonUniqueNameException, ServiceInfo, Zeroconf

log = logging.getLogger(__name__)
TTL_S = 120  # RFC 6762, section 10: for records that hold a host's name


def host_label() -> str:
    """The first part of this computer's name, as far as a DNS label can hold it."""
    return socket.gethostname().split(".")[0][:63] or "standclear"


class Announcement:
    """Announces one port at changing addresses; all calls come from one thread."""

    def __init__(self, port: int, *, secure: bool = False, only: Sequence[str] = ()) -> None:
        """``only`` names the interfaces' addresses to speak on; empty: all of them."""
        self._port = port
        self._type = "_https._tcp.local." if secure else "_http._tcp.local."
        self._only = list(only)
        self._zeroconf: Zeroconf | None = None
        self.name = ""

    def at(self, addresses: Sequence[str]) -> bool:
        """Announce these addresses in place of those before. False when the network is not such
        that it can be done; the service is then found by its address alone."""
        self.close()
        if not addresses:
            return False
        try:
            self._zeroconf = Zeroconf(interfaces=self._only or InterfaceChoice.All)
            info = self._info(addresses)
            self._zeroconf.register_service(info, allow_name_change=True)
        except (OSError, ZeroconfError, NonUniqueNameException) as error:
            log.warning("The service could not be announced by name: %s", error)
            self.close()
            return False
        self.name = info.name.removesuffix(f".{self._type}")
        return True

    def _info(self, addresses: Sequence[str]) -> ServiceInfo:
        host = host_label()
        return ServiceInfo(
            self._type,
            f"Standclear on {host}"[:63] + f".{self._type}",
            port=self._port,
            properties={"path": "/"},
            server=f"{host}.local.",
            parsed_addresses=list(addresses),
            host_ttl=TTL_S,
        )

    def close(self) -> None:
        """Say goodbye (RFC 6762, section 10.1) and be silent."""
        if self._zeroconf is None:
            return
        try:
            self._zeroconf.unregister_all_services()
            self._zeroconf.close()
        except (OSError, ZeroconfError) as error:
            log.info("The goodbye could not be said: %s", error)
        self._zeroconf = None
        self.name = ""
