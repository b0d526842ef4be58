"""`/shots/{shot}/sound`: the sound under a shot, its waveform, and the marks along it."""

from collections.abc import Iterator
from typing import Annotated, Any

from apiflask import APIBlueprint
from flask import Response, request, send_file
from pydantic import Field
from werkzeug.exceptions import RequestEntityTooLarge

from standclear.errors import CallerError
from standclear.finishing import sounds
from standclear.shooting.describe import API
from standclear.web.context import library, stage
from standclear.web.models import In, Out, Query
from standclear.web.whole import READ_WHOLE, STILL_COMING

pages = APIBlueprint("sound", __name__, tag="sound")

MOST_SOUND = 200_000_000
PIECE = 64 * 1024
FAR = 1_000_000

MarkFrame = Annotated[str, Field(pattern=r"^[1-9]\d{0,6}$")]
MarkText = Annotated[str, Field(min_length=1, max_length=80)]


class SoundTooLarge(CallerError):
    """More than 200 MB of sound."""

    code = "too_large"
    status = 413
    title = "The sound file is too large"
    hint = "Send at most 200 MB: cut it to the shot, or encode it as FLAC, MP3 or AAC."


class SoundQuery(Query):
    """What the person calls the file."""

    name: str = Field(default="sound", min_length=1, max_length=200)


class SoundOut(Out):
    """The sound under a shot; ``offset_frames`` shot frames pass before it starts."""

    name: str
    media_type: str
    size: int
    duration_s: float
    offset_frames: int
    url: str


class SoundIn(In):
    """Where the sound starts."""

    offset_frames: int = Field(ge=-FAR, le=FAR)


class PeaksOut(Out):
    """The waveform: pairs of lowest and highest sample from -1 to 1, some for each frame."""

    rate: str
    slices_per_frame: int
    duration_s: float
    peaks: list[tuple[float, float]]


class MarksIn(In):
    """What is heard, by frame of the shot from 1."""

    marks: dict[MarkFrame, MarkText] = Field(max_length=5000)


class MarksOut(Out):
    """The marks, and the sound that they belong to (null while there is none)."""

    marks: dict[str, str]
    sound: SoundOut | None


def facts(shot_id: str, sound: sounds.Sound) -> dict[str, Any]:
    """A sound as the API shows it."""
    return {**sounds.as_json(sound), "url": f"{API}/shots/{shot_id}/sound/file?v={sound.file}"}


def changed(shot_id: str) -> None:
    """Tell every page."""
    stage().events.publish("sound", {"shot": shot_id})


@pages.get("/shots/<shot_id>/sound")
@pages.output(SoundOut)
def get_sound(shot_id: str) -> Any:
    """What is laid under the shot."""
    library().shot(shot_id)
    return facts(shot_id, sounds.required_sound(library(), shot_id))


@pages.put("/shots/<shot_id>/sound")
@pages.input(SoundQuery, location="query", arg_name="query")
@pages.doc(
    description="The body is the file itself: WAV, FLAC, MP3 or AAC, at most 200 MB.",
    responses={413: "More than 200 MB.", 422: "No sound that can be read."},
)
@pages.output(SoundOut)
def put_sound(shot_id: str, query: SoundQuery) -> Any:
    """Lay a sound under the shot, in place of the one before."""
    library().shot(shot_id)
    try:
        kept = sounds.keep_sound(library(), shot_id, query.name, pieces_of_body())
    except RequestEntityTooLarge as error:
        raise SoundTooLarge("The sound file is larger than 200 MB.") from error
    changed(shot_id)
    return facts(shot_id, kept)


@pages.patch("/shots/<shot_id>/sound")
@pages.input(SoundIn, arg_name="body")
@pages.output(SoundOut)
def patch_sound(shot_id: str, body: SoundIn) -> Any:
    """Let it start at another frame."""
    library().shot(shot_id)
    moved = sounds.move_sound(library(), shot_id, body.offset_frames)
    changed(shot_id)
    return facts(shot_id, moved)


@pages.delete("/shots/<shot_id>/sound")
@pages.output({}, status_code=204)
def delete_sound(shot_id: str) -> Any:
    """Take the sound away; its marks stay."""
    library().shot(shot_id)
    sounds.remove_sound(library(), shot_id)
    changed(shot_id)
    return Response(status=204)


@pages.get("/shots/<shot_id>/sound/file")
@pages.doc(responses={200: "The file as it was given."})
def get_file(shot_id: str) -> Any:
    """The file as it was given."""
    sound = sounds.required_sound(library(), shot_id)
    path = sounds.sound_path(library(), shot_id, sound)
    response = send_file(path, mimetype=sound.media_type, conditional=True, etag=sound.file)
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


@pages.get("/shots/<shot_id>/sound/peaks")
@pages.output(PeaksOut)
def get_peaks(shot_id: str) -> Any:
    """The waveform by frame, to draw over the timing chart."""
    library().shot(shot_id)
    return sounds.peaks(library(), shot_id)


@pages.get("/shots/<shot_id>/sound/marks")
@pages.output(MarksOut)
def get_marks(shot_id: str) -> Any:
    """What is heard at which frame."""
    return marks_of(shot_id)


def marks_of(shot_id: str) -> dict[str, Any]:
    """The marks and their sound as the API shows them."""
    library().shot(shot_id)
    found = sounds.sound_marks(library(), shot_id)
    sound = sounds.sound_of(library(), shot_id)
    return {
        "marks": {str(frame): text for frame, text in found.items()},
        "sound": None if sound is None else facts(shot_id, sound),
    }


@pages.put("/shots/<shot_id>/sound/marks")
@pages.input(MarksIn, arg_name="body")
@pages.output(MarksOut)
def put_marks(shot_id: str, body: MarksIn) -> Any:
    """Replace the marks."""
    library().shot(shot_id)
    sounds.put_sound_marks(
        library(), shot_id, {int(frame): text for frame, text in body.marks.items()}
    )
    changed(shot_id)
    return marks_of(shot_id)


def pieces_of_body() -> Iterator[bytes]:
    """The body a piece at a time, so that 200 MB never lie in memory.

    Each piece must come within the server's limit for slow senders; then the limit starts anew.
    """
    request.max_content_length = MOST_SOUND
    still_coming = request.environ.get(STILL_COMING, lambda: None)
    while piece := request.stream.read(PIECE):
        still_coming()
        yield piece
    request.environ.get(READ_WHOLE, lambda: None)()
