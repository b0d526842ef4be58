"""A handset as a Camera: gives orders over its link and waits for what comes of them."""

import time
from collections.abc import Callable, Mapping
from datetime import timedelta
from typing import ClassVar, NoReturn

from standclear.cameras.base import (
    BrokenPicture,
    Camera,
    CameraAway,
    Capabilities,
    CaptureFailed,
    Identity,
    LivePicture,
    NotOffered,
    Original,
    Setting,
    Status,
    Taken,
)
from standclear.cameras.handset import track
from standclear.cameras.handset.link import HandsetLink, Order, Photo, is_answered
from standclear.clock import Clock, SystemClock
from standclear.imaging.container import check_whole, identify

#: A live picture is waited for so long at most, in seconds.
LIVE_WAIT_S = 1 / 15
#: How long an order may lie without the handset doing anything for it.
STALLED_S = 2.4
#: A cut connection is waited out for so long: then the camera is away, told within 3 s.
RETURN_S = 2.5
#: No photo takes longer, however busy the handset says it is.
LONGEST_S = 60.0
TICK_S = 0.2
OPEN_WAIT_S = 1.0


class HandsetCamera(Camera):
    """The camera of the phone, tablet or computer that has the page ``/handset`` open."""

    kind: ClassVar[str] = "handset"

    def __init__(
        self,
        link: HandsetLink,
        *,
        clock: Clock | None = None,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._link = link
        self._clock = clock or SystemClock()
        self._monotonic = monotonic
        self._seen = 0.0

    @classmethod
    def alone(cls, name: str) -> "HandsetCamera":
        """One that no page will ever reach: only within a service, whose kinds then stand in, is
        there a page to come."""
        return cls(HandsetLink(name))

    @property
    def identity(self) -> Identity:
        """``handset``, or ``handset:name``."""
        name = self._link.name
        camera_id = f"{self.kind}:{name}" if name else self.kind
        return Identity(camera_id, self.kind, f"Handset {name}".strip())

    @property
    def capabilities(self) -> Capabilities:
        """Every handset gives a live picture; what can be set is up to its browser."""
        return Capabilities(live_picture=True, settings=True)

    def open(self) -> None:
        """Wait a moment for the handset to be there."""
        if not self._link.present(OPEN_WAIT_S):
            self._gone()
        self._seen = 0.0

    def close(self) -> None:
        """The handset may rest."""
        self._link.want_live(False)

    def capture(self) -> Taken:
        """Order a photo, which the handset takes after the order has reached it."""
        taken_at, ordered = self._clock.now(), self._monotonic()
        order_id = self._link.order("photo")
        try:
            photo = self._wait_for_photo(order_id)
        finally:
            self._link.end(order_id)
        original = _original(photo)
        if photo.at is not None:
            taken_at += timedelta(seconds=min(max(0.0, photo.at - ordered), LONGEST_S))
        in_force = {one.name: one.value for one in self.settings() if not one.automatic}
        return Taken((original,), taken_at, in_force)

    def live(self) -> LivePicture | None:
        """The newest live picture that was not given out before."""
        self._link.want_live(True)
        picture = self._link.live_after(self._seen, LIVE_WAIT_S)
        if picture is not None:
            self._seen = picture.at
        elif not self._link.present():
            self._gone()
        return picture

    def settings(self) -> list[Setting]:
        """Those of the handset's track; what it does not let us set is told as automatic."""
        return track.settings_of(self._link.facts.track)

    def change(self, values: Mapping[str, str]) -> None:
        """Set them one after the other, in the order given."""
        for name, value in values.items():
            constraints = track.constraints_for(self._link.facts.track, name, value)
            order_id = self._link.order("set", values=constraints)
            try:
                order = self._wait_answered(order_id)
            finally:
                self._link.end(order_id)
            if order.failure is not None:
                raise NotOffered(f"The handset did not take {name!r}: {_why(order)}")

    def status(self) -> Status:
        """The handset's battery, where its browser tells, and what it warns of."""
        facts = self._link.facts
        return Status(battery_percent=facts.battery_percent, warnings=facts.warnings)

    def alive(self) -> None:
        """Whether it was heard a moment ago; nobody looks, so it need not send live pictures."""
        self._link.want_live(False)
        if not self._link.present():
            self._gone()

    def _wait_for_photo(self, order_id: str) -> Photo:
        order = self._wait_answered(order_id)
        if order.photo is not None:
            return order.photo
        taken = (order.failure or {}).get("photo_taken")
        raise CaptureFailed(
            f"The handset took no photo: {_why(order)}",
            picture_taken=taken if isinstance(taken, bool) else None,
        )

    def _wait_answered(self, order_id: str) -> Order:
        """Wait for as long as the handset is seen to be at work."""
        end = self._monotonic() + LONGEST_S
        while True:
            order = self._link.wait(order_id, TICK_S)
            if is_answered(order):
                return order
            if self._link.unheard_for() > RETURN_S:
                self._gone()
            if self._monotonic() > end or self._link.quiet_for(order_id) > STALLED_S:
                if not self._link.present():
                    self._gone()
                raise CaptureFailed("The handset did not answer the order.", picture_taken=None)
            self.beat()

    def _gone(self) -> NoReturn:
        where = f"/handset#name={self._link.name}" if self._link.name else "/handset"
        raise CameraAway(
            f"No handset is connected: open {where} on the phone that is the camera, and keep that "
            "page in front."
        )


def _original(photo: Photo) -> Original:
    wrong = check_whole(photo.data)
    if wrong is not None:
        raise BrokenPicture(f"The handset's photo is damaged: {wrong}", picture_taken=True)
    facts = identify(photo.data)
    if not facts.media_type.startswith("image/"):
        raise BrokenPicture("What the handset sent is no photo.", picture_taken=True)
    return Original(photo.data, facts.media_type, facts.extension, facts.width, facts.height)


def _why(order: Order) -> str:
    says = str((order.failure or {}).get("says") or "it did not say why.")
    return says[:300]
