"""The exposure sheet: one row a frame, whole seconds a page, done frames marked.

Columns: a tick for what is done, frame, timecode, action with its place (n of m), the picture and
its hold, sound with beats, notes.
"""

from dataclasses import dataclass

from standclear.paper.fonts import Fonts, system_fonts
from standclear.paper.page import GREY, HAIR, HEAVY, INK, LINE, MARGIN, Document, paper_size
from standclear.paper.sheet_data import Row, SheetData

HEAD, FOOT = 20.0, 7.0
MOST_ROWS, OTHERWISE = 60, 48
TALLEST_ROW = 9.0
SHADED = 0.955
BRACKET = 0.3
BOLDER = 1.08  # how much wider bold letters run


@dataclass(frozen=True, slots=True)
class Columns:
    """Left edges of the columns in mm, and the right edge of the last."""

    done: float
    frame: float
    timecode: float
    action: float
    picture: float
    sound: float
    notes: float
    right: float

    @property
    def rules(self) -> tuple[float, ...]:
        """Where upright lines are drawn."""
        left = (self.done, self.frame, self.timecode, self.action)
        return (*left, self.picture, self.sound, self.notes, self.right)


def render(data: SheetData, paper: str = "A4", fonts: Fonts | None = None) -> bytes:
    """The sheet as a PDF; one page, empty but for its head, when there is nothing planned or shot.

    Raises UnknownPaper.
    """
    width, height = paper_size(paper)
    document = Document(f"{data.shot}: exposure sheet", fonts or system_fonts())
    columns = _columns(width)
    each = rows_a_page(data.second)
    step = min((height - 2 * MARGIN - HEAD - FOOT) / each, TALLEST_ROW)
    pages = max(1, -(-len(data.rows) // each))
    for page in range(pages):
        rows = data.rows[page * each : (page + 1) * each]
        document.begin(width, height)
        _head(document, data, columns, f"page {page + 1} of {pages}")
        _grid(document, columns, each, step, data.second)
        for n, row in enumerate(rows):
            _row(document, row, columns, height - MARGIN - HEAD - step * (n + 1), step)
        _actions(document, rows, columns, step)
        _foot(document)
        document.end()
    return document.finish()


def rows_a_page(second: int) -> int:
    """Rows on a page: as many whole seconds as go into 60 rows."""
    return MOST_ROWS // second * second if second <= MOST_ROWS else OTHERWISE


def _columns(width: float) -> Columns:
    left, right = MARGIN, width - MARGIN
    action = left + 6 + 12 + 22
    rest = right - action
    return Columns(
        left,
        left + 6,
        left + 18,
        action,
        action + rest * 0.40,
        action + rest * 0.52,
        action + rest * 0.70,
        right,
    )


def _head(document: Document, data: SheetData, columns: Columns, page: str) -> None:
    top, right = document.height - MARGIN, columns.right
    document.text(columns.done, top - 5, data.shot, 14, strong=True, width=110)
    document.text(right, top - 5, f"{data.frame_rate} frames/s", 9, align="right", strong=True)
    document.ink(GREY)
    document.text(columns.done, top - 10, f"Exposure sheet · {data.about}", 8, width=130)
    document.text(right, top - 10, page, 8, align="right")
    foot = top - HEAD + 2
    for x, name in (
        (columns.frame, "frame"),
        (columns.timecode, "timecode"),
        (columns.action, "action"),
        (columns.picture, "picture"),
        (columns.sound, "sound"),
        (columns.notes, "notes"),
    ):
        document.text(x + 1.2, foot, name, 7)
    document.ink()


def _grid(document: Document, columns: Columns, rows: int, step: float, second: int) -> None:
    """Seconds told apart by shade and a heavy line; half seconds by a middling one."""
    top = document.height - MARGIN - HEAD
    for first in range(second, rows, 2 * second):
        tall = min(second, rows - first) * step
        document.box(
            columns.done, top - first * step - tall, columns.right - columns.done, tall, SHADED
        )
    for n in range(rows + 1):
        y = top - n * step
        half = second % 2 == 0 and n % (second // 2) == 0
        width = HEAVY if n % second == 0 else LINE * 1.4 if half else HAIR
        document.ink(INK if n % second == 0 else GREY)
        document.line(columns.done, y, columns.right, y, width)
    document.ink(GREY)
    for x in columns.rules:
        document.line(x, top, x, top - rows * step, HAIR)
    document.ink()


def _row(document: Document, row: Row, columns: Columns, y: float, step: float) -> None:
    size = min(8.0, step * 1.75)
    base = y + step / 2 - size * 0.12
    if row.done:
        _tick(document, columns.done + 3, y + step / 2, min(step, 4.5) * 0.32)
    document.text(columns.timecode - 1.5, base, str(row.frame), size, align="right")
    document.ink(GREY)
    document.text(columns.timecode + 1.2, base, row.timecode, size)
    document.ink()
    _picture(document, row, columns, (y, base, step), size)
    if row.beat is not None:
        document.text(columns.notes - 1.2, base, f"beat {row.beat + 1}", size * 0.85, align="right")
    room = columns.notes - columns.sound - (13 if row.beat is not None else 2.4)
    document.text(columns.sound + 1.2, base, row.sound, size, width=room)
    document.text(
        columns.notes + 1.2, base, row.notes, size, width=columns.right - columns.notes - 2
    )


def _tick(document: Document, x: float, y: float, size: float) -> None:
    """A drawn tick: this frame is shot."""
    document.line(x - size, y, x - size * 0.2, y - size * 0.8, HEAVY)
    document.line(x - size * 0.28, y - size * 0.8, x + size, y + size, HEAVY)


def _picture(
    document: Document, row: Row, columns: Columns, at: tuple[float, float, float], size: float
) -> None:
    """The picture's number, and a line down the frames for which it is held."""
    y, base, step = at
    if row.held == 1:
        document.text(columns.picture + 8, base, str(row.exposure), size, align="right")
        if row.hold > 1:
            document.ink(GREY)
            document.text(columns.sound - 1.5, base, f"× {row.hold}", size * 0.85, align="right")
            document.ink()
        return
    x = columns.picture + 6.5
    last = row.held == row.hold
    document.line(x, y + (step * 0.4 if last else 0), x, y + step, LINE)
    if last:
        document.line(x - 1, y + step * 0.4, x + 1, y + step * 0.4, LINE)


def _actions(document: Document, rows: tuple[Row, ...], columns: Columns, step: float) -> None:
    """Each action's name where it begins on the page, and a bracket down its frames."""
    top = document.height - MARGIN - HEAD
    first = 0
    while first < len(rows):
        last = first
        while last + 1 < len(rows) and _goes_on(rows[last], rows[last + 1]):
            last += 1
        if rows[first].action:
            _bracket(document, columns, rows[first : last + 1], top - first * step, step)
        first = last + 1


def _goes_on(row: Row, following: Row) -> bool:
    return following.action == row.action and following.place == row.place + 1


def _bracket(
    document: Document, columns: Columns, rows: tuple[Row, ...], top: float, step: float
) -> None:
    """A bracket open where the action goes on over the page; ``top`` is its first row's."""
    first, last = rows[0], rows[-1]
    x, foot, inset = columns.action + 2.5, top - step * len(rows), step * 0.25
    starts, ends = first.place == 1, last.place == last.frames
    upper, lower = top - (inset if starts else 0), foot + (inset if ends else 0)
    document.line(x, upper, x, lower, BRACKET)
    if starts:
        document.line(x, upper, x + 1.3, upper, BRACKET)
    if ends:
        document.line(x, lower, x + 1.3, lower, BRACKET)
    size = min(8.5, step * 1.85)
    drop = step / 2 + size * 0.12
    if ends and len(rows) > 1:
        document.ink(GREY)
        count = f"{last.place}/{last.frames}"
        document.text(columns.picture - 1.5, foot + step - drop, count, size * 0.85, align="right")
        document.ink()
    name = first.action if starts else f"{first.action}, frame {first.place} of {first.frames}"
    room = columns.picture - columns.action - 6
    for n, line in enumerate(_lines(document, name, size, (room, len(rows) - 1))):
        document.text(x + 2.2, top - n * step - drop, line, size, strong=starts, width=room)


def _lines(document: Document, name: str, size: float, room: tuple[float, int]) -> list[str]:
    """The name on one line, or on two when it is long and the action has rows to spare."""
    width, rows = room
    words = name.split()
    if rows < 2 or len(words) < 2 or document.measure(name, size) <= width / BOLDER:
        return [name]
    count = len(words) - 1
    while count > 1 and document.measure(" ".join(words[:count]), size) > width / BOLDER:
        count -= 1
    return [" ".join(words[:count]), " ".join(words[count:])]


def _foot(document: Document) -> None:
    says = document.missing_says()
    if says:
        document.ink(GREY)
        document.text(MARGIN, MARGIN - 1, says, 6.5)
        document.ink()
