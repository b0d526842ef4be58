"""Looks at a whole shot again, from its first exposure on, and keeps the verdicts."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from standclear.library.library import Library
from standclear.library.records import Exposure
from standclear.shooting.watches.shot_watch import ShotWatch
from standclear.shooting.watches.table import nothing_told
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watchroom import thresholds_of

PAGE = 100


@dataclass(frozen=True, slots=True)
class Looked:
    """One exposure and its new verdict."""

    exposure: str
    number: int
    verdict: Mapping[str, Any]


def recheck(library: Library, shot: str, limits: Thresholds | None = None) -> Iterator[Looked]:
    """Examine each exposure in order and keep its verdict; what was accepted is the reference from
    there on, as it was."""
    watch = ShotWatch(limits or thresholds_of(library, shot))
    after: str | None = None
    while True:
        page = library.exposures(shot, after=after, limit=PAGE)
        for exposure in page.items:
            yield Looked(exposure.id, exposure.number or 0, _again(library, watch, exposure))
        after = page.next
        if after is None:
            return


def _again(library: Library, watch: ShotWatch, exposure: Exposure) -> dict[str, Any]:
    try:
        data = library.original_path(exposure.shot_id, exposure.id).read_bytes()
    except OSError:
        verdict = nothing_told("The original is missing or cannot be read.")
    else:
        verdict = watch.examine_file(data, key=exposure.id, settings=exposure.settings)
    if (exposure.verdict or {}).get("accepted"):
        verdict = {**verdict, "accepted": True}
        watch.accept()
    library.put_verdict(exposure.id, verdict)
    return verdict
