"""An original to an array of pixels, or a sentence that says why not.

JPEG is decoded strictly: a picture that the decoder had to guess at counts as damaged, so that a
film never shows a grey half. RAW is developed with one set of parameters for the whole shot, so
that the developing itself cannot flicker.
"""

import hashlib
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any, TypeAlias

import cv2
import numpy as np
import numpy.typing as npt
import simplejpeg
from PIL import Image, UnidentifiedImageError

from standclear.finishing.problems import PictureUnreadable
from standclear.finishing.shot import FilmExposure
from standclear.imaging.limits import too_large

Pixels: TypeAlias = npt.NDArray[Any]
"""(height, width, 3), blue first, sRGB codes in uint8 or uint16."""

_JPEG_START = b"\xff\xd8\xff"
_ORIENTATION_TAG = 0x0112  # Exif 2.32, "Orientation"
_PLAIN_STARTS = (b"\x89PNG", b"II*\x00", b"MM\x00*", b"RIFF", b"BM")
_RAW_SUFFIXES = {".cr2", ".cr3", ".nef", ".arw", ".dng", ".raf", ".orf", ".rw2", ".pef", ".srw"}


@dataclass(frozen=True)
class RawRecipe:
    """White balance multipliers (R, G, B, G2) that every RAW of the shot is developed with."""

    white_balance: tuple[float, float, float, float] | None = None


def develop(exposure: FilmExposure, raw: RawRecipe | None = None) -> Pixels:
    """The picture, (height, width, 3) sRGB codes, blue first; 8 bits as the original, or 16.

    Raises PictureUnreadable, with the file's name, when it is missing, cut short or altered.
    """
    path = exposure.path
    try:
        data = path.read_bytes()
    except OSError as error:
        raise PictureUnreadable(f"{path.name} cannot be read: {error.strerror}.") from error
    if exposure.sha256 and hashlib.sha256(data).hexdigest() != exposure.sha256:
        raise PictureUnreadable(f"{path.name} is not the file that was kept: its bytes changed.")
    large = too_large(data)
    if large is not None:
        raise PictureUnreadable(f"{path.name} is not decoded: {large}")
    if data.startswith(_JPEG_START):
        return _jpeg(data, path.name, strict=not exposure.sha256)
    if path.suffix.lower() in _RAW_SUFFIXES:
        return _raw(data, path.name, raw or RawRecipe())
    return _plain(data, path.name)


def raw_recipe(exposures: tuple[FilmExposure, ...]) -> RawRecipe:
    """The recipe for a shot: the white balance that the camera noted in the first RAW."""
    for exposure in exposures:
        if exposure.path.suffix.lower() in _RAW_SUFFIXES and exposure.path.exists():
            rawpy = _rawpy(exposure.path.name)
            with rawpy.imread(str(exposure.path)) as picture:
                red, green, blue, green2 = picture.camera_whitebalance
            return RawRecipe((red, green, blue, green2 or green))
    return RawRecipe()


def as_eight_bits(picture: Pixels) -> npt.NDArray[np.uint8]:
    """The picture in 8 bits, rounded."""
    if picture.dtype == np.uint8:
        return picture.astype(np.uint8, copy=False)
    return ((picture.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)


def as_sixteen_bits(picture: Pixels) -> npt.NDArray[np.uint16]:
    """The picture in 16 bits; 255 becomes 65535, exactly."""
    if picture.dtype == np.uint16:
        return picture.astype(np.uint16, copy=False)
    return picture.astype(np.uint16) * np.uint16(257)


def _jpeg(data: bytes, name: str, *, strict: bool) -> Pixels:
    """Strictly, unless a checksum has shown that the bytes are the camera's own."""
    try:
        picture: Pixels = simplejpeg.decode_jpeg(data, "BGR", strict=strict)
    except ValueError as error:
        raise PictureUnreadable(f"{name} is damaged ({str(error).strip('. ')}).") from error
    return _upright(picture, _orientation(data))


def _orientation(data: bytes) -> int:
    if b"Exif\x00" not in data[:65536]:
        return 1
    try:
        with Image.open(BytesIO(data)) as image:
            return int(image.getexif().get(_ORIENTATION_TAG, 1))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        return 1


def _upright(picture: Pixels, orientation: int) -> Pixels:
    """Turned as Exif's Orientation says (Exif 2.32, 4.6.4): 1 as it is … 8 a quarter turn left."""
    if orientation in (5, 6, 7, 8):
        picture = np.swapaxes(picture, 0, 1)
    if orientation in (3, 4, 7, 8):
        picture = picture[::-1]
    if orientation in (2, 3, 6, 7):
        picture = picture[:, ::-1]
    return np.ascontiguousarray(picture)


def _plain(data: bytes, name: str) -> Pixels:
    if not data.startswith(_PLAIN_STARTS):
        raise PictureUnreadable(f"{name} is no picture of a kind that can be developed.")
    try:
        picture = cv2.imdecode(
            np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_ANYDEPTH
        )
    except cv2.error as error:
        raise PictureUnreadable(f"{name} is damaged.") from error
    if picture is None or picture.dtype not in (np.uint8, np.uint16):
        raise PictureUnreadable(f"{name} is damaged or of a kind that cannot be developed.")
    return np.asarray(picture)


def _raw(data: bytes, name: str, recipe: RawRecipe) -> Pixels:
    rawpy = _rawpy(name)
    try:
        with rawpy.imread(BytesIO(data)) as picture:
            developed: Pixels = picture.postprocess(
                output_bps=16,
                output_color=rawpy.ColorSpace.sRGB,
                gamma=(2.4, 12.92),  # IEC 61966-2-1
                no_auto_bright=True,
                adjust_maximum_thr=0.0,
                user_wb=list(recipe.white_balance) if recipe.white_balance else None,
                use_camera_wb=recipe.white_balance is None,
            )
    except rawpy.LibRawError as error:
        raise PictureUnreadable(f"{name} cannot be developed ({error}).") from error
    return np.ascontiguousarray(developed[:, :, ::-1])


def _rawpy(name: str) -> Any:
    try:
        import rawpy  # noqa: PLC0415 - optional: standclear[raw]
    except ImportError as error:
        raise PictureUnreadable(
            f"{name} is a RAW picture; install standclear[raw] to develop it."
        ) from error
    return rawpy


def size_of(path: Path) -> tuple[int, int]:
    """Width and height of a picture from its head alone; (0, 0) when it cannot be told."""
    if path.suffix.lower() in _RAW_SUFFIXES:
        return _raw_size(path)
    try:
        with Image.open(path) as image:
            width, height = image.size
            turned = image.getexif().get(_ORIENTATION_TAG, 1) in (5, 6, 7, 8)
            return (height, width) if turned else (width, height)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        return (0, 0)


def _raw_size(path: Path) -> tuple[int, int]:
    """As it will be developed; what other readers take for the picture is its thumbnail."""
    try:
        rawpy = _rawpy(path.name)
    except PictureUnreadable:
        return (0, 0)
    try:
        with rawpy.imread(str(path)) as picture:
            sizes = picture.sizes
    except (rawpy.LibRawError, OSError):
        return (0, 0)
    turned = sizes.flip in (5, 6)  # a quarter turn, as LibRaw numbers them
    return (sizes.height, sizes.width) if turned else (sizes.width, sizes.height)
