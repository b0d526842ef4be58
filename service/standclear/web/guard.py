"""Who may enter: Host, Origin, pairing, size; for HTTP and websocket handshakes alike.

- A **Host** that is neither this machine's address nor one of its names is answered 421: a page on
  another site whose name was rebound to this address gets nothing (DNS rebinding).
- An **Origin** that is not this very page is answered 403, before anything is looked up.
- Without a valid cookie or token everything but the page, the health check and pairing is 401.
"""

import ipaddress
import socket
from collections.abc import Callable, Collection, Mapping
from typing import Any
from urllib.parse import urlsplit

from apiflask import APIFlask
from flask import Response, request

from standclear.errors import CallerError, StandclearError
from standclear.shooting.describe import API
from standclear.web import problems

OPEN_ENDPOINTS = ("health.", "pairing.")


class Misdirected(CallerError):
    """The request came under a name that is not ours."""

    code = "misdirected"
    status = 421
    title = "This service does not go by that name"
    hint = "Use the address that the service printed when it started."


class ForeignOrigin(CallerError):
    """A page from somewhere else is asking."""

    code = "foreign_origin"
    status = 403
    title = "Requests from other pages are not taken"
    hint = "Open the page from this service's own address."


class Unpaired(CallerError):
    """No valid cookie or token came with the request."""

    code = "unpaired"
    status = 401
    title = "This device is not paired"
    hint = "Pair with the code on the host's screen, or send a token."


class Names:
    """The names and addresses that this service answers to."""

    def __init__(self, extra: Collection[str] = ()) -> None:
        host = socket.gethostname().lower()
        self._names = {"localhost", host, f"{host.split('.')[0]}.local", *map(str.lower, extra)}

    def ours(self, host_header: str, environ: Mapping[str, Any]) -> bool:
        """Whether ``Host`` is one of our names, or the address that the request came in at."""
        parts = split_host(host_header)
        if parts is None:
            return False
        name, port = parts
        reached = reached_at(environ)
        if reached is not None and port is not None and port != reached[1]:
            return False
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return name in self._names
        if reached is None:
            return address.is_loopback
        return address == ipaddress.ip_address(reached[0].partition("%")[0])


def split_host(header: str) -> tuple[str, int | None] | None:
    """(name, port) of a Host header in lower case, ``None`` when it is none."""
    if not header or any(bad in header for bad in "/@?#\\ \t,"):
        return None
    try:
        parts = urlsplit(f"//{header}")
        name, port = parts.hostname, parts.port
    except ValueError:
        return None
    return None if not name else (name.rstrip("."), port)


def reached_at(environ: Mapping[str, Any]) -> tuple[str, int] | None:
    """Address and port at which the connection came in, where the server tells."""
    sock = environ.get("gunicorn.socket") or environ.get("werkzeug.socket")
    if sock is None:
        return None
    try:
        name = sock.getsockname()
    except OSError:
        return None
    address = ipaddress.ip_address(str(name[0]).partition("%")[0])
    mapped = getattr(address, "ipv4_mapped", None)
    return str(mapped or address), int(name[1])


def own_origin(origin: str, host_header: str, scheme: str) -> bool:
    """Whether the Origin header is this very page's."""
    parts = urlsplit(origin)
    given, ours = split_host(parts.netloc), split_host(host_header)
    if parts.scheme != scheme or given is None or ours is None:
        return False
    default = 443 if scheme == "https" else 80
    return (given[0], given[1] or default) == (ours[0], ours[1] or default)


def register(app: APIFlask, names: Names, is_paired: Callable[[], bool]) -> None:
    """Put the guard before every request."""

    @app.before_request
    def guard() -> Response | None:
        try:
            _check_names(names)
            if not _is_open() and not is_paired():
                raise Unpaired("Pair this device first.")
        except StandclearError as error:
            return problems.from_error(error)
        return None


def _is_open() -> bool:
    """The page's own files, the health check and pairing; nothing else below the interface, so
    that a stranger cannot even tell which addresses there are."""
    if not request.path.startswith(API):
        return True
    return (request.endpoint or "").startswith(OPEN_ENDPOINTS)


def _check_names(names: Names) -> None:
    host = request.headers.get("Host", "")
    if not names.ours(host, request.environ):
        raise Misdirected("The Host header names another machine.")
    origin = request.headers.get("Origin")
    if origin is not None and not own_origin(origin, host, request.scheme):
        raise ForeignOrigin("The request comes from another page.")
    if request.headers.get("Sec-Fetch-Site") == "cross-site" and request.path.startswith(API):
        raise ForeignOrigin("The request comes from another site.")
