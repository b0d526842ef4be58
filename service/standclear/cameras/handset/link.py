"""Where the driver and the handset meet: the owner's thread on one side, web requests on the other.

The driver gives orders and waits; what the handset sends is laid down here by whichever thread
received it. An order is known by its id, and answered once: a photo is taken over with its first
whole delivery, a repeat of the same bytes is the same photo, and an order that was given up takes
nothing any more.

    ordered ──whole upload──▶ delivered ──▶ (the driver takes it)
       │──"failed"──▶ failed          any of them ──driver gives up──▶ void
"""

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from standclear.cameras.base import LivePicture

#: The page speaks about every 0.4 s; silent for so long, it is gone. With the owner's look once a
#: second this is told within 3 s.
SILENT_S = 1.8
#: Answers of orders that are remembered, so that a repeated upload is known.
_REMEMBERED = 64

Send = Callable[[Mapping[str, Any]], None]
Outcome = Literal["new", "again", "other", "void"]


class PlaceTaken(Exception):
    """A page that came back by itself finds another one in its place."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A whole photo as it was uploaded. ``at`` is the service's monotonic time in seconds at which
    the handset says it was taken."""

    data: bytes = field(repr=False)
    sha256: str
    at: float | None


@dataclass(frozen=True, slots=True)
class Facts:
    """What the handset last said of itself. ``track`` holds the ``capabilities`` and ``settings``
    of its MediaStreamTrack; ``warnings`` are sentences for the animator."""

    track: Mapping[str, Any] = field(default_factory=dict)
    battery_percent: int | None = None
    warnings: tuple[str, ...] = ()


@dataclass(slots=True)
class Order:
    """An order and what has come of it so far."""

    message: Mapping[str, Any]
    photo: Photo | None = None
    answer: Mapping[str, Any] | None = None
    failure: Mapping[str, Any] | None = None
    touched: float = 0.0
    sent_to: object = None


class HandsetLink:
    """The meeting place of one handset; made by the one who puts the service together."""

    def __init__(self, name: str = "", monotonic: Callable[[], float] = time.monotonic) -> None:
        self.name = name
        self._monotonic = monotonic
        self._condition = threading.Condition()
        self._send: Send | None = None
        self._page = ""
        self._heard = 0.0
        self._facts = Facts()
        self._told_facts = False
        self._live: LivePicture | None = None
        self._live_wanted = False
        self._orders: OrderedDict[str, Order] = OrderedDict()
        self._past: OrderedDict[str, str | None] = OrderedDict()
        #: Told of each change of what the handset says of itself.
        self.on_facts: Callable[[HandsetLink], None] = lambda _link: None

    # -- the driver's side -------------------------------------------------------------------

    @property
    def facts(self) -> Facts:
        """What the handset last said of itself."""
        return self._facts

    def present(self, wait_s: float = 0.0) -> bool:
        """Whether a handset is connected, has told of itself, and was heard a moment ago; waits so
        long for one."""
        with self._condition:
            return self._condition.wait_for(self._is_present, wait_s)

    def unheard_for(self) -> float:
        """Seconds since a handset last spoke."""
        with self._condition:
            return self._monotonic() - self._heard

    def order(self, does: str, **more: Any) -> str:
        """Give an order; its id. It is sent at once, and again to a handset that reconnects."""
        order_id = secrets.token_hex(8)
        with self._condition:
            message = {"does": does, "order": order_id, **more}
            order = Order(message, touched=self._monotonic())
            self._orders[order_id] = order
        self._send_order(order)
        return order_id

    def wait(self, order_id: str, seconds: float) -> Order:
        """The order as it is once it has an answer, or after so many seconds."""
        with self._condition:
            order = self._orders[order_id]
            self._condition.wait_for(lambda: is_answered(order), seconds)
            return order

    def quiet_for(self, order_id: str) -> float:
        """Seconds since the handset last did something for this order."""
        with self._condition:
            return self._monotonic() - self._orders[order_id].touched

    def end(self, order_id: str) -> None:
        """The order is over: what still comes for it is refused, unless it is a repeat."""
        with self._condition:
            order = self._orders.pop(order_id)
            self._past[order_id] = order.photo.sha256 if order.photo else None
            while len(self._past) > _REMEMBERED:
                self._past.popitem(last=False)
        if order.photo is None:
            self.tell({"does": "void", "order": order_id})

    def want_live(self, wanted: bool) -> None:
        """Whether the handset is to send live pictures."""
        if wanted != self._live_wanted:
            self._live_wanted = wanted
            self.tell({"does": "live", "on": wanted})

    def live_after(self, at: float, seconds: float) -> LivePicture | None:
        """A live picture newer than that monotonic time; waits at most so many seconds."""
        with self._condition:
            self._condition.wait_for(lambda: self._is_newer(at) or self._send is None, seconds)
            return self._live if self._is_newer(at) else None

    # -- the handset's side ------------------------------------------------------------------

    def attach(self, send: Send, page: str = "", *, again: bool = False) -> Send | None:
        """A handset has come; the one that was there before is returned, to be sent away.

        ``page`` is the page's own name for itself. One that comes ``again``, by itself after a
        break, takes back its own place and no other page's: raises PlaceTaken.
        """
        with self._condition:
            if again and self._send is not None and self._page != page:
                raise PlaceTaken
            before, self._send = self._send, send
            self._page = page
            self._told_facts = False
            self._heard = self._monotonic()
            self._live = None
            open_orders = list(self._orders.values())
            self._condition.notify_all()
        self.tell({"does": "live", "on": self._live_wanted})
        for order in open_orders:
            if not is_answered(order):
                self._send_order(order)
        return before

    def detach(self, send: Send) -> None:
        """This handset has gone; nothing when another took its place."""
        with self._condition:
            if self._send is send:
                self._send = None
                self._live = None
                self._condition.notify_all()

    def hears(self, facts: Facts | None = None) -> None:
        """The handset has spoken, perhaps of itself."""
        with self._condition:
            self._heard = self._monotonic()
            changed = facts is not None and facts != self._facts
            if facts is not None:
                self._facts = facts
                self._told_facts = True
                self._condition.notify_all()
        if changed:
            self.on_facts(self)

    def shows(self, picture: LivePicture) -> None:
        """A live picture has come; an older one than the last is let go."""
        with self._condition:
            self._heard = self._monotonic()
            if self._live is None or picture.at > self._live.at:
                self._live = picture
                self._condition.notify_all()

    def works_on(self, order_id: str) -> None:
        """The handset is busy with this order, or its upload has come a piece further."""
        with self._condition:
            self._heard = self._monotonic()
            if order_id in self._orders:
                self._orders[order_id].touched = self._heard

    def answers(self, order_id: str, answer: Mapping[str, Any]) -> None:
        """The order was carried out."""
        with self._condition:
            if order_id in self._orders:
                self._orders[order_id].answer = answer
                self._condition.notify_all()

    def fails(self, order_id: str, why: Mapping[str, Any]) -> None:
        """The order cannot be carried out."""
        with self._condition:
            if order_id in self._orders:
                self._orders[order_id].failure = why
                self._condition.notify_all()

    def expects(self, order_id: str) -> bool:
        """Whether a photo for this order is still of use, or was delivered before."""
        with self._condition:
            return order_id in self._orders or self._past.get(order_id) is not None

    def delivers(self, order_id: str, photo: Photo) -> Outcome:
        """A whole photo has come: ``new``, the same ``again``, an ``other`` one, or for a ``void``
        order. Only a new one is taken over."""
        with self._condition:
            self._heard = self._monotonic()
            order = self._orders.get(order_id)
            known = order.photo.sha256 if order and order.photo else self._past.get(order_id)
            if known is not None:
                return "again" if known == photo.sha256 else "other"
            if order is None or order.message["does"] != "photo":
                return "void"
            order.photo = photo
            self._condition.notify_all()
            return "new"

    # -- sending -----------------------------------------------------------------------------

    def tell(self, message: Mapping[str, Any]) -> None:
        """Send a message to the handset, if there is one; never raises."""
        send = self._send
        if send is not None:
            try:
                send(message)
            except OSError:
                self.detach(send)

    def _send_order(self, order: Order) -> None:
        """Once to each handset that comes, in whichever thread sees it first."""
        with self._condition:
            if self._send is None or order.sent_to is self._send:
                return
            order.sent_to = self._send
        self.tell(order.message)

    def _is_present(self) -> bool:
        silent = self._monotonic() - self._heard
        return self._send is not None and self._told_facts and silent < SILENT_S

    def _is_newer(self, at: float) -> bool:
        return self._live is not None and self._live.at > at


def is_answered(order: Order) -> bool:
    """Whether nothing more is awaited."""
    return order.photo is not None or order.answer is not None or order.failure is not None
