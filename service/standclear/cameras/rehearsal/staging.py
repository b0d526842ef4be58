"""What stands where, and how it is lit, at any moment of any exposure.

The orders (by exposure number), the script (by time) and the pushes and poses so far come together
here in a :class:`View` to draw, and in the :class:`Truth` of it.
"""

from collections.abc import Mapping
from copy import copy
from dataclasses import replace
from typing import Any

import numpy as np

from standclear.cameras.rehearsal import knobs, overlay
from standclear.cameras.rehearsal.acting import Pose, pose_at
from standclear.cameras.rehearsal.geometry import STEADY, RigShift, project
from standclear.cameras.rehearsal.knobs import Recipe
from standclear.cameras.rehearsal.light import Light, dice, light_for, rig_for
from standclear.cameras.rehearsal.orders import Orders
from standclear.cameras.rehearsal.script import HandPlace, Happening, Timeline, Visit
from standclear.cameras.rehearsal.stage import View
from standclear.cameras.rehearsal.truth import Truth

#: How far in a hand stays that was ordered to be left in the picture.
_LEFT_IN = 0.80
#: What a passing shadow must take of the light, somewhere in the picture, to count as there.
SEEN_SHADOW = 0.01
#: Where the hand that poses by itself comes from, exposure by exposure.
_POSING_EDGES = ("right", "front", "right", "left")


class Staging:
    """The set's state. ``timeline`` takes scripts; the rest follows from orders and numbers."""

    def __init__(self, orders: Orders) -> None:
        self.timeline = Timeline()
        self._orders = orders
        self._posed = 0
        self._pushed = STEADY

    def push(self, shift: RigShift) -> None:
        """Push the camera by that much; it stays there."""
        self._pushed = self._pushed.plus(shift)

    def prepare(self, hand: Visit | HandPlace, number: int, values: Mapping[str, str]) -> None:
        """Draw that hand now, so that it need not be drawn when it comes in."""
        light = self._light(number, values, Happening(), live=True).left
        b, g, r = self._recipe(number, values).gains
        overlay.live_reach(hand, (b * light, g * light, r * light))

    def prepare_ordered(self, values: Mapping[str, str]) -> None:
        """Draw the hands that the orders will bring in."""
        edges = set(_POSING_EDGES) if self._orders.hand_seconds > 0 else set()
        if self._orders.hand:
            edges.add(HandPlace(_LEFT_IN).edge)
        for edge in sorted(edges):
            self.prepare(HandPlace(0.0, edge), 1, values)

    def move_on(self, number: int, now: float) -> None:
        """After that exposure: the cork's next pose, by itself or by a hand."""
        orders = self._orders
        moves = 0 if orders.same == number + 1 else 1
        if orders.auto == "off":
            return
        if orders.hand_seconds <= 0:
            self._posed += moves
            return
        self.timeline.add([self._posing_visit(orders.hand_after, number, moves)], now)

    def come_first(self, taken: int, now: float) -> None:
        """With ``hand_first``: until there is a picture the hand comes every so many seconds, so
        that whoever only watches gets a first pose too."""
        wait = self._orders.hand_first
        if wait > 0 and taken == 0 and self.timeline.quiet(now):
            self.timeline.add([self._posing_visit(wait, 0, 1)], now)

    def _posing_visit(self, after: float, number: int, moves: int) -> Visit:
        """The hand takes the cork to its next pose, ``after`` seconds from now."""
        s, edge = self._orders.hand_seconds or 2.0, _POSING_EDGES[number % len(_POSING_EDGES)]
        return Visit(after, edge, enter_s=0.25 * s, work_s=0.5 * s, leave_s=0.25 * s, moves=moves)

    def held(self, taken: int) -> "Staging":
        """The set as it stands after ``taken`` exposures, without the faults still to come."""
        held = copy(self)
        faults = ("nudge", "hand", "focus", "side")
        never: dict[str, Any] = {f: 0 for f in faults if getattr(self._orders, f) > taken}
        held._orders = replace(self._orders, **never)
        return held

    def view(self, now: float, number: int, values: Mapping[str, str], *, live: bool) -> View:
        """What shows at that time, in the exposure with that number or live before it.

        A live picture leaves the lamp's flicker to whoever develops it: it is new every time.
        """
        happening = self._happening(now, number)
        rig = rig_for(self._orders, number).plus(happening.rig).plus(self._pushed)
        drawn, slide = self._drawn(happening, rig)
        foot = project(np.array([[drawn.x_mm, drawn.y_mm, 0.0]]), rig)[0]
        return View(
            pose=drawn,
            slide=slide,
            shear=float(np.tan(np.deg2rad(happening.lean_deg))),
            foot_px=(float(foot[0]), float(foot[1])),
            rig=rig,
            light=self._light(number, values, happening, live),
            recipe=self._recipe(number, values),
            happening=happening,
        )

    def truth(self, now: float, number: int, values: Mapping[str, str]) -> Truth:
        """What is really there."""
        view = self.view(now, number, values, live=False)
        happening = view.happening
        index, place = self._place(happening.moved, happening.part, happening.moved_mm)
        foot = project(np.array([[place.x_mm, place.y_mm, 0.0]]), view.rig)[0]
        hand = happening.hand
        return Truth(
            number=number,
            pose=index,
            x_mm=place.x_mm,
            y_mm=place.y_mm,
            x_px=float(foot[0]),
            y_px=float(foot[1]),
            turn_deg=place.turn_deg,
            hand_in_picture=hand is not None and overlay.covers_picture(hand, view.grip),
            tool_left=happening.tool_left,
            shadow=overlay.darkened(happening) > SEEN_SHADOW,
            passer_by=happening.passer is not None,
            cork_at_rest=happening.drawn is None and happening.lean_deg == 0.0,
            rig=view.rig,
            light=view.light,
            blur_px=view.recipe.blur_px,
        )

    def _happening(self, now: float, number: int) -> Happening:
        happening = self.timeline.at(now)
        if self._orders.hand == number and happening.hand is None:
            return replace(happening, hand=HandPlace(_LEFT_IN))
        return happening

    def _recipe(self, number: int, values: Mapping[str, str]) -> Recipe:
        recipe = knobs.recipe(values, self._orders, number)
        if 0 < self._orders.focus <= number:
            blur = float(np.hypot(recipe.blur_px, self._orders.focus_px))
            return replace(recipe, blur_px=blur)
        return recipe

    def _light(
        self, number: int, values: Mapping[str, str], happening: Happening, live: bool
    ) -> Light:
        steady = replace(self._orders, flicker=0.0) if live else self._orders
        light = light_for(steady, number, knobs.seconds(values["shutter"]))
        light = replace(
            light, left=light.left * happening.left, right=light.right * happening.right
        )
        if live or happening.flicker_sd == 0.0:
            return light
        chance = float(dice(self._orders, 5, number).standard_normal())
        return light.times(max(0.05, 1.0 + happening.flicker_sd * chance))

    def _place(self, moved: int, part: float, moved_mm: tuple[float, float]) -> tuple[float, Pose]:
        """The pose's index, with its fraction, and where the cork is."""
        index = self._posed + moved + part
        pose = pose_at(index, self._orders.seed)
        return index, replace(pose, x_mm=pose.x_mm + moved_mm[0], y_mm=pose.y_mm + moved_mm[1])

    def _drawn(self, happening: Happening, rig: RigShift) -> tuple[Pose, tuple[float, float]]:
        """The pose to draw, and how far to slide the drawing while a hand moves the cork.

        The drawn pose changes half-way, under the hand; so none is drawn anew meanwhile.
        """
        there = self._place(happening.moved, happening.part, happening.moved_mm)[1]
        if happening.drawn is None:
            return there, (0.0, 0.0)
        pose = self._place(happening.drawn[0], 0.0, happening.drawn[1])[1]
        places = np.array([[p.x_mm, p.y_mm, 0.0] for p in (pose, there)])
        here, goal = project(places, rig)
        return pose, (float(goal[0] - here[0]), float(goal[1] - here[1]))
