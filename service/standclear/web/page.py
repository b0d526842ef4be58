"""The page: static files, no build step, nothing from elsewhere."""

from pathlib import Path
from typing import Any

from flask import Blueprint, Response, send_from_directory

# Everything from this service alone; no inline script or style; nobody may frame the page.
CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "media-src 'self' blob:; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
    "font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), microphone=(), geolocation=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


def find_webclient() -> Path:
    """The page's folder: inside the installed package, or beside service/ in a checkout."""
    package = Path(__file__).resolve().parent.parent
    installed = package / "webclient"
    return installed if installed.is_dir() else package.parent.parent / "webclient"


def blueprint(folder: Path) -> Blueprint:
    """Serves the page's files."""
    pages = Blueprint("page", __name__)

    def file(name: str) -> Response:
        response = send_from_directory(folder, name, conditional=True)
        response.headers["Cache-Control"] = "no-cache"
        return response

    @pages.get("/")
    def index() -> Any:
        return file("index.html")

    @pages.get("/handset")
    def handset() -> Any:
        return file("handset.html")

    @pages.get("/trust")
    def trust() -> Any:
        response = file("trust.html")  # it tries, from HTTP, whether HTTPS is trusted already
        response.headers["Content-Security-Policy"] = CONTENT_SECURITY_POLICY.replace(
            "connect-src 'self'", "connect-src 'self' https:"
        )
        return response

    @pages.get("/<path:name>")
    def asset(name: str) -> Any:
        return file(name)

    return pages


def with_headers(response: Response) -> Response:
    """The headers that every answer carries."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    return response
