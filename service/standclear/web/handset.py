"""`PUT /handset/photos/{order}`: the photo that a press ordered from a phone.

It is uploaded rather than sent over the socket, so that it has a size and a digest, and can be sent
again when the network cut it. What is answered 201 has come whole, once.
"""

import base64
import binascii
import hashlib
from typing import Any

from apiflask import APIBlueprint
from flask import request
from pydantic import Field

from standclear.cameras.handset import HandsetLink, Photo
from standclear.errors import CallerError
from standclear.web.context import context
from standclear.web.handset_socket import plausible
from standclear.web.models import Out, Query
from standclear.web.sound import PIECE
from standclear.web.whole import READ_WHOLE, STILL_COMING

MOST_PHOTO = 200_000_000


class OrderVoid(CallerError):
    """The press has been given up or answered; the photo is not wanted any more."""

    code = "order_void"
    status = 410
    title = "This photo is no longer wanted"
    hint = "Let it go and wait for the next order."


class AnotherPhoto(CallerError):
    """A different photo was delivered for this order."""

    code = "another_photo"
    status = 409
    title = "Another photo was delivered for this order"
    hint = "Let this one go; an order takes one photo."


class BadDigest(CallerError):
    """The upload's digest is missing, unreadable or not that of its bytes."""

    code = "bad_digest"
    status = 422
    title = "The upload does not fit its digest"
    hint = "Send Content-Digest: sha-256=:…: (RFC 9530) over the body, then the same body again."


class PhotoTooLarge(CallerError):
    """Larger than any photo, or of unknown length."""

    code = "too_large"
    status = 413
    title = "The photo is too large"
    hint = "Send a Content-Length of at most 200 MB."


class PhotoQuery(Query):
    """When it was taken."""

    at_ms: float | None = Field(default=None, description="By the service's monotonic clock, ms.")


class PhotoOut(Out):
    """What was delivered."""

    order: str
    size: int
    sha256: str


pages = APIBlueprint("handset", __name__, tag="handset")


@pages.put("/handset/photos/<order>")
@pages.input(PhotoQuery, location="query", arg_name="query")
@pages.doc(
    description="For the page /handset: the body is the photo's file, with a Content-Digest.",
    responses={409: "Another photo.", 410: "No longer wanted.", 413: "Over 200 MB.", 422: "Digest"},
)
@pages.output(PhotoOut, status_code=201)
def put_photo(order: str, query: PhotoQuery) -> Any:
    """Deliver the photo of an order: once, whole, however often it is sent."""
    link = link_expecting(order)
    told = told_digest()
    data = whole_body(link, order)
    sha256 = hashlib.sha256(data)
    if sha256.digest() != told:
        raise BadDigest("The body is not what its Content-Digest says.")
    at = None if query.at_ms is None else plausible(query.at_ms / 1000)
    outcome = link.delivers(order, Photo(data, sha256.hexdigest(), at))
    if outcome == "void":
        raise OrderVoid("The press was given up before the photo came.")
    if outcome == "other":
        raise AnotherPhoto("This order has its photo already.")
    return {"order": order, "size": len(data), "sha256": sha256.hexdigest()}


def link_expecting(order: str) -> HandsetLink:
    """The handset's link that gave this order. Raises OrderVoid."""
    for link in context().handsets.all():
        if link.expects(order):
            return link
    raise OrderVoid("No press waits for this photo.")


def told_digest() -> bytes:
    """The SHA-256 in Content-Digest, a dictionary of byte sequences (RFC 9530, 2). Raises
    BadDigest."""
    for entry in request.headers.get("Content-Digest", "").split(","):
        name, _, value = entry.strip().partition("=")
        if name == "sha-256" and value.startswith(":") and value.endswith(":"):
            try:
                return base64.b64decode(value[1:-1], validate=True)
            except (binascii.Error, ValueError):
                break
    raise BadDigest("There is no readable sha-256 in Content-Digest.")


def whole_body(link: HandsetLink, order: str) -> bytes:
    """The body; each piece of it shows that the handset is at work. Raises PhotoTooLarge."""
    length = request.content_length
    if length is None or length > MOST_PHOTO:
        raise PhotoTooLarge("The photo's length is not told, or is more than 200 MB.")
    request.max_content_length = MOST_PHOTO
    still_coming = request.environ.get(STILL_COMING, lambda: None)
    body = bytearray()
    while piece := request.stream.read(max(PIECE, length // 16)):
        still_coming()
        link.works_on(order)
        body += piece
    request.environ.get(READ_WHOLE, lambda: None)()
    return bytes(body)
