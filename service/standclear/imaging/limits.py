"""How large a picture may be: a header can claim any size, and a decoder takes it at its word."""

from standclear.imaging.container import UNKNOWN, identify

MOST_PIXELS = 200_000_000
"""More is not decoded. A camera of 24 megapixels has an eighth of it."""

_BMP = b"BM"


def too_large(data: bytes) -> str | None:
    """``None`` when the picture may be decoded, else a sentence that says why not."""
    width, height = claimed(data)
    if width * height <= MOST_PIXELS:
        return None
    return f"It claims {width} x {height} pixels; more than {MOST_PIXELS:,} are not decoded."


def claimed(data: bytes) -> tuple[int, int]:
    """Width and height as the header has them, 0 where it does not tell."""
    if data.startswith(_BMP):  # BITMAPINFOHEADER: both signed, a height below 0 is upside down
        return _signed(data, 18), _signed(data, 22)
    facts = identify(data)
    return (0, 0) if facts == UNKNOWN else (facts.width or 0, facts.height or 0)


def _signed(data: bytes, at: int) -> int:
    return abs(int.from_bytes(data[at : at + 4], "little", signed=True))
