"""Takes the request in whole before anything is done with it, and tells the server that it has.

Until then the server's limit for slow senders runs (``server.py``); after it the answer may take as
long as it wants: an exposure of half a minute, an event stream of a day.
"""

from apiflask import APIFlask
from flask import request

READ_WHOLE = "standclear.read_whole"
STILL_COMING = "standclear.still_coming"
IN_PIECES = frozenset({"sound.put_sound", "handset.put_photo"})
"""Routes that take their body in pieces, and tell the server after each (``STILL_COMING``)."""


def register(app: APIFlask) -> None:
    """Put the reading before every request. A body over the limit is answered 413."""

    @app.before_request
    def read_whole() -> None:
        if request.endpoint in IN_PIECES:
            return
        try:
            request.get_data(cache=True)
        finally:
            request.environ.get(READ_WHOLE, _nobody)()


def _nobody() -> None:
    """The server at hand has no limit to lift (tests)."""
