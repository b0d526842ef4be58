"""The meeting places of all handsets, by name: ``handset`` has the empty one, ``handset:left``
another."""

import re
import threading
from collections.abc import Callable

from standclear.cameras.base import Identity, NotOffered
from standclear.cameras.handset.driver import HandsetCamera
from standclear.cameras.handset.link import HandsetLink

_NAME = re.compile(r"[a-z0-9-]{0,24}")
_MOST = 8


class HandsetLinks:
    """Made once by the one who puts the service together, and handed to driver and web alike."""

    def __init__(self, on_facts: Callable[[HandsetLink], None] = lambda _link: None) -> None:
        self._lock = threading.Lock()
        self._links: dict[str, HandsetLink] = {}
        self.on_facts = on_facts

    def link(self, name: str) -> HandsetLink:
        """The place of that name. Raises NotOffered for what is no name, or one too many."""
        if not _NAME.fullmatch(name):
            raise NotOffered("A handset's name has small letters, digits and hyphens, 24 at most.")
        with self._lock:
            if name not in self._links:
                if len(self._links) >= _MOST:
                    raise NotOffered(f"There may be {_MOST} handsets at most.")
                self._links[name] = HandsetLink(name)
                self._links[name].on_facts = self._tell
            return self._links[name]

    def camera(self, name: str) -> HandsetCamera:
        """The driver for the handset of that name."""
        return HandsetCamera(self.link(name))

    def all(self) -> list[HandsetLink]:
        """Every place that was asked for so far."""
        with self._lock:
            return list(self._links.values())

    def present(self) -> list[Identity]:
        """The handsets that are connected now."""
        return [HandsetCamera(link).identity for link in self.all() if link.present()]

    def _tell(self, link: HandsetLink) -> None:
        self.on_facts(link)
