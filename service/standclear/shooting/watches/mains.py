"""Mains beat: which shutter times see the same light in every exposure.

Mains light varies at twice the mains frequency (100 or 120 times a second), so an exposure that
lasts a whole number of those periods always gathers the same light, whenever it starts.
"""

from fractions import Fraction

MAINS_HZ = (50, 60)


def shutter_seconds(value: str) -> Fraction | None:
    """Seconds of a shutter setting as cameras write it (``1/50``, ``0.5``, ``2"``, ``0,3s``)."""
    text = value.strip().lower().removesuffix('"').removesuffix("s").replace(",", ".").strip()
    try:
        seconds = Fraction(text)
    except (ValueError, ZeroDivisionError):
        return None
    return seconds if seconds > 0 else None


def beats(seconds: Fraction, mains_hz: int, tolerance: float = 0.01) -> bool:
    """Whether an exposure of that length beats with lamps on that mains.

    Cameras write rounded times (1/60 is 1/64 in some); ``tolerance`` is in periods of light.
    """
    periods = seconds * 2 * mains_hz
    return periods < 1 or abs(float(periods - round(periods))) > tolerance * max(float(periods), 1)


def steady_shutters(seconds: Fraction, mains_hz: int) -> tuple[Fraction, Fraction]:
    """The nearest shutter times that do not beat: not longer and not shorter than ``seconds``.

    The first is the longest multiple of the light's period that is no longer (or one period), the
    second the shortest that is no shorter.
    """
    period = Fraction(1, 2 * mains_hz)
    below = max(int(seconds / period), 1) * period
    above = -int(-seconds // period) * period
    return below, max(above, period)


def as_setting(seconds: Fraction) -> str:
    """As a photographer writes it: ``1/50``, ``0.5``, ``2``."""
    if seconds.numerator == 1:
        return f"1/{seconds.denominator}" if seconds.denominator > 1 else "1"
    return f"{float(seconds):.3g}"
