"""What the routes work with, found through the application that serves the request."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from flask import current_app

from standclear.cameras.base import Identity
from standclear.cameras.handset import HandsetLinks
from standclear.finishing.jobs import ExportDesk
from standclear.finishing.looks import Looks
from standclear.library.library import Library
from standclear.shooting.mirroring import Mirroring
from standclear.shooting.stage import Stage
from standclear.web.gate import Gate
from standclear.web.once import Once

KEY = "standclear"


@dataclass(frozen=True)
class Context:
    """Everything that the factory was given, and what it made of it."""

    stage: Stage
    gate: Gate
    desk: ExportDesk
    attached: Callable[[], Sequence[Identity]]
    once: Once
    mirroring: Mirroring | None = None
    listeners: set[object] = field(default_factory=set)
    looks: Looks = field(default_factory=Looks)
    handsets: HandsetLinks = field(default_factory=HandsetLinks)


def context() -> Context:
    """The context of the application that serves this request."""
    found = current_app.extensions[KEY]
    assert isinstance(found, Context)
    return found


def stage() -> Stage:
    """The set at work."""
    return context().stage


def library() -> Library:
    """The library."""
    return context().stage.library
