"""The rehearsal camera: a set with no hardware, that does what a camera on a tabletop would.

By default the cork takes its next pose by itself right after each exposure, so whoever presses
twelve times gets twelve different pictures. ``hand_seconds=4`` lets the simulated animator's hand
do it, in view; ``auto=off`` leaves it to a :class:`HandScript`. Faults are ordered by exposure
number (counting the pictures taken, from 1) or strength; see :class:`Orders`.
"""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
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
from standclear.cameras.rehearsal import knobs, overlay, sensor
from standclear.cameras.rehearsal.acting import Pose, pose_at
from standclear.cameras.rehearsal.geometry import LIVE, STEADY, STILL, RigShift, project
from standclear.cameras.rehearsal.light import Light, dice, light_for, rig_for
from standclear.cameras.rehearsal.orders import AUTO, Orders, read
from standclear.cameras.rehearsal.script import (
    HandPlace,
    HandScript,
    Happening,
    Timeline,
    Visit,
)
from standclear.cameras.rehearsal.stage import Stage, View
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
        self._timeline = Timeline()
        self._switches = _Switches()
        self._pushed = STEADY
        self._stage: Stage | None = None
        self._taken = 0
        self._posed = 0
        self._done: set[str] = set()
        self._next_live = float("-inf")
        self._live_number = 0
        self._latest = 0.0
        self._still_noise: sensor.StillNoise | None = None
        self._live_noise: sensor.LiveNoise | None = None
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
        view, truth = self._view(now, number), self.truth()
        picture = self._expose(stage, view, number)
        self._wait_until(now + self.exposure_seconds())
        data = self._download(picture, number)
        self._taken = number
        self._log.append(truth)
        self._move_on(number)
        original = Original(data, "image/jpeg", "jpg", *STILL)
        return Taken((original,), begun, view.recipe.written)

    def live(self) -> LivePicture:
        """The next live picture, 30 a second, as pixels (720×1280×3, BGR)."""
        self._wait_until(self._next_live)
        stage = self._ready()
        now = self._now()
        self._next_live = max(self._next_live + 1.0 / LIVE_RATE, now + 0.5 / LIVE_RATE)
        self._live_number += 1
        view = self._view(now, self._taken + 1, live=True)
        picture = stage.live(view)
        sd = float(np.hypot(view.happening.flicker_sd, self._orders.flicker))
        chance = dice(self._orders, 6, self._live_number)
        if sd > 0:
            picture = _brightened(picture, 1.0 + sd * float(chance.standard_normal()))
        if self._live_noise is not None and self._orders.noise > 0:
            self._live_noise.add(picture, chance)
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
        """Start the script now; its times count from the returned monotonic time."""
        start = self._clock.monotonic()
        self._timeline.add(script.events, start)
        return start

    def script_over(self) -> bool:
        """Whether every event of every script is over."""
        return self._timeline.quiet(self._now())

    def truth(self) -> Truth:
        """What is really there now (see :class:`Truth`)."""
        now, number = self._now(), self._taken + 1
        view = self._view(now, number)
        happening = view.happening
        pose, place = self._place(happening)
        foot = project(np.array([[place.x_mm, place.y_mm, 0.0]]), view.rig)[0]
        hand = happening.hand
        return Truth(
            number=number,
            pose=pose,
            x_mm=place.x_mm,
            y_mm=place.y_mm,
            x_px=float(foot[0]),
            y_px=float(foot[1]),
            turn_deg=place.turn_deg,
            hand_in_picture=hand is not None and overlay.covers_picture(hand, view.grip),
            tool_left=happening.tool_left,
            shadow=happening.shade is not None,
            passer_by=happening.passer is not None,
            cork_at_rest=happening.part == 0.0 and happening.lean_deg == 0.0,
            rig=view.rig,
            light=view.light,
            blur_px=view.recipe.blur_px,
        )

    @property
    def exposed(self) -> tuple[Truth, ...]:
        """The truth at each picture that was taken, in order."""
        return tuple(self._log)

    def nudge(self, shift: RigShift) -> None:
        """Push the camera; it stays there. The opposite shift puts it back."""
        self._pushed = self._pushed.plus(shift)

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

    def _place(self, happening: Happening) -> tuple[float, Pose]:
        """The pose's index, with its fraction, and where the cork really is."""
        index = self._posed + happening.moved + happening.part
        pose = pose_at(index, self._orders.seed)
        x, y = happening.moved_mm
        return index, replace(
            pose,
            x_mm=pose.x_mm + x,
            y_mm=pose.y_mm + y,
            lean_right_deg=pose.lean_right_deg + happening.lean_deg,
        )

    def _view(self, now: float, number: int, live: bool = False) -> View:
        """What shows at that time in the exposure with that number."""
        orders = self._orders
        happening = self._happening(now, number)
        rig = rig_for(orders, number).plus(happening.rig).plus(self._pushed)
        recipe = knobs.recipe(self._values, orders, number)
        if 0 < orders.focus <= number:
            recipe = replace(recipe, blur_px=float(np.hypot(recipe.blur_px, orders.focus_px)))
        steady = replace(orders, flicker=0.0) if live else orders
        light = light_for(steady, number, self.exposure_seconds())
        light = Light(
            light.left * happening.left,
            light.right * happening.right,
            light.band,
            light.band_phase,
            light.band_cycles,
        )
        if not live and happening.flicker_sd > 0:
            spread = happening.flicker_sd * float(dice(orders, 5, number).standard_normal())
            light = light.times(1.0 + spread)
        drawn, slide = self._drawn(happening, rig)
        foot = project(np.array([[drawn.x_mm, drawn.y_mm, 0.0]]), rig)[0]
        shear = float(np.tan(np.deg2rad(happening.lean_deg)))
        foot_px = (float(foot[0]), float(foot[1]))
        return View(drawn, slide, shear, foot_px, rig, light, recipe, happening)

    def _drawn(self, happening: Happening, rig: RigShift) -> tuple[Pose, tuple[float, float]]:
        """The whole pose to draw, and how far to slide it while a hand moves the cork.

        The drawn pose changes half-way, under the hand; so no pose is drawn anew meanwhile.
        """
        whole = replace(happening, part=float(happening.part >= 0.5), lean_deg=0.0)
        settled = (
            round(happening.moved_mm[0] / 4.0) * 4.0,
            round(happening.moved_mm[1] / 4.0) * 4.0,
        )
        if happening.part > 0.0:
            whole = replace(whole, moved_mm=settled)
        pose = self._place(whole)[1]
        if happening.part == 0.0:
            return pose, (0.0, 0.0)
        there = self._place(replace(happening, lean_deg=0.0))[1]
        places = np.array([[pose.x_mm, pose.y_mm, 0.0], [there.x_mm, there.y_mm, 0.0]])
        here, goal = project(places, rig)
        return pose, (float(goal[0] - here[0]), float(goal[1] - here[1]))

    def _happening(self, now: float, number: int) -> Happening:
        happening = self._timeline.at(now)
        if self._orders.hand == number and happening.hand is None:
            return replace(happening, hand=HandPlace(0.80))
        return happening

    def _expose(self, stage: Stage, view: View, number: int) -> sensor.Picture:
        code = stage.still(view)
        sd = self._orders.noise * view.recipe.noise
        if self._still_noise is not None and sd > 0:
            self._still_noise.add(code, sd, dice(self._orders, 7, number))
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

    def _move_on(self, number: int) -> None:
        """After an exposure: the cork's next pose, by itself or by a hand."""
        orders = self._orders
        moves = 0 if orders.same == number + 1 else 1
        if orders.hand_seconds > 0 and orders.auto != "off":
            s = orders.hand_seconds
            edge = ("right", "front", "right", "left")[number % 4]
            visit = Visit(
                orders.hand_after,
                edge,
                enter_s=0.25 * s,
                work_s=0.5 * s,
                leave_s=0.25 * s,
                moves=moves,
            )
            self._timeline.add([visit], self._now())
        elif orders.auto != "off":
            self._posed += moves


def _brightened(picture: sensor.Picture, gain: float) -> sensor.Picture:
    """A developed picture as it would be with that much more light."""
    codes = np.arange(256, dtype=np.float32) / 255.0
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    table = np.round(sensor.srgb(np.asarray(linear * gain, np.float32)) * 255.0).astype(np.uint8)
    return np.asarray(cv2.LUT(picture, table), np.uint8)


__all__ = ["AUTO", "RehearsalCamera"]
