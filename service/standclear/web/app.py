"""The application, made by a factory from what it is given."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import flask
from apiflask import APIFlask
from werkzeug.exceptions import BadRequest

from standclear import __version__
from standclear.cameras.base import Identity
from standclear.cameras.handset import HandsetLinks
from standclear.finishing.jobs import ExportDesk
from standclear.shooting.describe import API
from standclear.shooting.mirroring import Mirroring
from standclear.shooting.stage import Stage
from standclear.web import (
    camera,
    clean_up,
    events,
    exports,
    exposures,
    files,
    formats,
    guard,
    handset,
    handset_socket,
    health,
    live,
    looks,
    mirror,
    page,
    pairing,
    plan,
    planpreview,
    playback,
    problems,
    report,
    reseat,
    shell,
    shots,
    sound,
    steadytest,
    thresholds,
    trigger,
    trust,
    whole,
)
from standclear.web.context import KEY, Context
from standclear.web.gate import Gate
from standclear.web.once import Once

MOST_BODY = 1_000_000
RESOURCES = (
    health,
    pairing,
    camera,
    handset,
    shots,
    exposures,
    files,
    playback,
    plan,
    planpreview,
    thresholds,
    steadytest,
    reseat,
    report,
    trigger,
    exports,
    formats,
    looks,
    clean_up,
    sound,
    mirror,
    events,
)


class Request(flask.Request):
    """A request whose absent body is an empty object: every member of a press may be left out."""

    def get_json(self, force: bool = False, silent: bool = False, cache: bool = True) -> Any:
        """The body as JSON; ``{}`` when there is none."""
        if not self.content_length and "Transfer-Encoding" not in self.headers:
            return {}
        try:
            return super().get_json(force, silent, cache)
        except RecursionError:
            raise BadRequest("The JSON is nested too deeply.") from None


@dataclass(frozen=True, slots=True)
class Service:
    """The application and what the server must know of it."""

    app: APIFlask
    viewers: live.Viewers


def _bare() -> APIFlask:
    """The framework's application with our limits and manners, and no route yet."""
    app = APIFlask(
        __name__,
        title="Standclear",
        version=__version__,
        spec_path=f"{API}/openapi.json",
        docs_path=None,
        static_folder=None,  # type: ignore[arg-type]
    )
    app.request_class = Request
    app.config.update(
        MAX_CONTENT_LENGTH=MOST_BODY,
        MAX_FORM_MEMORY_SIZE=MOST_BODY,
        JSON_SORT_KEYS=False,
        AUTO_404_RESPONSE=False,
        VALIDATION_ERROR_DESCRIPTION="A value does not fit; see errors.",
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    return app


def create_app(
    stage: Stage,
    gate: Gate,
    desk: ExportDesk,
    *,
    attached: Callable[[], Sequence[Identity]],
    names: Sequence[str] = (),
    handsets: HandsetLinks | None = None,
    authority: trust.Trust | None = None,
    mirroring: Mirroring | None = None,
) -> Service:
    """Make the application over what is given; ``names`` are further host names of ours."""
    app = _bare()
    problems.register(app)
    guard.register(app, guard.Names(names), lambda: pairing.is_let_in(gate))
    trust.register(app, authority)
    whole.register(app)
    app.extensions[KEY] = Context(
        stage,
        gate,
        desk,
        attached,
        Once(stage.library),
        mirroring,
        handsets=handsets or HandsetLinks(),
    )
    for resource in RESOURCES:
        app.register_blueprint(resource.pages, url_prefix=API)
    webclient = page.find_webclient()
    app.register_blueprint(shell.blueprint(webclient))
    app.register_blueprint(page.blueprint(webclient))
    app.after_request(page.with_headers)
    viewers = live.register(app, stage)
    handset_socket.register(app, viewers)
    return Service(app, viewers)
