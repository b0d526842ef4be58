"""The rehearsal camera: a set with no hardware, that does what a camera on a tabletop would.

By default the cork takes its next pose by itself right after each exposure, so whoever presses
twelve times gets twelve different pictures. ``hand_seconds=4`` lets the simulated animator's hand
do it, in view; ``auto=off`` leaves it to a :class:`HandScript`. Faults are ordered by exposure
number (counting the pictures taken, from 1) or strength; see :class:`Orders`.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import ClassVar

import cv2
import numpy as np

from standclear.cameras.base import (
    BrokenPicture,
    Camera,
    CameraAway,
    Capabilities,
    Identity,
    LivePicture,
    Original,
    Setting,
    Status,
    Taken,
)
from standclear.cameras.rehearsal import knobs, sensor
from standclear.cameras.rehearsal.geometry import LIVE, STILL, RigShift
from standclear.cameras.rehearsal.light import dice
from standclear.cameras.rehearsal.orders import Orders, read
from standclear.cameras.rehearsal.resting import Resting
from standclear.cameras.rehearsal.script import HandScript, Visit
from standclear.cameras.rehearsal.stage import Stage, View
from standclear.cameras.rehearsal.staging import Staging
from standclear.cameras.rehearsal.truth import Truth
from standclear.clock import Clock, SystemClock

LIVE_RATE = 30.0
_SLICE_S = 0.05


@dataclass(slots=True)
class _Switches:
    """What a test or an order does to the cable and the camera's own program."""

    plugged: bool = True
    away_until: float = float("-inf")
    hung_until: float = float("-inf")
    corrupt_next: bool = False
    turn: int = 0


class RehearsalCamera(Camera):
    """A simulated camera on a simulated set. See the module's first lines."""

    kind: ClassVar[str] = "rehearsal"

    def __init__(
        self,
        orders: Orders | None = None,
        *,
        text: str = "",
        clock: Clock | None = None,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        self._orders = orders or Orders()
        self._text = text
        self._clock = clock or SystemClock()
        self._wait = wait
        self._values = dict(knobs.DEFAULTS)
        if self._orders.auto in knobs.CHOICES:
            self._values[self._orders.auto] = "auto"
        self._staging = Staging(self._orders)
        self._switches = _Switches()
        self._stage: Stage | None = None
        self._taken = 0
        self._tests = 0
        self._done: set[str] = set()
        self._next_live = float("-inf")
        self._live_number = 0
        self._latest = 0.0
        self._still_noise: sensor.StillNoise | None = None
        self._live_noise: sensor.LiveNoise | None = None
        self._resting = Resting()
        self._log: list[Truth] = []

    @classmethod
    def from_orders(
        cls,
        text: str = "",
        *,
        clock: Clock | None = None,
        wait: Callable[[float], None] = time.sleep,
    ) -> "RehearsalCamera":
        """From what stands after the colon in ``rehearsal:seed=3,nudge=7``."""
        return cls(read(text), text=text, clock=clock, wait=wait)

    # -- the Camera interface ---------------------------------------------------------------

    @property
    def identity(self) -> Identity:
        """``rehearsal``, with its orders if there are any."""
        name = f"rehearsal:{self._text}" if self._text else "rehearsal"
        return Identity(name, self.kind, "Rehearsal set")

    @property
    def capabilities(self) -> Capabilities:
        """Everything."""
        return Capabilities(live_picture=True, settings=True)

    def open(self) -> None:
        """Draw the set (once) and begin. Raises :class:`CameraAway` while it is unplugged."""
        self._check_cable()
        if self._still_noise is None or self._live_noise is None:
            self._still_noise = sensor.StillNoise(self._orders.seed, STILL)
            self._live_noise = sensor.LiveNoise(self._orders.seed, LIVE, self._orders.noise)
        self._staging.prepare_ordered(self._values)
        self._stage = Stage(card=self._orders.card == 1)

    def close(self) -> None:
        """Let go; a call that hangs in another thread ends within 0.1 s."""
        self._switches.turn += 1
        self._stage = None

    def capture(self) -> Taken:
        """The set as it is now, as a JPEG. See :meth:`Camera.capture`."""
        number = self._taken + 1
        self._unplug_as_ordered(number)
        if self._once("hang", number):
            self.hang(self._orders.hang_s)
        stage = self._ready()
        begun, now = self._clock.now(), self._now()
        view = self._staging.view(now, number, self._values, live=False)
        truth = self._staging.truth(now, number, self._values)
        picture = self._expose(stage, view, dice(self._orders, 7, number))
        self._wait_until(now + self.exposure_seconds())
        data = self._download(picture, number)
        self._taken = number
        self._log.append(truth)
        self._staging.move_on(number, self._now())
        original = Original(data, "image/jpeg", "jpg", *STILL)
        return Taken((original,), begun, view.recipe.written)

    def capture_test(self) -> Taken:
        """The set held still: the cork keeps its pose, and no fault strikes that is due later.

        Light and rig wander on as if it were an exposure; none is counted.
        """
        stage = self._ready()
        self._tests += 1
        number = self._taken + self._tests
        begun, now = self._clock.now(), self._now()
        view = self._staging.held(self._taken).view(now, number, self._values, live=False)
        data = sensor.jpeg(self._expose(stage, view, dice(self._orders, 8, self._tests)))
        self._wait_until(now + self.exposure_seconds())
        original = Original(data, "image/jpeg", "jpg", *STILL)
        return Taken((original,), begun, view.recipe.written)

    def live(self) -> LivePicture:
        """The next live picture, 30 a second, as pixels (720×1280×3, BGR)."""
        self._wait_until(self._next_live)
        stage = self._ready()
        now = self._now()
        self._next_live = max(self._next_live + 1.0 / LIVE_RATE, now + 0.5 / LIVE_RATE)
        self._live_number += 1
        self._staging.come_first(self._taken, now)
        view = self._staging.view(now, self._taken + 1, self._values, live=True)
        chance = dice(self._orders, 6, self._live_number)
        sd = float(np.hypot(view.happening.flicker_sd, self._orders.flicker))

        def draw(view: View) -> sensor.Picture:
            picture = stage.live(view)
            if sd > 0:
                picture = _brightened(picture, 1.0 + sd * float(chance.standard_normal()))
            if self._live_noise is not None and self._orders.noise > 0:
                self._live_noise.add(picture, chance)
            return picture

        picture = draw(view) if sd > 0 else self._resting.picture(view, chance, draw)
        return LivePicture(self._now(), pixels=picture)

    def settings(self) -> list[Setting]:
        """The six, all with choices."""
        return knobs.offered(self._values)

    def change(self, values: Mapping[str, str]) -> None:
        """Set them; raises :class:`NotOffered` for what is not there."""
        self._check_open()
        for name, value in values.items():
            knobs.check(name, value)
            self._values[name] = value

    def status(self) -> Status:
        """A full battery that loses a little with every picture, and a card that never fills."""
        return Status(battery_percent=max(1, 96 - self._taken // 40))

    def alive(self) -> None:
        """Raises :class:`CameraAway` when it is not."""
        self._ready()

    def exposure_seconds(self) -> float:
        """The shutter time in force."""
        return knobs.seconds(self._values["shutter"])

    # -- for tests and demonstrations ---------------------------------------------------------

    def run(self, script: HandScript) -> float:
        """Start the script now; its times count from the returned monotonic time.

        The hands in it are drawn before it starts (some tenths of a second for each new look).
        """
        for event in script.events:
            if isinstance(event, Visit):
                self._staging.prepare(event, self._taken + 1, self._values)
        start = self._clock.monotonic()
        self._staging.timeline.add(script.events, start)
        return start

    def script_over(self) -> bool:
        """Whether every event of every script is over."""
        return self._staging.timeline.quiet(self._now())

    def truth(self) -> Truth:
        """What is really there now (see :class:`Truth`)."""
        return self._staging.truth(self._now(), self._taken + 1, self._values)

    @property
    def exposed(self) -> tuple[Truth, ...]:
        """The truth at each picture that was taken, in order."""
        return tuple(self._log)

    def nudge(self, shift: RigShift) -> None:
        """Push the camera; it stays there. The opposite shift puts it back."""
        self._staging.push(shift)

    def unplug(self) -> None:
        """Pull the cable, until :meth:`plug_in`."""
        self._switches.plugged = False

    def plug_in(self) -> None:
        """Put the cable back; the camera must be opened again, as a real one."""
        self._switches.plugged = True
        self._switches.away_until = float("-inf")

    def hang(self, seconds: float) -> None:
        """Let every call block for that long from now; :meth:`close` ends it."""
        self._switches.hung_until = self._clock.monotonic() + seconds

    def corrupt_next(self) -> None:
        """Let the next picture arrive cut short."""
        self._switches.corrupt_next = True

    # -- inside ---------------------------------------------------------------------------------

    def _now(self) -> float:
        """Monotonic time that never steps back between threads' readings."""
        self._latest = max(self._latest, self._clock.monotonic())
        return self._latest

    def _check_cable(self) -> None:
        switches = self._switches
        if not switches.plugged or self._clock.monotonic() < switches.away_until:
            self._stage = None
            raise CameraAway("The rehearsal camera is unplugged.")

    def _check_open(self) -> Stage:
        self._check_cable()
        if self._stage is None:
            raise CameraAway("The rehearsal camera is not open.")
        return self._stage

    def _ready(self) -> Stage:
        """Waits while it hangs, then the stage; raises :class:`CameraAway`."""
        self._check_open()
        self._wait_until(self._switches.hung_until)
        return self._check_open()

    def _wait_until(self, then: float) -> None:
        """Wait on the clock, in slices, so that closing or unplugging is noticed."""
        turn = self._switches.turn
        while (left := then - self._clock.monotonic()) > 0:
            self._wait(min(left, _SLICE_S))
            if self._switches.turn != turn:
                raise CameraAway("The rehearsal camera was closed meanwhile.")
            self._check_cable()

    def _once(self, fault: str, number: int) -> bool:
        """Whether the fault was ordered for this exposure and has not struck yet."""
        struck = getattr(self._orders, fault) == number and fault not in self._done
        if struck:
            self._done.add(fault)
        return struck

    def _unplug_as_ordered(self, number: int) -> None:
        self._check_open()
        if self._once("unplug", number):
            self._switches.away_until = self._clock.monotonic() + self._orders.back
            self._check_cable()

    def _expose(self, stage: Stage, view: View, chance: np.random.Generator) -> sensor.Picture:
        code = stage.still(view)
        sd = self._orders.noise * view.recipe.noise
        if self._still_noise is not None and sd > 0:
            self._still_noise.add(code, sd, chance)
        return sensor.to_bytes(code)

    def _download(self, picture: sensor.Picture, number: int) -> bytes:
        data = sensor.jpeg(picture)
        if self._once("corrupt", number) or self._switches.corrupt_next:
            self._switches.corrupt_next = False
            data = data[: len(data) * 2 // 3]
        if not data.endswith(b"\xff\xd9"):
            raise BrokenPicture(
                "The picture from the rehearsal camera was cut short on its way.",
                picture_taken=True,
            )
        return data


def _brightened(picture: sensor.Picture, gain: float) -> sensor.Picture:
    """A developed picture as it would be with that much more light."""
    codes = np.arange(256, dtype=np.float32) / 255.0
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    table = np.round(sensor.srgb(np.asarray(linear * gain, np.float32)) * 255.0).astype(np.uint8)
    return np.asarray(cv2.LUT(picture, table), np.uint8)
