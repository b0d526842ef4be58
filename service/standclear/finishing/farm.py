"""The same work on other machines: finished pictures made by a Dask distributed scheduler.

Optional (``standclear[farm]``). A picture is a pure function of (exposure, parameters), so where it
is made does not change its bytes, and a worker that dies in the middle only costs time: the
scheduler gives its pictures to another. The originals must be reachable for the workers under the
same paths (a shared folder).
"""

from typing import Any, Self

from standclear.finishing.develop import Pixels
from standclear.finishing.problems import CannotExport
from standclear.finishing.shot import FilmExposure
from standclear.finishing.work import PictureWork, finished

AHEAD = 8
"""Pictures asked for at a time."""


class Farm:
    """A connection to a scheduler. A context manager; leaving it lets the scheduler go."""

    def __init__(self, address: str, timeout_s: float = 10.0) -> None:
        distributed = _distributed()
        try:
            self._client: Any = distributed.Client(address, timeout=timeout_s, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise CannotExport(
                f"No scheduler answers at {address}. Start one there with “dask scheduler”."
            ) from error

    def finished(self, exposure: FilmExposure, work: PictureWork) -> Pixels:
        """What ``work.finished`` gives, made by a worker; raises what it raises."""
        picture: Pixels = self._client.submit(finished, exposure, work, pure=False).result()
        return picture

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()


def _distributed() -> Any:
    try:
        import distributed  # noqa: PLC0415 - optional: standclear[farm]
    except ImportError as error:
        raise CannotExport(
            "Working on other machines needs standclear[farm]: pip install 'standclear[farm]'."
        ) from error
    return distributed
