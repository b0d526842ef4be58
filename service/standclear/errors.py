"""Errors by who is to blame: the caller, the camera, the storage.

Each class carries a stable ``code``, the HTTP status it is answered with and a hint that says what
to do. ``web/problems.py`` is the one place that turns them into Problem Details (RFC 9457).
"""

from typing import Any, ClassVar


class StandclearError(Exception):
    """Anything that Standclear can name.

    ``detail`` is the sentence for the person; ``extra`` travels as further members of the Problem.
    """

    code: ClassVar[str] = "internal"
    status: ClassVar[int] = 500
    title: ClassVar[str] = "Something went wrong in the service"
    hint: ClassVar[str] = "Look at the service's log; nothing that was acknowledged is lost."

    def __init__(self, detail: str, *, retry_after: int | None = None, **extra: Any) -> None:
        super().__init__(detail)
        self.detail = detail
        self.retry_after = retry_after
        self.extra = extra


class CallerError(StandclearError):
    """The request asks for something that cannot be."""

    code = "bad_request"
    status = 400
    title = "The request cannot be carried out as it stands"
    hint = "Change the request as the detail says."


class NotFound(CallerError):
    """No such shot, exposure, camera, export or page."""

    code = "not_found"
    status = 404
    title = "There is no such thing"
    hint = "List what there is and use one of its ids."


class Conflict(CallerError):
    """What is asked does not fit the state of things (nothing to undo, key used for another)."""

    code = "conflict"
    status = 409
    title = "That does not fit the present state"
    hint = "Read the present state and decide again."


class ChangedElsewhere(CallerError):
    """Somebody else changed it since it was read (If-Match failed)."""

    code = "changed_elsewhere"
    status = 412
    title = "Somebody else changed this since you read it"
    hint = "Read it again, then repeat the change."


class Invalid(CallerError):
    """A value is of the wrong type or out of range."""

    code = "invalid"
    status = 422
    title = "A value does not fit"
    hint = "Mend the fields named in errors."


class CameraError(StandclearError):
    """The camera is to blame."""

    code = "camera_failed"
    status = 503
    title = "The camera did not do it"
    hint = "Look at the camera; the service takes it up again by itself."


class StorageError(StandclearError):
    """The disk or the database is to blame."""

    code = "storage_failed"
    status = 507
    title = "The library could not be written"
    hint = "Look at the disk that holds the library."
