"""How a person names a shot on the command line: by id, else by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from standclear.errors import NotFound

if TYPE_CHECKING:
    from standclear.library.library import Library
    from standclear.library.records import Shot


def find_shot(library: Library, wanted: str) -> Shot:
    """By id, else by name; of several with one name the newest. Raises NotFound."""
    after: str | None = None
    found: list[Shot] = []
    while True:
        page = library.shots(after=after, limit=100)
        found += [shot for shot in page.items if wanted in (shot.id, shot.name)]
        after = page.next
        if after is None:
            break
    if not found:
        raise NotFound(f"There is no shot {wanted[:64]!r} in this library.")
    return max(found, key=lambda shot: (shot.id == wanted, shot.created_at))
