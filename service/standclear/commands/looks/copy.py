"""The second copy: is its place there, and is it ours?"""

from collections.abc import Iterator
from pathlib import Path

from standclear.commands.looks.finding import Finding
from standclear.errors import StandclearError


def second_copy(library: Path, mirror: str) -> Iterator[Finding]:
    """Whether the place of ``--mirror`` can be reached; nothing is written there."""
    if not mirror:
        says = "There is none: one broken disk takes everything. Name another disk with --mirror."
        yield Finding("second copy", "warning", says)
        return
    from standclear.library.mirror.address import must_be_apart, parse
    from standclear.library.mirror.identity import IDENTITY_FILE
    from standclear.library.mirror.place import place_at

    try:
        address = parse(mirror)
        must_be_apart(address, library)
        mark = place_at(address).mark()
    except (StandclearError, FileNotFoundError) as error:
        says = error.detail if isinstance(error, StandclearError) else f"{mirror} is not there."
        yield Finding("second copy", "fault", says)
        return
    identity = library / IDENTITY_FILE
    if mark is None:
        says = f"{address.shown} can be reached; a copy will be begun there."
        yield Finding("second copy", "well", says)
    elif identity.exists() and identity.read_text().strip() != mark.library:
        says = f"{address.shown} holds the copy of another library; name an empty folder."
        yield Finding("second copy", "fault", says)
    else:
        says = f"{address.shown} can be reached. `standclear check --mirror` reads all of it."
        yield Finding("second copy", "well", says)
