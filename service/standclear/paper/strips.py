"""Spacing strips at true scale: a tick for every exposure, to cut out and lay along the path.

A straight move becomes a ruler: its lower edge is cut and laid along the path. A long one is
divided into pieces that are joined at registration marks. A bent move is drawn as it lies on the
table (``curves.py``). Each page carries a 100 mm check line.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from standclear.paper.curves import draw_curve
from standclear.paper.fonts import Fonts, system_fonts
from standclear.paper.page import GREY, HAIR, HEAVY, INK, MARGIN, TICK, Document, paper_size
from standclear.paper.strip_data import Mark, Strip, StripData

BAND = 33.0  # height of one strip on the page
EDGE = 8.0  # from a band's foot to the edge that is cut
TOP, FOOT = 16.0, 16.0
LABELLED, PLAIN, START = 8.0, 5.0, 11.0  # lengths of ticks
ROOM = 1.0  # between two numbers


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a strip that fits the page: from ``start`` to ``end`` mm along the path."""

    strip: Strip
    number: int
    of: int
    start: float
    end: float


def render(data: StripData, paper: str = "A4", fonts: Fonts | None = None) -> bytes:
    """The strips as a PDF. Raises UnknownPaper."""
    width, height = paper_size(paper, landscape=True)
    document = Document(f"{data.shot}: spacing strips", fonts or system_fonts())
    straight = [strip for strip in data.strips if strip.curve is None]
    room = (width - 2 * MARGIN) // 10 * 10
    pieces = [piece for strip in straight for piece in cut(strip, room)]
    each = int((height - TOP - FOOT - MARGIN) // BAND)
    for first in range(0, len(pieces), each):
        document.begin(width, height)
        _frame(document, data, f"strips, page {first // each + 1} of {-(-len(pieces) // each)}")
        for row, piece in enumerate(pieces[first : first + each]):
            _band(document, piece, height - MARGIN - TOP - BAND * (row + 1) + EDGE)
        document.end()
    for strip in data.strips:
        if strip.curve is not None:
            draw_curve(document, data, strip, paper)
    return document.finish()


def cut(strip: Strip, room: float) -> Iterator[Piece]:
    """The strip in pieces of at most ``room`` mm."""
    ways = [strip.start_mm, *(mark.distance_mm for mark in strip.marks)]
    low, high = min(ways), max(ways)
    count = max(1, -int(-(high - low - 1e-6) // room))
    for number in range(count):
        start = low + number * room
        yield Piece(strip, number + 1, count, start, min(start + room, high))


def _frame(document: Document, data: StripData, page: str) -> None:
    """Head and foot of a page."""
    right, top = document.width - MARGIN, document.height - MARGIN
    document.text(MARGIN, top - 5, data.shot, 13, strong=True, width=120)
    document.ink(GREY)
    about = f"{data.frame_rate} frames/s · {page}"
    document.text(right, top - 5, about, 8, align="right", width=120)
    document.text(MARGIN, top - 10, "Cut along the ticks' lower edge and lay it along the path.", 8)
    document.ink()
    document.line(MARGIN, top - 13, right, top - 13, HEAVY)
    document.check_line(MARGIN, MARGIN + 2)
    if document.missing_says():
        document.text(MARGIN, MARGIN + 6, document.missing_says() or "", 7)


def _band(document: Document, piece: Piece, y: float) -> None:
    """One piece; y is the edge that is cut, and lies at the ticks' foot."""
    left, strip = MARGIN, piece.strip
    end = left + max(piece.end - piece.start, 1.0)
    document.line(left - 4, y, end + 4, y, HAIR)
    title = left if piece.number == 1 else left + 5  # clear of the registration mark
    named = document.text(title, y + 16, strip.label, 10, strong=True, width=90)
    about = strip.about if piece.of == 1 else f"{strip.about} · piece {piece.number} of {piece.of}"
    document.ink(GREY)
    document.text(
        title + named + 3, y + 16, about, 8, width=document.width - 2 * MARGIN - named - 12
    )
    document.ink()
    _done(document, piece, left, y)
    _start(document, piece, left, y)
    marks = [mark for mark in strip.marks if _inside(mark, piece)]
    numbered = numbered_marks(document, marks, piece.strip.start_mm)
    for mark in marks:
        _tick(document, mark, left + mark.distance_mm - piece.start, y, mark in numbered)
    _joints(document, piece, left, y)


def _inside(mark: Mark, piece: Piece) -> bool:
    """Each mark on one piece only; the last piece keeps its end."""
    last = piece.number == piece.of
    return piece.start <= mark.distance_mm and (mark.distance_mm < piece.end or last)


def _done(document: Document, piece: Piece, left: float, y: float) -> None:
    """A grey band from the start to the last exposure that has been shot."""
    ways = [mark.distance_mm for mark in piece.strip.marks if mark.done]
    if not ways:
        return
    low = max(min(piece.strip.start_mm, *ways), piece.start)
    high = min(max(piece.strip.start_mm, *ways), piece.end)
    if high > low:
        document.box(left + low - piece.start, y, high - low, PLAIN, shade=0.85)


def _start(document: Document, piece: Piece, left: float, y: float) -> None:
    """The pose from which the move sets out."""
    if not piece.start <= piece.strip.start_mm <= piece.end:
        return
    x = left + piece.strip.start_mm - piece.start
    document.line(x, y, x, y + START, HEAVY)
    document.ink(GREY)
    document.text(x + 0.8, y + START + 0.6, "start", 6)
    document.ink()


def _tick(document: Document, mark: Mark, x: float, y: float, numbered: bool) -> None:
    top = y + (LABELLED if numbered else PLAIN)
    document.line(x, y, x, top, TICK)
    if numbered:
        document.text(x, top + 1.0, _number(mark), 6.5, align="middle")


def _number(mark: Mark) -> str:
    return f"‹{mark.frame}" if mark.backwards else str(mark.frame)


def numbered_marks(document: Document, marks: list[Mark], start_mm: float) -> set[Mark]:
    """The marks that have room for their number: ends first, then round numbers, then the rest."""
    by_weight = sorted(marks, key=lambda mark: (_weight(mark, marks), mark.frame))
    taken = [(start_mm - 0.7, start_mm + 0.7)]
    chosen = set()
    for mark in by_weight:
        half = document.measure(_number(mark), 6.5) / 2 + ROOM / 2
        low, high = mark.distance_mm - half, mark.distance_mm + half
        if all(high <= other[0] or low >= other[1] for other in taken):
            taken.append((low, high))
            chosen.add(mark)
    return chosen


def _weight(mark: Mark, marks: list[Mark]) -> int:
    if mark in (marks[0], marks[-1]):
        return 0
    return 1 if mark.frame % 10 == 0 else 2 if mark.frame % 5 == 0 else 3


def _joints(document: Document, piece: Piece, left: float, y: float) -> None:
    """Registration marks where a piece meets the next, above and below the edge."""
    ends = []
    if piece.number > 1:
        ends.append(left)
    if piece.number < piece.of:
        ends.append(left + piece.end - piece.start)
    document.ink(GREY)
    for x in ends:
        for height in (y - 4, y + 19):
            document.registration(x, height)
    document.ink(INK)
