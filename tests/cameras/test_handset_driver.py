"""The handset's driver over its link, with a handset that is a few lines of this file."""

import hashlib
import threading
import time
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import pytest

from standclear.cameras.base import (
    BrokenPicture,
    CameraAway,
    CaptureFailed,
    LivePicture,
    NotOffered,
)
from standclear.cameras.handset import Facts, HandsetCamera, HandsetLink, HandsetLinks, Photo
from tests.pictures import jpeg


class Page:
    """Answers each order with what the test laid down for it, in a thread of its own."""

    def __init__(self, link: HandsetLink, answer: Callable[[str], None] = lambda _: None) -> None:
        self.link = link
        self.told: list[Mapping[str, Any]] = []
        self.answer = answer
        link.attach(self.hear)
        link.hears(Facts(battery_percent=50, warnings=("warm",)))

    def hear(self, message: Mapping[str, Any]) -> None:
        self.told.append(message)
        if message["does"] in ("photo", "set"):
            threading.Thread(target=self.answer, args=(message["order"],)).start()

    def does(self) -> list[str]:
        return [message["does"] for message in self.told]


def photo(data: bytes, at: float | None = None) -> Photo:
    return Photo(data, hashlib.sha256(data).hexdigest(), at)


@pytest.fixture
def link() -> HandsetLink:
    return HandsetLink()


@pytest.fixture
def camera(link: HandsetLink) -> HandsetCamera:
    return HandsetCamera(link)


def test_without_a_page_it_is_away_and_says_where_to_open_it() -> None:
    with pytest.raises(CameraAway, match=r"/handset#name=left"):
        HandsetLinks().camera("left").open()


def test_a_photo_is_given_as_it_came(link: HandsetLink, camera: HandsetCamera) -> None:
    data = jpeg(64, 36)
    page = Page(link, lambda order: link.delivers(order, photo(data)) and None)
    camera.open()
    taken = camera.capture()
    assert taken.originals[0].data == data
    assert (taken.originals[0].media_type, taken.originals[0].width) == ("image/jpeg", 64)
    assert "void" not in page.does()
    assert camera.status().battery_percent == 50
    assert camera.status().warnings == ("warm",)


def test_the_moment_is_the_handset_s_but_never_before_the_order(
    link: HandsetLink, camera: HandsetCamera
) -> None:
    early = photo(jpeg(64, 36), at=time.monotonic() - 100)
    Page(link, lambda order: link.delivers(order, early) and None)
    camera.open()
    before = time.time()
    assert camera.capture().taken_at.timestamp() >= before - 0.001


def test_of_two_deliveries_the_first_counts(link: HandsetLink, camera: HandsetCamera) -> None:
    outcomes: list[str] = []
    first, second = jpeg(64, 36, seed=1), jpeg(64, 36, seed=2)

    def answer(order: str) -> None:
        for data in (first, first, second):
            outcomes.append(link.delivers(order, photo(data)))

    Page(link, answer)
    camera.open()
    assert camera.capture().originals[0].data == first
    deadline = time.monotonic() + 5
    while len(outcomes) < 3:
        assert time.monotonic() < deadline
    assert outcomes == ["new", "again", "other"]


def test_a_cut_photo_is_told_as_damaged(link: HandsetLink, camera: HandsetCamera) -> None:
    Page(link, lambda order: link.delivers(order, photo(jpeg(64, 36)[:-20])) and None)
    camera.open()
    with pytest.raises(BrokenPicture):
        camera.capture()


@pytest.mark.parametrize("data", [b"plain text", b"<html>", b"\0" * 100])
def test_what_is_no_picture_is_told_as_damaged(
    link: HandsetLink, camera: HandsetCamera, data: bytes
) -> None:
    Page(link, lambda order: link.delivers(order, photo(data)) and None)
    camera.open()
    with pytest.raises(BrokenPicture):
        camera.capture()


def test_an_order_that_was_given_up_takes_nothing_any_more(
    link: HandsetLink, camera: HandsetCamera
) -> None:
    orders: list[str] = []
    page = Page(link, orders.append)
    camera.open()
    beats: list[float] = []
    camera.beat = lambda: (beats.append(time.monotonic()), link.hears())[0]
    start = time.monotonic()
    with pytest.raises(CaptureFailed, match="did not answer"):
        camera.capture()
    assert time.monotonic() - start < 3.0
    assert max(b - a for a, b in pairwise(beats)) < 1.0, "slow, not hung"
    assert link.delivers(orders[0], photo(jpeg(64, 36))) == "void"
    assert page.told[-1] == {"does": "void", "order": orders[0]}


def test_a_handset_that_is_busy_is_waited_for(link: HandsetLink, camera: HandsetCamera) -> None:
    data = jpeg(64, 36)

    def slowly(order: str) -> None:
        wait = threading.Event()
        for _ in range(16):  # longer than any silence is borne
            link.works_on(order)
            wait.wait(0.2)
        link.delivers(order, photo(data))

    Page(link, slowly)
    camera.open()
    assert camera.capture().originals[0].data == data


def test_a_page_that_comes_anew_is_given_the_open_order_again(
    link: HandsetLink, camera: HandsetCamera
) -> None:
    data = jpeg(64, 36)

    def leave(_order: str) -> None:
        link.detach(first.hear)
        Page(link, lambda order: link.delivers(order, photo(data)) and None)

    first = Page(link, leave)
    camera.open()
    assert camera.capture().originals[0].data == data


def test_a_page_that_leaves_for_good_is_away_within_three_seconds(
    link: HandsetLink, camera: HandsetCamera
) -> None:
    page = Page(link, lambda _order: link.detach(page.hear))
    camera.open()
    start = time.monotonic()
    with pytest.raises(CameraAway):
        camera.capture()
    assert time.monotonic() - start < 3.0


def test_a_page_whose_place_was_taken_leaves_nothing_behind(link: HandsetLink) -> None:
    first = Page(link)
    second = Page(link)
    link.detach(first.hear)
    assert link.present()
    link.tell({"does": "live", "on": True})
    assert second.told[-1] == {"does": "live", "on": True}
    assert first.told[-1] != {"does": "live", "on": True}


def test_an_older_live_picture_is_let_go(link: HandsetLink, camera: HandsetCamera) -> None:
    page = Page(link)
    camera.open()
    assert camera.live() is None
    assert page.told[-1] == {"does": "live", "on": True}
    now = time.monotonic()
    link.shows(LivePicture(at=now, jpeg=b"new"))
    link.shows(LivePicture(at=now - 1, jpeg=b"old"))
    shown = camera.live()
    assert shown is not None
    assert shown.jpeg == b"new"
    assert camera.live() is None, "no picture twice"
    camera.alive()
    assert page.told[-1] == {"does": "live", "on": False}, "nobody looks: it may rest"


def test_a_refused_setting_is_told_with_the_handset_s_words(
    link: HandsetLink, camera: HandsetCamera
) -> None:
    capabilities = {"torch": True}
    Page(link, lambda order: link.fails(order, {"says": "The torch is broken."}))
    link.hears(Facts({"capabilities": capabilities, "settings": {"torch": False}}))
    camera.open()
    with pytest.raises(NotOffered, match="The torch is broken"):
        camera.change({"torch": "on"})


@pytest.mark.parametrize("name", ["Left", "a b", "x" * 25, "../x", "ä"])
def test_what_is_no_name_is_refused(name: str) -> None:
    with pytest.raises(NotOffered):
        HandsetLinks().camera(name)


def test_there_is_an_end_to_the_names() -> None:
    links = HandsetLinks()
    for number in range(8):
        links.link(f"number-{number}")
    with pytest.raises(NotOffered, match="8"):
        links.link("one-more")
    assert links.link("number-3") is links.link("number-3")
