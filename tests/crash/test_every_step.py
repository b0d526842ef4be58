"""Promises 1 and 2 with a failure at every step of a capture, an edit, a migration, an export.

All work goes to a file system of our own (``fault_fs.py``), so that SQLite's and FFmpeg's steps
are steps as well. At each step in turn it fails once, stays full, read-only or broken from there
on, the process is killed, or the power is cut. Then the library must hold all that was
acknowledged (``fault_checks.py``).

Short form: of each kind of step at each file the first. STANDCLEAR_LONG=1: every step.
"""

import errno
import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from tests.crash import fault_work
from tests.crash.fault_checks import Said, heard, losses
from tests.crash.fault_child import Children
from tests.crash.fault_fs import SAID, Order
from tests.crash.fault_mount import Mount, laid_out, mounted
from tests.crash.fault_mutations import MUTATIONS
from tests.library_kit import IN_MEMORY, opened

LONG = os.environ.get("STANDCLEAR_LONG") == "1"
FEW = 8
pytestmark = pytest.mark.timeout(7200 if LONG else 1200)
WAL = "/run/library/library.db-wal"
FAILURES = {"full": errno.ENOSPC, "read-only": errno.EROFS, "broken": errno.EIO}


class Harness:
    """One mounted file system, the images that work begins with, and children to do it."""

    def __init__(self, mount: Mount, images: Path) -> None:
        self.mount = mount
        self._images = images
        fault_work.make_image(images / "new")
        fault_work.make_old_image(images / "old")
        (images / "none").mkdir()
        self._children = Children()
        self._known: dict[str, tuple[list[tuple[str, str]], list[list[Any]]]] = {}

    def close(self) -> None:
        self._children.close()

    def image(self, name: str) -> Path:
        return self._images / {"begin": "none", "migrate": "old"}.get(name, "new")

    def do(self, name: str, order: Order | None = None, mutation: str = "") -> Said:
        """Do the work in a child with something ordered at a step. What it said."""
        self.mount.fresh(self.image(name))
        child = self._children.ready(self.mount.run, name, mutation)
        self.mount.order(replace(order or Order(), pid=child))
        self._children.go()
        self.mount.heal()
        return heard((self.mount.run / SAID).read_bytes())

    def known(self, name: str) -> tuple[list[tuple[str, str]], list[list[Any]]]:
        """The steps of the work when nothing fails, and how the library stood between them."""
        if name not in self._known:
            said = self.do(name)
            assert said[-1] == ["done"], said
            steps = self.mount.steps()
            with TemporaryDirectory(dir=IN_MEMORY) as folder:
                before = Path(folder) / "before"
                _copy(self.image("edit"), before)
                with opened(before) as library:
                    views = [fault_work.view(library)]
            views += [word[1] for word in said if word[0] == "stands"]
            self._known[name] = (steps, views)
        return self._known[name]

    def chosen(self, name: str, every: int = 1) -> list[int]:
        """Steps to try, from 1: all, or of each kind of step at each file the first; of these
        every so many, since the whole is tried in the long form."""
        steps, _ = self.known(name)
        if LONG:
            return list(range(1, len(steps) + 1))
        first = sorted(steps.index(one) + 1 for one in dict.fromkeys(steps))
        return first if len(first) < FEW else first[::every]

    def lost(self, name: str, library: Path, said: Said) -> list[str]:
        views = self.known(name)[1] if name in ("edit", "empty") else []
        return losses(library, self.image(name), said, views)

    def cuts(self, name: str, *, eager: bool, mutation: str = "") -> Iterator[list[str]]:
        """What is lost when the power is cut, for each different state that a cut would leave."""
        self.known(name)
        self.do(name, Order("watch", eager=eager), mutation)
        before: dict[str, Any] = {}
        for left in self.mount.left():
            if left == before:
                continue
            before = left
            with TemporaryDirectory(dir=IN_MEMORY) as folder:
                library = laid_out(left, Path(folder))
                yield self.lost(name, library, heard(left[SAID]))


def _copy(image: Path, to: Path) -> None:
    import shutil

    shutil.copytree(image, to)


@pytest.fixture(scope="module")
def harness() -> Iterator[Harness]:
    with TemporaryDirectory(dir=IN_MEMORY) as folder, mounted(Path(folder) / "mount") as mount:
        harness = Harness(mount, Path(folder))
        yield harness
        harness.close()


WORKS = sorted(fault_work.WORKS)


@pytest.mark.parametrize("name", WORKS)
def test_killed_at_each_step_nothing_acknowledged_is_lost(harness: Harness, name: str) -> None:
    for at in harness.chosen(name, 2):
        said = harness.do(name, Order("kill", at))
        lost = harness.lost(name, harness.mount.run / "library", said)
        assert lost == [], (at, harness.known(name)[0][at - 1], said)


@pytest.mark.parametrize("name", WORKS)
def test_a_step_that_fails_once_is_told_or_passed_over(harness: Harness, name: str) -> None:
    for at in harness.chosen(name, 4):
        said = harness.do(name, Order("fail", at, errno.EIO))
        lost = harness.lost(name, harness.mount.run / "library", said)
        assert lost == [], (at, harness.known(name)[0][at - 1], said)


@pytest.mark.parametrize("name", WORKS)
@pytest.mark.parametrize("failure", FAILURES)
def test_a_disk_that_stays_full_read_only_or_broken_is_told(
    harness: Harness, name: str, failure: str
) -> None:
    for at in harness.chosen(name, 8):
        said = harness.do(name, Order("stay", at, FAILURES[failure]))
        lost = harness.lost(name, harness.mount.run / "library", said)
        assert lost == [], (at, harness.known(name)[0][at - 1], said)


@pytest.mark.parametrize("failure", ["read-only", "broken"])
def test_an_edit_whose_flush_failed_does_not_stand_after_all(
    harness: Harness, failure: str
) -> None:
    """SQLite's log holds it by then, and who opens the log anew would take it for committed."""
    steps, _ = harness.known("edit")
    *flushes, _closing = [at for at, step in enumerate(steps, 1) if step == ("fsync", WAL)]
    assert len(flushes) >= 10
    for at in flushes if LONG else flushes[::4]:
        said = harness.do("edit", Order("stay", at, FAILURES[failure]))
        assert ["refused", "storage_failed"] in [word[:2] for word in said]
        assert harness.lost("edit", harness.mount.run / "library", said) == [], at


#: A cut with names that last at once, and with names that last when flushed; the short form tries
#: the first where whole files are made.
CUTS = [
    (name, eager) for name in WORKS for eager in (False, True)
    if LONG or not eager or name in ("capture", "export")
]  # fmt: skip


@pytest.mark.parametrize(("name", "eager"), CUTS)
def test_the_power_cut_at_each_step_loses_nothing_acknowledged(
    harness: Harness, name: str, eager: bool
) -> None:
    states = list(harness.cuts(name, eager=eager))
    assert [one for lost in states for one in lost] == []
    print(f"{name}: {len(states)} different states, nothing lost")
    assert len(states) > 1


@pytest.mark.parametrize("mutation", MUTATIONS)
def test_a_safeguard_taken_out_is_noticed(harness: Harness, mutation: str) -> None:
    """The harness itself: without this flush, or rename, it must report a loss."""
    name, _ = MUTATIONS[mutation]
    tried = (harness.cuts(name, eager=eager, mutation=mutation) for eager in (False, True))
    lost = next((lost for cuts in tried for lost in cuts if lost), [])
    assert lost != [], f"nobody noticed: {mutation}"
    print(f"{mutation}: noticed, {lost[0]}")


def test_every_kind_of_step_is_among_them(harness: Harness) -> None:
    """And the table of what is tried."""
    for name in WORKS:
        steps, _ = harness.known(name)
        kinds = Counter(kind for kind, _ in steps)
        print(f"{name:8} {len(steps):4} steps, {len(harness.chosen(name)):3} tried: {dict(kinds)}")
    for name, kinds in {
        "begin": {"create", "mkdir", "write", "fsync", "rename", "fsyncdir"},
        "capture": {"camera", "create", "write", "fsync", "rename", "fsyncdir"},
        "edit": {"write", "fsync"},
        "empty": {"write", "fsync", "unlink", "fsyncdir"},
        "migrate": {"create", "write", "fsync", "rename", "fsyncdir"},
        "export": {"create", "write", "fsync", "rename", "fsyncdir"},
    }.items():
        assert kinds <= {kind for kind, _ in harness.known(name)[0]}, name
