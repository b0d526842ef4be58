"""Bringing one exposure's files from the camera's memory into ours, whole.

Two traps of the binding are met here: the bytes of a CameraFile are a view that dies with it, and
libgphoto2 may hand over fewer bytes than the camera has, without a word.
"""

import logging
import re
from collections.abc import Callable
from pathlib import PurePosixPath
from typing import Any

from standclear.cameras.base import BrokenPicture, CaptureFailed, Original
from standclear.cameras.tethered import faults
from standclear.cameras.tethered.link import Link
from standclear.imaging.container import check_whole, identify

_log = logging.getLogger(__name__)

#: Where libgphoto2 shows a picture that lies in the camera's memory and on no card.
_IN_MEMORY = "/"
_JPEG = {".jpg", ".jpeg"}
_PICTURES = re.compile(
    r"\.(jpe?g|hei[cf]|tiff?|nef|nrw|cr[23w]|crw|arw|sr[2fw]|dng|pef|orf|rw2|raf|3fr|iiq)$", re.I
)
_RAW = r"\b([csm]?raw|nef|cr[23w]|arw|dng)\b"
_BOTH = re.compile(rf"{_RAW}[^+|]*\+|\+[^+|]*{_RAW}", re.I)
_EVENT_WAIT_MS = 100


def makes_two(picture_format: str) -> bool:
    """Whether the camera's picture format names a RAW and another file (``NEF+Fine``)."""
    return bool(_BOTH.search(picture_format))


class Transfer:
    """The files of one camera that is open.

    ``beat`` is called at each sign of life: an event or a timeout, each part of a download.
    """

    def __init__(
        self, link: Link, monotonic: Callable[[], float], beat: Callable[[], None]
    ) -> None:
        self._link = link
        self._gp = link.gp
        self._monotonic = monotonic
        self._beat = beat
        self._context = link.gp.Context()
        self._held = self._context.set_progress_funcs(  # must live as long as the context
            lambda *_: 1, lambda *_: beat(), lambda *_: None, None
        )

    def added(self, wait_s: float, wanted: Callable[[Any], bool]) -> Any | None:
        """The first file that the camera says it added and that is wanted, or ``None`` when none
        is named within the time. Other events are passed over."""
        until = self._monotonic() + wait_s
        while (left := until - self._monotonic()) > 0:
            wait_ms = max(1, min(_EVENT_WAIT_MS, round(left * 1000)))
            kind, what = self._link.camera.wait_for_event(wait_ms)
            self._beat()
            if kind == self._gp.GP_EVENT_FILE_ADDED and wanted(what):
                return what
        return None

    def added_by_failure(self) -> Any | None:
        """A picture that a failed capture left behind all the same; asks for about 0.2 s."""
        try:
            return self.added(0.2, lambda path: bool(_PICTURES.search(path.name)))
        except self._gp.GPhoto2Error:
            return None

    def partner(self, path: Any, wait_s: float) -> Any | None:
        """The other half of a RAW+JPEG pair, or ``None`` (said in the log) when it does not come.

        Halves bear one base name on a card; in the camera's memory libgphoto2 numbers them
        (``capt0000.nef``, ``capt0001.jpg``), and only the kind tells.
        """
        found = self.added(wait_s, lambda other: _are_halves(path, other))
        if found is None:
            _log.warning("%s: the camera's format promises a second file; none came", path.name)
        return found

    def fetch(self, path: Any) -> Original:
        """The file, checked for size and structure; a failing or broken transfer is tried twice.

        Raises CameraAway, CaptureFailed or BrokenPicture, all with ``picture_taken`` true.
        """
        try:
            return self._fetch(path)
        except CaptureFailed as failed:
            _log.warning("%s: %s Trying the transfer again.", path.name, failed.detail)
            return self._fetch(path)

    def _fetch(self, path: Any) -> Original:
        try:
            told = self._told_size(path)
            kind = self._gp.GP_FILE_TYPE_NORMAL
            file = self._link.camera.file_get(path.folder, path.name, kind, None, self._context)
            data = bytes(file.get_data_and_size())  # a copy, while ``file`` still holds it
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise faults.away(error, picture_taken=True) from error
            raise CaptureFailed(
                f"The picture was taken, but {path.name} could not be brought over ({error}).",
                picture_taken=True,
            ) from error
        self._check(path.name, data, told)
        self._forget(path)
        return _original(path.name, data)

    def _told_size(self, path: Any) -> int | None:
        try:
            info = self._link.camera.file_get_info(path.folder, path.name)
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise
            return None  # not every camera tells
        told = info.file.fields & self._gp.GP_FILE_INFO_SIZE
        return int(info.file.size) or None if told else None

    @staticmethod
    def _check(name: str, data: bytes, told: int | None) -> None:
        wrong = check_whole(data)
        if told is not None and told != len(data):
            wrong = f"It has {len(data)} bytes where the camera told of {told}."
        if wrong:
            raise BrokenPicture(f"{name} arrived damaged. {wrong}", picture_taken=True)

    def _forget(self, path: Any) -> None:
        """Free the camera's memory; a file on a card stays there."""
        if path.folder != _IN_MEMORY:
            return
        try:
            self._link.camera.file_delete(path.folder, path.name)
        except self._gp.GPhoto2Error as error:
            _log.debug("%s stays in the camera's memory: %s", path.name, error)


def look_at_first(originals: list[Original]) -> tuple[Original, ...]:
    """The halves of a pair with the one that any program can show before the RAW."""
    return tuple(sorted(originals, key=lambda each: each.extension != "jpg"))


def _original(name: str, data: bytes) -> Original:
    facts = identify(data)
    extension = facts.extension
    if facts.media_type in ("application/octet-stream", "image/tiff"):  # a RAW we do not know
        extension = PurePosixPath(name).suffix[1:].lower() or extension
    return Original(data, facts.media_type, extension, facts.width, facts.height)


def _are_halves(path: Any, other: Any) -> bool:
    one, two = PurePosixPath(path.name), PurePosixPath(other.name)
    if not _PICTURES.search(other.name) or one == two:
        return False
    kinds_differ = (one.suffix.lower() in _JPEG) != (two.suffix.lower() in _JPEG)
    numbered = path.folder == other.folder == _IN_MEMORY
    return kinds_differ and (one.stem == two.stem or numbered)
