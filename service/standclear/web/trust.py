"""`/ca.crt` and what a phone needs to trust this computer; all the rest of plain HTTP is sent on.

Where the service has an authority (``--secure``), its certificate may be had by anyone, over plain
HTTP too: a phone that does not trust it yet cannot get it otherwise. Nothing else is served there.
"""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Flask, Response, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from standclear.errors import CallerError, NotFound, StandclearError
from standclear.shooting.describe import API
from standclear.web import problems

MEDIA_TYPE = "application/x-x509-ca-cert"
#: What the page that explains is made of; it is all that plain HTTP gives.
EXPLAINS = ("/trust", "/ca.crt", "/trust.json", "/icon.svg")
EXPLAINS_BELOW = ("/css/", "/core/", "/views/", "/icons/")


class NotSecure(CallerError):
    """A request to the interface came over plain HTTP."""

    code = "not_secure"
    status = 403
    title = "This service is reached by HTTPS only"
    hint = "Use https:// with the same address; /trust says how a phone comes to trust it."


@dataclass(frozen=True, slots=True)
class Trust:
    """The authority's certificate as PEM, and its SHA-256 fingerprint as systems show it."""

    pem: bytes
    fingerprint: str


def register(app: Flask, trust: Trust | None) -> None:
    """Serve the authority's certificate; with one, send plain HTTP on to HTTPS. After the guard,
    which has looked at the Host header by then."""
    app.register_blueprint(_blueprint(trust))
    if trust is None:
        return

    @app.before_request
    def send_on() -> Response | AnyResponse | None:
        return None if request.is_secure else _instead_of_plain()


def _instead_of_plain() -> Response | AnyResponse | None:
    path = request.path
    if path in EXPLAINS or path.startswith(EXPLAINS_BELOW):
        return None
    if path.startswith(API) or request.method not in ("GET", "HEAD"):
        return problems.from_error(NotSecure("The request came over plain HTTP."))
    if path in ("/", "/handset"):  # a phone's first visit: explain, unless it trusts us already
        return redirect(f"/trust?to={path}", 302)
    return redirect(request.url.replace("http://", "https://", 1), 307)


def _blueprint(trust: Trust | None) -> Blueprint:
    pages = Blueprint("trust", __name__)

    @pages.get("/ca.crt")
    def certificate() -> Response:
        if trust is None:
            missing: StandclearError = NotFound("This service runs without --secure.")
            return problems.from_error(missing)
        response = Response(trust.pem, mimetype=MEDIA_TYPE)
        response.headers["Content-Disposition"] = 'attachment; filename="standclear-ca.crt"'
        response.headers["Cache-Control"] = "no-store"
        return response

    @pages.get("/trust.json")
    def facts() -> Any:
        told = {"secure": trust is not None, "fingerprint": trust.fingerprint if trust else ""}
        return told, {"Cache-Control": "no-store"}

    @pages.get("/trusted")
    def trusted() -> Response:
        """Reached over HTTPS only by who trusts us; the page that explains tries it from HTTP."""
        headers = {"Cross-Origin-Resource-Policy": "cross-origin", "Cache-Control": "no-store"}
        return Response(status=204, headers=headers)

    return pages
