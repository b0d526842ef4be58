"""What the trigger has before its eyes: the learnt noise, the last kept picture, and stillness.

Pictures with their times go in; the set's own noise is learnt from the first second at rest, and
from then on each picture is glanced at and "still since" is kept. All in simulated time if need be.
"""

import statistics
from collections import deque
from dataclasses import replace

from standclear.imaging.hands import Anchor, Glance, Reference, Study, glance, reference, study
from standclear.imaging.hands_drift import drift
from standclear.imaging.hands_frame import Picture, prepare
from standclear.imaging.hands_noise import Noise, Restless, learn, mean_picture, renew

LEARN_S = 0.8
LEARN_PICTURES = 12
MOST_LEARNT = 20
KEPT = 8
NEW_ANCHOR_S = 2.0
GAINS = 9


class Sense:
    """Follows one live picture. ``seen`` is the last glance, ``gain`` the light over some
    pictures, ``still_since`` the time of the last movement."""

    def __init__(self) -> None:
        self.noise: Noise | None = None
        self.seen: Glance | None = None
        self.gain = 1.0
        self.still_since = 0.0
        self.restless = False
        self._reference: Reference | None = None
        self._anchor: Anchor | None = None
        self._anchored_at = 0.0
        self._learning: list[tuple[float, Picture]] = []
        self._still: deque[tuple[Picture, Picture]] = deque(maxlen=KEPT)
        self._gains: deque[float] = deque(maxlen=GAINS)

    @property
    def learnt(self) -> bool:
        """Whether it knows the set."""
        return self._reference is not None

    @property
    def still_pictures(self) -> int:
        """How many pictures at rest are at hand (at most :data:`KEPT`)."""
        return len(self._still)

    def forget(self) -> None:
        """Learn the set anew from the next picture on."""
        self.noise, self._reference, self.seen = None, None, None
        self._learning.clear()
        self._let_go()

    def look(self, at: float, pixels: Picture) -> Glance | None:
        """Take in one picture; ``None`` while learning."""
        picture = prepare(pixels)
        known = self._reference
        if known is None or known.side.picture.shape != picture.shape:
            self._reference = None
            self._learn(at, picture)
            return None
        seen = glance(picture, known, self._anchor)
        self._gains.append(seen.gain)
        # One picture's gain is flicker; only several tell of a change of light.
        known_well = len(self._gains) > GAINS // 2
        self.gain = statistics.median(self._gains) if known_well else 1.0
        self._follow(at, picture, seen)
        self.seen = seen
        return seen

    def study(self) -> Study | None:
        """Study the mean of the pictures at rest; ``None`` when there is none."""
        if self._reference is None or self.noise is None or not self._still:
            return None
        rested = [even for _, even in self._still]
        found = study(mean_picture(rested), self._reference, self.noise)
        return replace(found, drift=drift([picture for picture, _ in self._still]))

    def keep(self) -> bool:
        """From now on the set as it rests is what was last kept. False when it does not rest."""
        if self.noise is None or not self._still:
            return False
        pictures = [picture for picture, _ in self._still]
        self.noise = renew(self.noise, pictures)
        self._reference = reference(mean_picture(pictures), self.noise)
        self._gains.clear()
        self._let_go()
        return True

    def _let_go(self) -> None:
        self._anchor = None
        self._still.clear()

    def _follow(self, at: float, picture: Picture, seen: Glance) -> None:
        """Keep "still since"."""
        moved = self._anchor is None or seen.moving >= 2
        if moved:
            self.still_since = at
            self._still.clear()
        if moved or at - self._anchored_at > NEW_ANCHOR_S:
            self._anchor, self._anchored_at = Anchor(seen.luma), at
        self._still.append((picture, seen.even))

    def _learn(self, at: float, picture: Picture) -> None:
        if self._learning and self._learning[0][1].shape != picture.shape:
            self._learning.clear()
        self._learning.append((at, picture))
        enough = at - self._learning[0][0] >= LEARN_S
        if not enough or len(self._learning) < LEARN_PICTURES:
            return
        pictures = [one for _, one in self._learning]
        step = max(1, len(pictures) // MOST_LEARNT)
        found = learn(pictures[::step])
        if isinstance(found, Restless):
            self.restless = True
            del self._learning[: len(self._learning) // 2]
            return
        self.restless, self.noise = False, found
        self._reference = reference(mean_picture(pictures[::step]), found)
        self._learning.clear()
        self._gains.clear()
        self._let_go()
        self.still_since = at
