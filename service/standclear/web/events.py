"""`/events` (Server-Sent Events) and the screens' word that they are black."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from apiflask import APIBlueprint
from flask import Response, request
from pydantic import Field

from standclear import __version__
from standclear.errors import CallerError
from standclear.shooting import describe
from standclear.shooting.stage import Stage
from standclear.shooting.trigger import as_json
from standclear.web.context import context, stage
from standclear.web.models import In, Query

BEAT_S = 2.0
MOST_LISTENERS = 64


class TooManyListeners(CallerError):
    """More event streams are open than the service will serve."""

    code = "too_many_listeners"
    status = 503
    title = "Too many screens are connected"
    hint = "Close the page on devices that are not needed."


class EventsQuery(Query):
    """Who listens: a screen names itself so that the shutter can wait for it to go black."""

    screen: str | None = Field(default=None, max_length=64)
    last_event_id: str | None = Field(default=None, max_length=64)


class DarkIn(In):
    """For which press the screen is black."""

    press: str = Field(max_length=64)


def message(kind: str, data: Mapping[str, Any], event_id: str | None = None) -> str:
    """One event in the stream's own format (HTML Living Standard, server-sent events)."""
    head = f"id: {event_id}\n" if event_id else ""
    return f"{head}event: {kind}\ndata: {json.dumps(data)}\n\n"


pages = APIBlueprint("events", __name__, tag="events")


class Stream:
    """One listener. It outlives the request's context, so it holds what it needs."""

    def __init__(self, stage: Stage, listeners: set[object]) -> None:
        self._stage = stage
        self._listeners = listeners

    def run(self, screen: str | None, last: int, missed: bool) -> Iterator[str]:
        """Everything that happens from event number ``last`` on."""
        self._listeners.add(self)
        try:
            if screen is None:
                yield from self._follow(last, missed)
            else:
                with self._stage.darkroom.connected(screen):
                    yield from self._follow(last, missed)
        finally:
            self._listeners.discard(self)

    def _follow(self, last: int, missed: bool) -> Iterator[str]:
        yield self._hello(missed)
        while not self._stage.events.closed:
            events = self._stage.events.after(last, BEAT_S)
            if not events:
                yield message("beat", {"now": self._now()})
                continue
            if events[0].number > last + 1:
                yield self._hello(missed=True)
            for event in events:
                yield message(event.kind, event.data, event.id)
            last = events[-1].number

    def _hello(self, missed: bool) -> str:
        data = {
            "missed": missed,
            "now": self._now(),
            "camera": describe.camera(self._stage.camera(), self._stage.camera_status()),
            "second_camera": describe.second_camera(self._stage.second.state()),
            "trigger": as_json(self._stage.trigger.state()),
            "version": __version__,
        }
        return message("hello", data)

    def _now(self) -> str:
        return describe.moment(self._stage.clock.now())


@pages.get("/events")
@pages.input(EventsQuery, location="query", arg_name="query")
@pages.doc(responses={200: "A stream of text/event-stream."})
def events(query: EventsQuery) -> Any:
    """What happens on the set, as it happens."""
    if len(context().listeners) >= MOST_LISTENERS:
        raise TooManyListeners("Too many screens listen already.", retry_after=5)
    asked = request.headers.get("Last-Event-ID") or query.last_event_id
    last, missed = stage().events.resume(asked)
    stream = Stream(stage(), context().listeners)
    response = Response(stream.run(query.screen, last, missed), mimetype="text/event-stream")
    response.headers["Cache-Control"] = "no-store"
    return response


@pages.post("/screens/<screen>/dark")
@pages.input(DarkIn, arg_name="body")
@pages.output({}, status_code=204)
def dark(screen: str, body: DarkIn) -> Any:
    """This screen is black for this press: the shutter need not wait for it."""
    stage().darkroom.is_dark(screen, body.press)
    return Response(status=204)
