"""ETags from revisions, and If-Match."""

from flask import Response, jsonify, request

from standclear.errors import CallerError


class BadIfMatch(CallerError):
    """If-Match carries something that this service never gave out."""

    code = "bad_if_match"
    status = 412
    title = "Somebody else changed this since you read it"
    hint = "Read it again and send its ETag."


def if_revision() -> int | None:
    """The revision that If-Match asks for; ``None`` when it asks for none (or for ``*``)."""
    if not request.headers.get("If-Match") or request.if_match.star_tag:
        return None
    tags = list(request.if_match.as_set(include_weak=True))
    numbers = [tag for tag in tags if tag.isdecimal() and len(tag) < 16]
    if len(numbers) != 1:
        raise BadIfMatch("If-Match names no revision of this.")
    return int(numbers[0])


def with_revision(body: dict[str, object], status: int = 200) -> Response:
    """The body as JSON, tagged with its own ``revision``; 304 where the caller has it."""
    response = jsonify(body)
    response.status_code = status
    response.set_etag(str(body["revision"]))
    response.headers["Cache-Control"] = "private, no-cache"
    if status == 200 and request.method == "GET":
        response.make_conditional(request)
    return response
