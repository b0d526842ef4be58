"""From the library's shot to what finishing sees of it."""

from standclear.finishing.shot import FilmExposure, FilmShot
from standclear.finishing.sounds import sound_marks, sound_of, sound_path
from standclear.library.library import Library
from standclear.library.records import Exposure

PAGE = 1000


def film_shot(shelf: Library, shot_id: str) -> FilmShot:
    """The shot as finishing sees it, with all its exposures in order, its sound and its marks."""
    shot = shelf.shot(shot_id)
    exposures: list[FilmExposure] = []
    cursor: str | None = None
    while True:
        page = shelf.exposures(shot_id, after=cursor, limit=PAGE)
        exposures += [film_exposure(shelf, one) for one in page.items]
        cursor = page.next
        if cursor is None:
            break
    sound = sound_of(shelf, shot_id)
    return FilmShot(
        shot.name,
        shot.frame_rate,
        tuple(exposures),
        sound=None if sound is None else sound_path(shelf, shot_id, sound),
        sound_start=0 if sound is None else sound.offset_frames,
        marks=sound_marks(shelf, shot_id),
    )


def film_exposure(shelf: Library, one: Exposure) -> FilmExposure:
    """One exposure; its first original is the one to look at."""
    file = one.originals[0]
    return FilmExposure(
        path=shelf.original_path(one.shot_id, one.id),
        hold=one.hold,
        media_type=file.media_type,
        width=file.width or 0,
        height=file.height or 0,
        note=one.note,
        sha256=file.sha256,
        taken_at=one.taken_at.isoformat(),
    )
