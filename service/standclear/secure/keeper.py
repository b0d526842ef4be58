"""Keeps the service's certificate right: at the start, and while it runs.

A laptop that is carried to another network gets another address; a service that runs for a year
outlives its certificate. Both lead to a new one, taken up for the next connection without a break.
"""

import logging
import ssl
import threading
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.secure import leaf
from standclear.secure.authority import Authority, load_or_make
from standclear.secure.files import read_pair, write_pair
from standclear.secure.names import HostNames

log = logging.getLogger(__name__)

FILE = "service.pem"
LOOK_S = 10.0


class Certificates:
    """The authority and the service's certificate, in one folder.

    Raises :class:`~standclear.secure.files.CertificatesUnreadable`, OSError.
    """

    def __init__(self, folder: Path, names: Callable[[], HostNames], clock: Clock) -> None:
        self._folder = folder
        self._names = names
        self._clock = clock
        self._ended = threading.Event()
        self._told: frozenset[str] = frozenset()
        needed = timedelta(days=leaf.DAYS)
        self.authority: Authority = load_or_make(folder, names(), clock.now(), needed)
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.minimum_version = ssl.TLSVersion.TLSv1_2
        self.context.set_alpn_protocols(["http/1.1"])
        self._pair = read_pair(folder / FILE)
        if not self.refresh():
            self.context.load_cert_chain(folder / FILE)

    def refresh(self) -> bool:
        """Look at names and time; True when a new certificate was made and taken up."""
        wanted = self._covered(self._names())
        now = self._clock.now()
        if self._pair and leaf.still_good(self._pair, self.authority, wanted, now):
            return False
        path = self._folder / FILE
        self._pair = leaf.issue(self.authority, wanted, now)
        write_pair(path, self._pair)
        self.context.load_cert_chain(path)
        log.info("New certificate for %s", wanted)
        return True

    def start(self) -> None:
        """Go on looking, in a thread."""
        threading.Thread(target=self._watch, name="certificates", daemon=True).start()

    def stop(self) -> None:
        """Look no longer."""
        self._ended.set()

    def _watch(self) -> None:
        while not self._ended.wait(LOOK_S):
            try:
                self.refresh()
            except (OSError, StandclearError) as error:
                log.warning("The certificate could not be looked after: %s", error)

    def _covered(self, names: HostNames) -> HostNames:
        """Those that the authority may vouch for; what is left out is told once."""
        covers = self.authority.covers
        kept = HostNames(
            frozenset(filter(covers, names.dns)), frozenset(filter(covers, names.addresses))
        )
        left_out = {*names.dns, *map(str, names.addresses)}
        left_out -= {*kept.dns, *map(str, kept.addresses)}
        if left_out - self._told:
            log.warning(
                "Not covered by the authority in %s, so without HTTPS: %s. Move the authority "
                "away to have a new one made, which phones must then be told to trust.",
                self._folder,
                ", ".join(sorted(left_out)),
            )
        self._told = frozenset(left_out)
        return kept
