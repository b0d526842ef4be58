"""Clean-up, planned: which plate is laid over which part of each picture."""

from collections.abc import Callable, Mapping, Sequence
from functools import reduce

import cv2

from standclear.finishing.even import LightChange
from standclear.finishing.following import Place, follow, scene_of
from standclear.finishing.options import CleanUpOptions, DrawnMask
from standclear.finishing.painting import CleanPlate, Paint, feather_of
from standclear.finishing.plate import Set, painted_part, plate_among, plate_of
from standclear.finishing.problems import CannotExport, PictureUnreadable
from standclear.finishing.strokes import Box, Line, box_of, in_pixels, moved
from standclear.finishing.survey import reduced
from standclear.imaging.difference import Scene
from standclear.imaging.light import BLOCK

_TOLD_PART = 0.01


def exposures_needed(options: CleanUpOptions | None, count: int) -> set[int]:
    """Indices of the exposures that a clean-up looks at beside the film's; raises CannotExport."""
    if options is None:
        return set()
    needed = {mask.exposure for mask in options.masks}
    if options.plate is not None:
        needed.add(options.plate)
    beyond = [number for number in needed if number > count]
    if beyond:
        raise CannotExport(f"There is no exposure {beyond[0]} for the clean-up.")
    return {number - 1 for number in needed}


def clean_up_plan(
    scene: Set,
    options: CleanUpOptions,
    used: Sequence[int],
    lights: Mapping[int, LightChange],
    tell: Callable[[int], None],
) -> tuple[dict[int, Paint], tuple[str, ...]]:
    """What is painted on each exposure of ``used``, and sentences about what is not as asked."""
    walk = _Walk(scene, tell)
    places = walk.places(options, sorted(scene.found.measured))
    shown = {index: places[index] for index in used if index in places}
    box = reduce(Box.joined, (box_of(p.lines, _margin(scene)) for p in shown.values()))
    box = box.within(*scene.source)
    if not all(box.size):
        raise CannotExport("What was drawn for the clean-up lies outside of the picture.")
    notes: tuple[str, ...] = ()
    if options.plate is not None:
        plate = _chosen_plate(scene, options.plate, box)
    else:
        plate, notes = _own_plate(scene, shown, places, box, walk.per_block)
    paints = {
        index: Paint(
            plate,
            moved(place.lines, scene.motion(index).matrix(scene.source[::-1])),
            scene.light(index, 1, lights.get(index)),
            scene.motion(index),
        )
        for index, place in shown.items()
    }
    return paints, notes + _lost(shown)


class _Walk:
    """Goes along the exposures with each drawn mask."""

    def __init__(self, scene: Set, tell: Callable[[int], None]) -> None:
        self._scene, self._tell = scene, tell
        self._scale = 1.0
        self.per_block = float(BLOCK)
        self._done = 0

    def places(self, options: CleanUpOptions, order: Sequence[int]) -> dict[int, Place]:
        """A mask holds from the exposure it was drawn on until the next; the first one before it
        too."""
        masks = sorted(options.masks, key=lambda mask: mask.exposure)
        starts = [mask.exposure - 1 for mask in masks]
        ends = [*starts[1:], order[-1] + 1]
        found: dict[int, Place] = {}
        for mask, start, end in zip(masks, starts, ends, strict=True):
            ahead = [start, *(index for index in order if start < index < end)]
            found |= self._along(mask, ahead, follows=options.follows)
        back = [starts[0], *(index for index in reversed(order) if index < starts[0])]
        found |= self._along(masks[0], back, follows=options.follows)
        return _with_objects(found)

    def _along(self, mask: DrawnMask, order: Sequence[int], *, follows: bool) -> dict[int, Place]:
        lines = self._on_reference(mask)
        if not follows:
            return {index: Place(lines) for index in order}
        first = self._look(order[0])
        if first is None:
            raise CannotExport(
                f"Exposure {mask.exposure}, which the clean-up was drawn on, cannot be read."
            )
        found = {}
        for index, place in follow(lines, order, self._look, self._scale):
            found[index] = place
            self._done += 1
            self._tell(self._done)
        return found

    def _on_reference(self, mask: DrawnMask) -> tuple[Line, ...]:
        width, height = self._scene.source
        motion = self._scene.motion(mask.exposure - 1)
        back = cv2.invertAffineTransform(motion.matrix((height, width)))
        return moved(in_pixels(mask.strokes, width, height), back)

    def _look(self, index: int) -> Scene | None:
        self._scene.patience.check()
        try:
            seen = reduced(self._scene.picture(index))
        except PictureUnreadable:
            return None
        if seen is None:
            return None
        self._scale = seen.original_per_texture
        self.per_block = BLOCK * seen.original_per_small
        return scene_of(seen, self._scene.motion(index))


def _chosen_plate(scene: Set, number: int, box: Box) -> CleanPlate:
    try:
        return plate_of(scene, number - 1, box)
    except PictureUnreadable as error:
        raise CannotExport(
            f"Exposure {number}, the clean plate, cannot be read. Choose another."
        ) from error


def _own_plate(
    scene: Set,
    shown: Mapping[int, Place],
    places: Mapping[int, Place],
    box: Box,
    per_block: float,
) -> tuple[CleanPlate, tuple[str, ...]]:
    plate, known = plate_among(scene, places, box, per_block)
    part = painted_part(known, shown, box, scene.source[0])
    if part < _TOLD_PART:
        raise CannotExport(
            "What is to be painted out is in the way in every exposure. Take one without it and "
            "choose that as the clean plate."
        )
    if part > 1 - _TOLD_PART:
        return plate, ()
    return plate, (
        f"Of what was to be painted out, {100 * (1 - part):.0f} % hides a background that no "
        "exposure shows; it was left as it is. An exposure without the support, chosen as the "
        "clean plate, shows it.",
    )


def _with_objects(found: Mapping[int, Place]) -> dict[int, Place]:
    """Until the object first moved, it is where it was when it did."""
    order = sorted(found)
    known = [found[index].object_blocks for index in order]
    first = next((blocks for blocks in known if blocks is not None), None)
    return {
        index: Place(place.lines, first, place.lost) if place.object_blocks is None else place
        for index, place in ((index, found[index]) for index in order)
    }


def _margin(scene: Set) -> float:
    return 3 * feather_of(scene.source[0]) + 4


def _lost(shown: Mapping[int, Place]) -> tuple[str, ...]:
    lost = [index + 1 for index, place in shown.items() if place.lost]
    if not lost:
        return ()
    some = ", ".join(map(str, lost[:8])) + (" …" if len(lost) > 8 else "")
    return (
        f"How the object moved into exposure {some} cannot be told; the clean-up stayed where it "
        "was. Look there, and draw it anew where it is wrong.",
    )
