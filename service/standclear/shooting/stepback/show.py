"""How the step-back trigger shows itself: its figures, and the mask of what it sees."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.hands import Glance
from standclear.shooting.stepback import judge
from standclear.shooting.stepback.watcher import SETTLE_S, Watcher

#: Values of the mask: nothing, changed by light alone, a thing changed, a thing at the edge.
NOTHING, SOFT, THING, AT_EDGE = 0, 85, 170, 255


def figures(watcher: Watcher) -> dict[str, Any]:
    """Name → value, the unit in the name. Empty until the first picture was glanced at."""
    seen, noise = watcher.sense.seen, watcher.sense.noise
    if seen is None or noise is None:
        return {}
    whole = seen.apart.changed.size
    return {
        "changed_percent": round(100.0 * seen.apart.hard_area / whole, 2),
        "shaded_percent": round(100.0 * seen.apart.soft / whole, 2),
        "moving_percent": round(100.0 * seen.moving / whole, 2),
        "light_stops": round(judge.stops(watcher.sense.gain), 3),
        "shift_px": round(watcher.shift_px, 2),
        "noise_codes": round(noise.sd, 2),
        "still_s": round(min(1.0, max(0.0, watcher.at - watcher.sense.still_since)), 2),
        "settle_s": SETTLE_S,
        "edges": list(seen.apart.edges),
    }


def mask(seen: Glance | None) -> NDArray[np.uint8]:
    """What differs from the last kept picture, one pixel for each block of 4 × 4 (see above)."""
    if seen is None:
        return np.zeros((90, 160), np.uint8)
    shown = np.where(seen.apart.changed, SOFT, NOTHING).astype(np.uint8)
    for part in seen.apart.parts:
        shown[part.where] = AT_EDGE if part.edges else THING
    return shown


def png(values: NDArray[np.uint8]) -> bytes:
    """A grey PNG of the mask."""
    done, data = cv2.imencode(".png", values)
    if not done:
        raise ValueError("The mask could not be encoded.")
    return data.tobytes()
