"""Frame rates as exact fractions of frames per second."""

from fractions import Fraction

from standclear.timing.errors import TimingError
from standclear.timing.numbers import exact, number_text

SLOWEST = Fraction(1)
FASTEST = Fraction(240)

# The rounded decimals by which the trade calls the 1001 rates (common practice, no source).
_SPOKEN = {
    "23.976": Fraction(24000, 1001),
    "23.98": Fraction(24000, 1001),
    "29.97": Fraction(30000, 1001),
    "47.95": Fraction(48000, 1001),
    "59.94": Fraction(60000, 1001),
}


def parse_rate(value: object) -> Fraction:
    """Frames per second, exact, from ``"24"``, ``"24000/1001"``, ``"12.5"``, 24 or a Fraction.

    Raises TimingError unless 1 ≤ rate ≤ 240. ``"29.97"`` and its kin mean the 1001 rates.
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        value = f"{value:g}"  # 29.97 as a number is the same word as "29.97"
    if isinstance(value, str) and value.strip() in _SPOKEN:
        return _SPOKEN[value.strip()]
    try:
        rate = exact(value)
    except TimingError as error:
        raise TimingError(f"That is no frame rate: {error.sentence}") from error
    if not SLOWEST <= rate <= FASTEST:
        raise TimingError("A frame rate lies between 1 and 240 frames per second, as 12 or 24 do.")
    if rate.denominator > 100_000:
        raise TimingError("That frame rate is too finely divided; give one such as 24000/1001.")
    return rate


def rate_text(rate: Fraction) -> str:
    """The rate as ``parse_rate`` reads it: ``24``, ``12.5`` or ``24000/1001``."""
    return number_text(rate)


def timebase(rate: Fraction) -> int:
    """The whole number of frame numbers that timecode counts in a second (30 for 30000/1001)."""
    return -(-rate.numerator // rate.denominator)
