"""`/shell.json`: the files that the page is made of, and a tag that changes whenever one does.

The service worker keeps exactly these on the phone, all or none, so that the page comes up at once
on a poor network and can say that the service does not answer. Live pictures and state are no part
of it, so none of them is ever kept.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from flask import Blueprint

KINDS = (".html", ".js", ".css", ".svg", ".png", ".webmanifest")
WORKER = "service-worker.js"
APART = ("pictures",)  # pictures of the README


def files(folder: Path) -> Iterator[Path]:
    """The page's own files below ``folder``, in order of their names."""
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if path.suffix in KINDS and str(name) != WORKER and name.parts[0] not in APART:
            yield path


def describe(folder: Path) -> dict[str, Any]:
    """Paths as the page asks for them, and the tag: by name, size and time of change."""
    tag = hashlib.sha256()
    names = []
    for path in files(folder):
        name = path.relative_to(folder).as_posix()
        facts = path.stat()
        tag.update(f"{name}\0{facts.st_size}\0{facts.st_mtime_ns}\n".encode())
        names.append("/" if name == "index.html" else f"/{name}")
    return {"tag": tag.hexdigest()[:32], "files": names}


def blueprint(folder: Path) -> Blueprint:
    """Open to all, like the page itself."""
    pages = Blueprint("shell", __name__)

    @pages.get("/shell.json")
    def shell() -> Any:
        return describe(folder), {"Cache-Control": "no-store"}

    return pages
