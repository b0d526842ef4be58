"""What is shown at the door: address, code and QR; anew when the address changes.

A phone is let in at one address and keeps its key there. So when this computer comes under another
one, that is said at once, with a fresh code, and the announcement by name goes along.
"""

import json
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TextIO

import segno

from standclear.nearby.announce import Announcement
from standclear.nearby.interfaces import present
from standclear.nearby.watch import AddressWatch

EVERYWHERE = ("", "0.0.0.0", "::")


@dataclass(frozen=True, slots=True)
class Addresses:
    """Where the service listens, the address that a phone can reach, and what else might do."""

    listening: str
    phone: str
    others: tuple[str, ...] = ()


def addresses(host: str, port: int, here: Sequence[str] = (), *, secure: bool = False) -> Addresses:
    """The addresses to print; ``here`` are this computer's, best first, used for a wildcard.

    With ``secure`` the phone's address is the plain one all the same: there a phone that does not
    trust this computer yet is told how to, and any other is sent on.
    """
    everywhere = host in EVERYWHERE
    shown = list(here) or ["127.0.0.1"] if everywhere else [host]
    first, *others = (f"http://{bracketed(one)}:{port}" for one in shown)
    listening = "127.0.0.1" if everywhere else bracketed(host)
    scheme = "https" if secure else "http"
    return Addresses(f"{scheme}://{listening}:{port}", first, tuple(others))


def bracketed(address: str) -> str:
    """As it stands in a URL (RFC 3986)."""
    return f"[{address}]" if ":" in address else address


class Door:
    """Shows the way in; looks after the addresses where the service listens on all of them."""

    def __init__(
        self,
        host: str,
        port: int,
        *,
        secure: bool,
        announce: bool,
        new_code: Callable[[], str],
        code_minutes: int,
        moved: Callable[[Addresses], None],
        fingerprint: str = "",
        as_json: bool = False,
        out: TextIO | None = None,
    ) -> None:
        """``moved`` is told the new addresses after a change; ``fingerprint`` is that of the
        certificates' authority; with ``as_json`` all that is said is for a program."""
        self._host, self._port, self._secure = host, port, secure
        self._new_code, self._minutes, self._moved = new_code, code_minutes, moved
        self._fingerprint, self._as_json = fingerprint, as_json
        self._out = out or sys.stdout
        self._showing = threading.Lock()
        self._announcement = Announcement(port, secure=secure) if announce else None
        self._watch = AddressWatch(present, self._noticed)
        self._everywhere = host in EVERYWHERE

    def open(self) -> None:
        """Say where the service is, now that it takes requests."""
        found = self._found(present() if self._everywhere else ())
        self._say(f"listening on {found.listening}", listening=found.listening)
        self.welcome(found)
        if self._fingerprint:
            words = f"certificate fingerprint: {self._fingerprint}"
            self._say(words, fingerprint=self._fingerprint)
        if self._everywhere:
            self._watch.start()

    def close(self) -> None:
        """Take the announcement back."""
        if self._everywhere:
            self._watch.stop()
        if self._announcement is not None:
            self._announcement.close()

    def renew(self) -> None:
        """A fresh code, because somebody at the computer wants one."""
        self.welcome(self._found(present() if self._everywhere else ()))

    def welcome(self, found: Addresses) -> None:
        """Print address, code and QR. The code stands in the QR's fragment: it is never sent."""
        with self._showing:
            code = self._new_code()
            if self._as_json:
                self._say("", **asdict(found), code=code, minutes=self._minutes)
                return
            self._say(f"\nOpen {found.phone} on the phone, or point its camera here:\n")
            qr = segno.make(f"{found.phone}/#code={code}", error="m")
            qr.terminal(out=self._out, compact=True)
            if found.others:
                self._say(f"or, on another network: {', '.join(found.others)}")
            self._say(f"pairing code: {code[:3]} {code[3:]}")
            self._say(
                f"Good for one pairing and {self._minutes} minutes. Enter: a fresh code. "
                "Ctrl-C: stop."
            )
            self._out.flush()

    def _found(self, here: Sequence[str]) -> Addresses:
        return addresses(self._host, self._port, here, secure=self._secure)

    def _noticed(self, here: Sequence[str], changed: bool) -> None:
        if self._announcement is not None and self._announcement.at(here) and not changed:
            name = self._announcement.name
            self._say(f"found by name as: {name}", found_as=name)
        if not changed:
            return
        found = self._found(here)
        if not here:
            words = "\nThis computer has left its network; it is noticed when it is back."
            self._say(words, phone=None)
            return
        self._say("\nThis computer has another address now.", phone=found.phone)
        self.welcome(found)
        self._moved(found)

    def _say(self, words: str, **facts: object) -> None:
        """The words for a person, or the facts as one line of JSON for a program."""
        self._out.write((json.dumps(facts) if self._as_json else words) + "\n")
        self._out.flush()
