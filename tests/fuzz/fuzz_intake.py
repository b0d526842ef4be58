"""Fuzzes the image intake: what a camera sends is told whole or broken, measured or refused."""

from io import BytesIO

import atheris

with atheris.instrument_imports(include=["standclear.imaging", "standclear.library"]):
    from standclear.imaging.container import JPEG_START, check_whole, identify
    from standclear.imaging.decode import Decoded, Undecodable, decode
    from standclear.library.embedded import largest_jpeg

import numpy as np
import tifffile
from PIL import Image

from tests.fuzz.target import fuzz

LARGEST = 30_000_000  # decoding more is only slow; bombs are tried in tests/api


def one_input(data: bytes) -> None:
    """One file, as it might arrive from a camera."""
    facts = identify(data)
    assert facts.extension.isalnum()
    wrong = check_whole(data)
    assert wrong is None or wrong.endswith("."), wrong
    inside = largest_jpeg(data)
    assert inside is None or data[inside.offset :].startswith(JPEG_START)
    if (facts.width or 0) * (facts.height or 0) > LARGEST:
        return
    found = decode(data)
    if isinstance(found, Undecodable):
        assert found.says
    else:
        assert isinstance(found, Decoded)
        assert found.pixels.ndim == 3


def seeds() -> list[bytes]:
    """One small picture of each kind."""
    picture = np.tile(np.arange(48, dtype=np.uint8)[:, None, None], (1, 64, 3))
    made = []
    for kind in ("JPEG", "PNG", "TIFF", "BMP", "WEBP"):
        file = BytesIO()
        Image.fromarray(picture).save(file, kind)
        made.append(file.getvalue())
    deep = BytesIO()
    tifffile.imwrite(deep, picture.astype(np.uint16) * 257, photometric="rgb")
    heads = [b"\0\0\0\x18ftypcrx \0\0\0\1crx isom", b"FUJIFILMCCD-RAW 0201" + bytes(100)]
    return [*made, deep.getvalue(), *heads]


if __name__ == "__main__":
    fuzz(one_input, seeds())
