"""A bent path as it lies on the table, at true scale, tiled over pages."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm

from standclear.paper.page import GREY, HAIR, HEAVY, LINE, MARGIN, TICK, Document, paper_size
from standclear.paper.strip_data import Mark, Strip, StripData
from standclear.timing.paths import Floats, Path

HEAD, FOOT = 14.0, 12.0
AROUND = 12.0  # room for numbers round the path
HALF_TICK = 3.5
FINE_MM = 0.5  # length of the straight pieces that the curve is drawn with
KEY, KEY_HEIGHT = 40.0, 5.0  # room for the little map of sheets


class Tiles:
    """How a drawing of ``size`` mm is laid over pages; tile (0, 0) is at the upper left."""

    def __init__(self, low: Floats, size: Floats, paper: str) -> None:
        ways = [(self._window(paper, landscape), landscape) for landscape in (False, True)]
        self.window, self.landscape = min(ways, key=lambda way: int(_count(size, way[0]).prod()))
        self.count = _count(size, self.window)
        self.origin = low - (self.count * self.window - size) / 2

    @staticmethod
    def _window(paper: str, landscape: bool) -> Floats:
        width, height = paper_size(paper, landscape)
        return np.array([width - 2 * MARGIN, height - 2 * MARGIN - HEAD - FOOT])

    def used_by(self, spots: Floats) -> list[tuple[int, int]]:
        """The tiles (row, column) that the drawing touches, in reading order."""
        near = [spots + np.array([dx, dy]) for dx in (-4, 4) for dy in (-4, 4)]
        cells = np.floor((np.vstack(near) - self.origin) / self.window).astype(int)
        cells = np.clip(cells, 0, self.count - 1)
        return sorted({(int(row), int(column)) for column, row in cells})


def _count(size: Floats, window: Floats) -> NDArray[np.int_]:
    """How many windows across and down cover the size."""
    return np.asarray(np.maximum(np.ceil((size - 1e-6) / window), 1), dtype=np.int_)


def draw_curve(document: Document, data: StripData, strip: Strip, paper: str) -> None:
    """Adds the pages of one bent move. Table y runs down the page, as seen from above."""
    path = strip.curve
    assert path is not None
    ways = [strip.start_mm, *(mark.distance_mm for mark in strip.marks)]
    steps = int(max((max(ways) - min(ways)) / FINE_MM, 2)) + 1
    spots = path.at(np.linspace(min(0.0, *ways), max(path.length, *ways), steps))
    low, high = spots.min(axis=0) - AROUND, spots.max(axis=0) + AROUND
    tiles = Tiles(low, high - low, paper)
    used = tiles.used_by(spots)
    for number, (row, column) in enumerate(used, start=1):
        document.begin(*paper_size(paper, tiles.landscape))
        _head(document, data, strip, f"sheet {number} of {len(used)}")
        corner = tiles.origin + np.array([column, row]) * tiles.window
        _tile(document, strip, path, spots, (corner, tiles.window))
        if len(used) > 1:
            _key(document, tiles, used, (row, column))
        document.end()


def _head(document: Document, data: StripData, strip: Strip, page: str) -> None:
    right, top = document.width - MARGIN, document.height - MARGIN
    named = document.text(MARGIN, top - 4, strip.label, 12, strong=True, width=70)
    document.ink(GREY)
    document.text(MARGIN + named + 3, top - 4, data.shot, 8, width=right - MARGIN - named - 60)
    document.text(MARGIN, top - 8.5, strip.about, 8, width=130)
    document.text(right, top - 4, f"{data.frame_rate} frames/s · {page}", 8, align="right")
    document.ink()
    document.check_line(MARGIN, MARGIN + 2)
    if document.missing_says():
        document.text(MARGIN, MARGIN + 5.5, document.missing_says() or "", 6)


def _tile(
    document: Document, strip: Strip, path: Path, spots: Floats, window: tuple[Floats, Floats]
) -> None:
    """What lies in one window (its upper left corner and size), between registration marks."""
    x0, y0 = MARGIN, MARGIN + FOOT
    corner, size = window
    document.ink(GREY)
    for x in (x0, x0 + size[0]):
        for y in (y0, y0 + size[1]):
            document.registration(float(x), float(y))
    document.ink()
    canvas = document.canvas
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect((x0 - 5) * mm, (y0 - 3) * mm, (size[0] + 10) * mm, (size[1] + 6) * mm)
    canvas.clipPath(frame, stroke=0, fill=0)

    def place(points: Floats) -> Floats:
        """Table mm to page mm; y is turned, for it grows downwards on the table."""
        offset = points - corner
        return np.column_stack([x0 + offset[:, 0], y0 + size[1] - offset[:, 1]])

    _line(document, place(spots))
    _ticks(document, path, strip, place)
    canvas.restoreState()


def _line(document: Document, spots: Floats) -> None:
    canvas = document.canvas
    canvas.setLineWidth(LINE * mm)
    canvas.setLineJoin(1)
    drawn = canvas.beginPath()
    drawn.moveTo(*(spots[0] * mm))
    for spot in spots[1:]:
        drawn.lineTo(*(spot * mm))
    canvas.drawPath(drawn, stroke=1, fill=0)


def _ticks(document: Document, path: Path, strip: Strip, place: Callable[[Floats], Floats]) -> None:
    """A tick across the path for each mark; numbers where there is room."""
    ways = np.array([strip.start_mm, *(mark.distance_mm for mark in strip.marks)])
    spots, along = place(path.at(ways)), path.direction(ways)
    across = np.column_stack([along[:, 1], along[:, 0]])  # a quarter turn, on the turned page
    taken: list[Floats] = []
    for n, (spot, side) in enumerate(zip(spots, across, strict=True)):
        if n == 0:
            _across(document, spot, side, HALF_TICK + 2, HEAVY)
            continue
        mark = strip.marks[n - 1]
        _across(document, spot, side, HALF_TICK, TICK)
        _number(document, mark, spot, side, taken)


def _across(document: Document, spot: Floats, side: Floats, half: float, width: float) -> None:
    (x1, y1), (x2, y2) = spot - side * half, spot + side * half
    document.line(float(x1), float(y1), float(x2), float(y2), width)


def _number(
    document: Document, mark: Mark, spot: Floats, side: Floats, taken: list[Floats]
) -> None:
    if mark.done:
        end = spot + side * HALF_TICK
        document.dot(float(end[0]), float(end[1]), 0.6)
    away = -1.0 if mark.backwards else 1.0
    at = spot + side * (HALF_TICK + 2.5) * away
    if all(np.linalg.norm(at - other) > 4.5 for other in taken):
        taken.append(at)
        document.text(float(at[0]), float(at[1]) - 0.8, str(mark.frame), 6.5, align="middle")


def _key(
    document: Document, tiles: Tiles, used: list[tuple[int, int]], here: tuple[int, int]
) -> None:
    """A little map of the sheets, this one filled."""
    columns, rows = (int(count) for count in tiles.count)
    size, height = min(KEY / columns, 4.0), min(KEY_HEIGHT / rows, 2.5)
    left, top = document.width - MARGIN - size * columns, document.height - MARGIN - 5.2
    document.canvas.setLineWidth(HAIR * mm)
    for row, column in used:
        document.canvas.rect(
            (left + column * size) * mm,
            (top - (row + 1) * height) * mm,
            size * mm,
            height * mm,
            stroke=1,
            fill=int((row, column) == here),
        )
