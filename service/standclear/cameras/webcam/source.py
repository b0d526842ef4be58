"""What stands after ``webcam:``, a device's number, a path or an address, and its options.

``0`` · ``/dev/video2`` · ``rtsp://192.0.2.1/live`` · ``/films/clip.avi``, each with options behind
a question mark: ``0?average=4&size=1920x1080``.
"""

import re
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from standclear.cameras.base import NotOffered

MOST_AVERAGED = 64
_OPTIONS = {"average", "size"}
_SIZE = re.compile(r"^(\d{2,5})x(\d{2,5})$")


@dataclass(frozen=True, slots=True)
class Source:
    """Where the frames come from. ``opens`` is what VideoCapture takes; ``size`` in pixels is
    asked of a device, which may give another."""

    text: str
    opens: int | str
    is_film: bool
    average: int = 1
    size: tuple[int, int] = (1920, 1080)


def read_source(text: str) -> Source:
    """Read it. Raises NotOffered with a sentence for what is no source or no such option."""
    place, options = _split(text)
    if not place:
        raise NotOffered("A webcam needs a number, a path or an address: webcam:0.")
    opens: int | str = int(place) if place.isascii() and place.isdigit() else place
    is_film = isinstance(opens, str) and "://" not in place and not place.startswith("/dev/")
    average = options.get("average", "1")
    if not (average.isascii() and average.isdigit() and 1 <= int(average) <= MOST_AVERAGED):
        raise NotOffered(f"average is a whole number from 1 to {MOST_AVERAGED}, not {average!r}.")
    size = _SIZE.match(options.get("size", "1920x1080"))
    if size is None:
        raise NotOffered(f"size is written like 1920x1080, not {options['size']!r}.")
    return Source(text, opens, is_film, int(average), (int(size[1]), int(size[2])))


def _split(text: str) -> tuple[str, dict[str, str]]:
    """The place and our options; an address keeps the rest of its query, a path its marks."""
    place, mark, query = text.partition("?")
    pairs = parse_qsl(query, keep_blank_values=True)
    ours = {name: value for name, value in pairs if name in _OPTIONS}
    rest = [(name, value) for name, value in pairs if name not in _OPTIONS]
    if not ours:
        if mark and place.isdigit():
            raise NotOffered(f"A webcam's options are {', '.join(sorted(_OPTIONS))}.")
        return text, {}
    if rest and "://" not in place:
        raise NotOffered(f"There is no option {rest[0][0]!r}: {', '.join(sorted(_OPTIONS))}.")
    return place + (f"?{urlencode(rest)}" if rest else ""), ours
