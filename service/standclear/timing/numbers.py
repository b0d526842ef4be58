"""Numbers as people type them, kept exact: ``1.5``, ``.5``, ``1/3``.

Exponents, NaN and endless digits are refused before any arithmetic, so that a hostile number costs
nothing.
"""

import math
import re
from decimal import Decimal
from fractions import Fraction

from standclear.timing.errors import TimingError

LONGEST = 24
_DECIMAL = re.compile(r"-?(?:\d{1,12}(?:\.\d{0,20})?|\.\d{1,20})", re.ASCII)
_RATIO = re.compile(r"(-?\d{1,21})/(\d{1,13})", re.ASCII)


def exact(value: object) -> Fraction:
    """An exact Fraction from text, int, float or Fraction.

    A float is taken as the decimal it prints as (0.1 is one tenth). Raises TimingError.
    """
    if isinstance(value, bool):
        raise TimingError("A number is needed here, not yes or no.")
    if isinstance(value, Fraction):
        return value
    if isinstance(value, str):
        return _from_text(value.strip())
    if isinstance(value, int | float):
        return _from_number(value)
    raise TimingError("A number is needed here.")


def _from_number(value: float) -> Fraction:
    if not math.isfinite(value):
        raise TimingError("That is not a finite number; give a plain one such as 1.5.")
    if abs(value) >= 10**12:
        raise TimingError("That number is too large; give one below 1,000,000,000,000.")
    if isinstance(value, int):
        return Fraction(value)
    return Fraction(repr(value))


def _from_text(text: str) -> Fraction:
    shown = text if len(text) <= LONGEST else text[:LONGEST] + "…"
    ratio = _RATIO.fullmatch(text)
    if ratio:
        if int(ratio[2]) == 0:
            raise TimingError(f"“{shown}” divides by zero; give a number such as 1/2.")
        return Fraction(int(ratio[1]), int(ratio[2]))
    if not _DECIMAL.fullmatch(text):
        raise TimingError(f"“{shown}” is not a number; write it like 2, 1.5 or 1/3.")
    return Fraction(text)


def number_text(value: Fraction) -> str:
    """The shortest plain text that ``exact`` reads back as the same value: 2, 1.5 or 1/3."""
    if value.denominator == 1:
        return str(value.numerator)
    places = _decimal_places(value.denominator)
    if places is None or places > 20:
        return f"{value.numerator}/{value.denominator}"
    scaled = abs(value.numerator) * 10**places // value.denominator
    whole, part = divmod(scaled, 10**places)
    return f"{'-' if value < 0 else ''}{whole}.{part:0{places}d}"


def float_text(value: float) -> str:
    """A float without an exponent, to 20 places: what ``exact`` reads back."""
    return number_text(Fraction(f"{Decimal(repr(value)):.20f}"))


def _decimal_places(denominator: int) -> int | None:
    """How many decimals 1/denominator needs; None when they never end."""
    twos = fives = 0
    while denominator % 2 == 0:
        denominator, twos = denominator // 2, twos + 1
    while denominator % 5 == 0:
        denominator, fives = denominator // 5, fives + 1
    return max(twos, fives) if denominator == 1 else None


def round_half_up(value: Fraction) -> int:
    """The nearest whole number; halves go up, so that rounding is the same for every shift."""
    return math.floor(value + Fraction(1, 2))
