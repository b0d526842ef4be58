"""Problem Details (RFC 9457): the one place that builds an error's answer."""

import logging
from http import HTTPStatus
from typing import Any

from apiflask import APIFlask
from apiflask.exceptions import HTTPError
from flask import Response, json, request
from werkzeug.exceptions import HTTPException

from standclear.errors import StandclearError
from standclear.shooting import describe

log = logging.getLogger(__name__)

MEDIA_TYPE = "application/problem+json"
MOST_ERRORS = 20

_HTTP = {
    400: ("bad_request", "Send the request as the API's description has it."),
    404: ("not_found", "List what there is and use one of its ids."),
    405: ("method_not_allowed", "See the Allow header for what this address answers to."),
    406: ("not_acceptable", "Ask for application/json."),
    408: ("too_slow", "Send the request without pausing."),
    411: ("length_required", "Send a Content-Length."),
    413: ("too_large", "Send less; bodies are limited to 1 MB."),
    415: ("unsupported_media_type", "Send application/json."),
    416: ("range_not_satisfiable", "Ask for a range inside the file."),
    422: ("invalid", "Mend the fields named in errors."),
}


def problem_response(body: dict[str, Any], retry_after: int | None = None) -> Response:
    """The answer for a finished problem body."""
    body = {**body, "instance": request.path}
    response = Response(json.dumps(body), status=body["status"], mimetype=MEDIA_TYPE)
    response.headers["Cache-Control"] = "no-store"
    if retry_after is not None:
        response.headers["Retry-After"] = str(retry_after)
    return response


def from_error(error: StandclearError) -> Response:
    """The answer for an error of ours."""
    retry_after = error.retry_after
    if retry_after is None and error.status == 503:
        retry_after = 2
    return problem_response(describe.problem(error), retry_after)


def from_status(status: int, detail: str, errors: list[dict[str, str]] | None = None) -> Response:
    """The answer for a plain HTTP status."""
    code, hint = _HTTP.get(status, ("http_error", ""))
    title = HTTPStatus(status).phrase
    body: dict[str, Any] = {
        "type": f"{describe.API}/problems#{code}",
        "title": title,
        "status": status,
        "detail": detail or title,
        "code": code,
        "hint": hint,
    }
    if errors:
        body["errors"] = errors
    return problem_response(body)


def _field_errors(detail: Any) -> list[dict[str, str]]:
    """APIFlask's {location: {field: [messages]}} as a flat list, which is never much longer than
    the request: a thousand wrong members are not told one by one."""
    found: list[dict[str, str]] = []
    if isinstance(detail, dict):
        for location, fields in detail.items():
            rows = fields.items() if isinstance(fields, dict) else [("", fields)]
            for name, says in rows:
                texts = says if isinstance(says, list) else [says]
                found.append(
                    {"in": str(location), "field": str(name), "says": "; ".join(map(str, texts))}
                )
    return found[:MOST_ERRORS]


def register(app: APIFlask) -> None:
    """Answer every error of the application as a Problem."""

    @app.errorhandler(StandclearError)
    def ours(error: StandclearError) -> Response:
        if error.status >= 500:
            log.warning("%s %s: %s", request.method, request.path, error.detail)
        return from_error(error)

    @app.error_processor
    def apiflask_error(error: HTTPError) -> Response:  # type: ignore[type-arg,unused-ignore]
        return from_status(error.status_code, error.message or "", _field_errors(error.detail))

    @app.errorhandler(HTTPException)
    def http_error(error: HTTPException) -> Response:
        response = from_status(error.code or 500, error.description or "")
        for name, value in error.get_headers():
            if name in ("Allow", "Content-Range"):
                response.headers[name] = value
        return response

    @app.errorhandler(Exception)
    def unforeseen(_error: Exception) -> Response:
        log.exception("%s %s failed", request.method, request.path)
        return from_error(StandclearError("The service met something it did not foresee."))
