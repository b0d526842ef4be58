"""A library's clock, its folder and the folder of its second copy."""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.library_kit import IN_MEMORY, SetClock


@pytest.fixture
def clock() -> SetClock:
    return SetClock()


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    """A folder in memory: these tests ask what is copied, not how a disk keeps it."""
    with TemporaryDirectory(dir=IN_MEMORY) as folder:
        yield Path(folder)


@pytest.fixture
def there(tmp_path: Path) -> Path:
    """The folder of the second copy."""
    folder = tmp_path / "another disk"
    folder.mkdir()
    return folder
