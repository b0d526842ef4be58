"""What a person may enter: names, notes, frame rates, holds. The rest is refused in words."""

import re
import unicodedata
from fractions import Fraction

from standclear.errors import Invalid
from standclear.timing.errors import TimingError
from standclear.timing.rates import parse_rate

NAME_MAX = 200
NOTE_MAX = 2000
HOLD_MAX = 10_000
SLOWEST, FASTEST = Fraction(1), Fraction(120)
_RATE = re.compile(r"([0-9]{1,7})(?:/([0-9]{1,7}))?")
_LINE_BREAKS = "\n\r\t"


def refuse(field: str, says: str) -> Invalid:
    """The error for one field, naming it."""
    return Invalid(says, errors=[{"field": field, "says": says}])


def name(value: str, field: str = "name") -> str:
    """A name as it is kept: stripped, 1 to 200 characters, no control characters."""
    stripped = value.strip()
    if not 1 <= len(stripped) <= NAME_MAX:
        raise refuse(field, f"A name has 1 to {NAME_MAX} characters; this one has {len(stripped)}.")
    if any(unicodedata.category(c) in {"Cc", "Cs"} for c in stripped):
        raise refuse(field, "A name holds no control characters; take them out.")
    return stripped


def note(value: str, field: str = "note") -> str:
    """Free text of at most 2000 characters; line breaks and tabs are welcome."""
    if len(value) > NOTE_MAX:
        raise refuse(field, f"This text has at most {NOTE_MAX} characters; it has {len(value)}.")
    if any(unicodedata.category(c) in {"Cc", "Cs"} for c in value if c not in _LINE_BREAKS):
        raise refuse(field, "This text holds no control characters but line breaks and tabs.")
    return value


def frame_rate(value: str, field: str = "frame_rate") -> str:
    """A frame rate as text: frames per second, whole or as a fraction, from 1 to 120."""
    text = value.strip()
    match = _RATE.fullmatch(text)
    if match is None:
        raise refuse(
            field, 'A frame rate is a whole number or a fraction, like "12" or "24000/1001".'
        )
    below = int(match[2] or "1")
    if below == 0:
        raise refuse(field, "A frame rate cannot be divided by zero.")
    if not SLOWEST <= Fraction(int(match[1]), below) <= FASTEST:
        raise refuse(field, f"A frame rate is from {SLOWEST} to {FASTEST} frames per second.")
    try:
        parse_rate(text)
    except TimingError as error:
        raise refuse(field, error.sentence) from error
    return text


def hold(value: int, field: str = "hold") -> int:
    """For how many frames an exposure is shown: 1 to 10,000."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= HOLD_MAX:
        raise refuse(field, f"A hold is a whole number of frames from 1 to {HOLD_MAX}.")
    return value


def limit(value: int, most: int) -> int:
    """How many items a page may have."""
    if not 1 <= value <= most:
        raise refuse("limit", f"A page has 1 to {most} items.")
    return value
