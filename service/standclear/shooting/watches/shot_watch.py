"""All watches over one shot, exposure by exposure. No threads, no library, no clock.

How to use it::

    watch = ShotWatch(Thresholds())          # one a shot, used by one thread at a time
    decoded = decode(file_bytes)             # standclear.imaging.decode; Undecodable says why
    verdict = watch.examine_file(file_bytes, key=exposure_id, settings={"shutter": "1/50"})
    watch.forget(exposure_id)                # it was binned or is about to be retaken
    watch.accept()                           # the last exposure becomes the new reference

The first exposure becomes the reference. To take up a shot again, examine its reference exposure
and as many of the last ones as the history should know. Some 200 MB are held for a shot of 24
megapixels, so keep few of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from standclear.imaging.decode import Undecodable, decode
from standclear.imaging.light import SRGB, LightChange, Response
from standclear.imaging.linear import Floats, Mask, Pixels
from standclear.imaging.prepared import Prepared, prepare
from standclear.shooting.watches.doubt import ghosts_from, without_ghosts
from standclear.shooting.watches.light import WINDOW
from standclear.shooting.watches.measure import Base, Measured, base_from, measure
from standclear.shooting.watches.pose import PoseLook, look_at_pose
from standclear.shooting.watches.rig import RigPlace
from standclear.shooting.watches.seen import Seen
from standclear.shooting.watches.table import WATCHES, nothing_told
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.verdict import verdict

FIRST = "This is the shot's reference; the next exposures are measured against it."
KEPT_SCENES = 3
OBJECT_COUNTS = 0.001
"""Where the object is known to move about, a block counts for so little: before a plain wall it
has a thousand times the wall's texture."""


@dataclass(frozen=True)
class _Entry:
    key: str
    light: LightChange | None
    place: RigPlace | None
    measured: Measured | None = field(repr=False)
    look: PoseLook | None = field(repr=False)
    settings: Mapping[str, str]
    clean: bool
    object_mask: Mask | None = field(repr=False)


class ShotWatch:
    """Holds a shot's reference and what its last exposures measured."""

    def __init__(
        self,
        limits: Thresholds | None = None,
        response: Response = SRGB,
        give_way: Callable[[], object] = lambda: None,
    ) -> None:
        """``give_way`` is called between the steps of looking, and may wait for what is urgent."""
        self.limits = limits or Thresholds()
        self.response = response
        self._give_way = give_way
        self._base: Base | None = None
        self._base_settings: Mapping[str, str] = {}
        self._entries: list[_Entry] = []
        self._last: Prepared | None = None
        self._ground: Mask | None = None  # where the object was before the entries
        self._moves_before = 0

    def examine_file(
        self, data: bytes, *, key: str, settings: Mapping[str, str] | None = None
    ) -> dict[str, Any]:
        """Decode an original and examine it; a file that cannot be read answers why."""
        decoded = decode(data)
        if isinstance(decoded, Undecodable):
            return nothing_told(decoded.says)
        self._give_way()
        return self.examine(
            decoded.pixels,
            settings,
            key=key,
            size=(decoded.width, decoded.height),
            monochrome=decoded.monochrome,
        )

    def examine(
        self,
        pixels: Pixels,
        settings: Mapping[str, str] | None = None,
        *,
        key: str = "",
        size: tuple[int, int] | None = None,
        monochrome: bool = False,
    ) -> dict[str, Any]:
        """The verdict on one exposure, as JSON; remembers what it measured under ``key``.

        ``pixels``: 8 or 16 bits, (h, w[, 3]) blue, green, red. ``size``: width and height of the
        original where ``pixels`` were decoded at a part of it.
        """
        width, height = size or (pixels.shape[1], pixels.shape[0])
        if min(pixels.shape[:2]) < 64:
            return nothing_told("The picture is too small to be measured.")
        picture = prepare(pixels, width, height, monochrome)
        self._give_way()
        why = _shows_nothing(picture)
        if why is not None:
            return nothing_told(why)
        self._last = picture
        why = self._another_size(picture)
        if why is not None:
            return nothing_told(why)
        if self._base is None:
            self._adopt(picture, settings or {})
            return nothing_told(FIRST)
        return self._judge(picture, settings or {}, key)

    def forget(self, key: str) -> None:
        """Take an exposure out of the history: binned, or replaced by a retake."""
        self._entries = [entry for entry in self._entries if entry.key != key]

    def accept(self) -> None:
        """Make the last examined exposure the new reference; where the object is, stays known."""
        if self._last is None:
            return
        settings = self._entries[-1].settings if self._entries else self._base_settings
        if self._entries and self._entries[-1].look is not None:
            self._settle(self._entries[-1].look.changes.changed)
        self._adopt(self._last, settings)

    def _adopt(self, picture: Prepared, settings: Mapping[str, str]) -> None:
        for entry in self._entries:
            self._settle(entry.object_mask)
        self._entries = []
        self._base = base_from(picture)
        self._base_settings = settings
        rows_columns = self._base.scene.tone.shape
        if self._ground is None or self._ground.shape != rows_columns:
            self._ground = np.zeros(rows_columns, dtype=bool)
            self._moves_before = 0

    def _another_size(self, picture: Prepared) -> str | None:
        if self._base is None or (picture.width, picture.height) == self._base.size:
            return None
        was = " x ".join(str(side) for side in self._base.size)
        return (
            f"The picture is {picture.width} x {picture.height}, the shot's reference {was}. "
            "Set the camera back to the old size, or accept this one as the new reference."
        )

    def _judge(self, picture: Prepared, settings: Mapping[str, str], key: str) -> dict[str, Any]:
        activity = self._activity()
        base, background = self._known_base(), _background(activity)
        measured = measure(base, picture, background, self.response, self._give_way)
        self._give_way()
        lights = [entry.light for entry in self._entries if entry.light is not None]
        places = [entry.place for entry in self._entries if entry.place is not None]
        look = self._look(measured, activity)
        seen = Seen(picture, measured, look, lights, places, settings, self.limits)
        findings = {name: judge(seen) for name, judge in WATCHES.items()}
        result = verdict(without_ghosts(findings))
        changed = _changed_settings(self._base_settings, settings)
        result["watches"]["light"]["settings_changed"] = changed
        fooled = ghosts_from(findings) is not None
        self._keep(key, measured, look, settings, fooled=fooled)
        return result

    def _look(self, measured: Measured, activity: Mask) -> PoseLook | None:
        if measured.scene is None:
            return None
        moves = self._moves_before + sum(e.object_mask is not None for e in self._entries)
        before = self._last_clean_scene()
        return look_at_pose(before, measured.scene, activity, moves, self.limits)

    def _last_clean_scene(self) -> Any:
        for entry in reversed(self._entries[-KEPT_SCENES:]):
            if entry.clean and entry.measured is not None and entry.measured.scene is not None:
                return entry.measured.scene
        return self._known_base().scene

    def _keep(
        self,
        key: str,
        measured: Measured,
        look: PoseLook | None,
        settings: Mapping[str, str],
        *,
        fooled: bool,
    ) -> None:
        """``fooled``: the picture is such that what seems to have moved need not have moved."""
        clean = look is not None and look.intruder is None and not fooled
        mask = look.object_mask if clean and look is not None and look.object_mask.any() else None
        self._entries.append(
            _Entry(key, measured.light, measured.place, measured, look, settings, clean, mask)
        )
        for i, old in enumerate(self._entries[:-KEPT_SCENES]):
            if old.measured is not None:
                self._entries[i] = replace(old, measured=None, look=None)
        for old in self._entries[: -(WINDOW + 10)]:
            self._settle(old.object_mask)
        self._entries = self._entries[-(WINDOW + 10) :]

    def _settle(self, mask: Mask | None) -> None:
        """Remember for good where the object was."""
        if mask is not None and self._ground is not None and mask.shape == self._ground.shape:
            self._ground = self._ground | mask
            self._moves_before += 1

    def _activity(self) -> Mask:
        """By block where the object was known to be; what was forgotten is not in it."""
        activity = self._ground if self._ground is not None else np.zeros((0, 0), dtype=bool)
        for entry in self._entries:
            if entry.object_mask is not None:
                activity = activity | entry.object_mask
        return activity

    def _known_base(self) -> Base:
        if self._base is None:
            raise ValueError("no exposure was examined yet")
        return self._base


def _background(activity: Mask) -> Floats | None:
    """How surely each block is background; ``None`` while that is not known."""
    if not activity.any() or activity.mean() > 0.5:
        return None
    return np.where(activity, OBJECT_COUNTS, 1.0).astype(np.float32)


def _shows_nothing(picture: Prepared) -> str | None:
    if picture.too_dark:
        return "The picture is black: nothing can be measured. Is the lens cap on?"
    if picture.too_bright:
        return "The picture is white: nothing can be measured. Shorten the exposure."
    return None


def _changed_settings(before: Mapping[str, str], after: Mapping[str, str]) -> list[dict[str, str]]:
    names = sorted(set(before) & set(after))
    return [
        {"name": name, "before": before[name], "after": after[name]}
        for name in names
        if before[name] != after[name]
    ]
