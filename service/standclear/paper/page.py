"""A page at true scale: sizes, millimetres, the check line, registration marks, the footer."""

import io
from dataclasses import dataclass, field

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from standclear.errors import CallerError
from standclear.paper.fonts import Fonts, system_fonts
from standclear.paper.lettering import Letterer

# Width and height in mm, upright: ISO 216 (A4), ANSI/ASME Y14.1 (Letter, 8.5 x 11 in).
PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN = 12.0  # more than any common printer leaves white
CHECK_MM = 100.0
INK = (0.07, 0.08, 0.10)
GREY = (0.45, 0.47, 0.50)
HAIR, LINE, TICK, HEAVY = 0.1, 0.18, 0.25, 0.5  # widths of lines in mm
ENTIRE = "Print at 100 %, not fitted to the page. This line measures 100 mm."


class UnknownPaper(CallerError):
    """Paper of a size that is not offered."""

    code = "unknown_paper"
    status = 422
    title = "There is no such paper"
    hint = "Ask for A4 or Letter."


def paper_size(paper: str, landscape: bool = False) -> tuple[float, float]:
    """Width and height in mm. Raises UnknownPaper."""
    if paper not in PAPERS:
        raise UnknownPaper("Sheets are printed on A4 or Letter.")
    width, height = PAPERS[paper]
    return (height, width) if landscape else (width, height)


@dataclass
class Document:
    """A PDF in the making. Everything is in mm from the lower left corner."""

    title: str
    fonts: Fonts = field(default_factory=system_fonts)

    def __post_init__(self) -> None:
        self._bytes = io.BytesIO()
        self.canvas = Canvas(self._bytes, invariant=1, pageCompression=1)
        self.canvas.setTitle(self.title)
        self.canvas.setCreator("Standclear")
        self.letters = Letterer(self.canvas, self.fonts)
        self.width = self.height = 0.0

    def begin(self, width: float, height: float) -> None:
        """Starts a page of that size."""
        self.width, self.height = width, height
        self.canvas.setPageSize((width * mm, height * mm))
        self.ink()

    def end(self) -> None:
        """Ends the page."""
        self.canvas.showPage()

    def finish(self) -> bytes:
        """The PDF."""
        self.canvas.save()
        return self._bytes.getvalue()

    def ink(self, colour: tuple[float, float, float] = INK) -> None:
        """What follows is drawn in this colour."""
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setFillColorRGB(*colour)

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = LINE) -> None:
        """A straight line with square ends, so that it ends where it says."""
        self.canvas.setLineCap(0)
        self.canvas.setLineWidth(width * mm)
        self.canvas.line(x1 * mm, y1 * mm, x2 * mm, y2 * mm)

    def box(self, x: float, y: float, width: float, height: float, shade: float) -> None:
        """A grey area: shade 0 black to 1 white."""
        self.canvas.setFillGray(shade)
        self.canvas.rect(x * mm, y * mm, width * mm, height * mm, stroke=0, fill=1)
        self.ink()

    def dot(self, x: float, y: float, radius: float) -> None:
        """A filled dot."""
        self.canvas.circle(x * mm, y * mm, radius * mm, stroke=0, fill=1)

    def text(self, x: float, y: float, text: str, size: float, **how: object) -> float:
        """One line of text, size in points; ``width`` and the width returned are in mm."""
        width = how.pop("width", None)
        limit = None if width is None else float(width) * mm  # type: ignore[arg-type]
        taken = self.letters.write(x * mm, y * mm, text, size, width=limit, **how)  # type: ignore[arg-type]
        return float(taken / mm)

    def measure(self, text: str, size: float) -> float:
        """The width of a line of text in mm."""
        return float(self.letters.measure(text, size) / mm)

    def registration(self, x: float, y: float) -> None:
        """A circle with a cross: lay the next sheet so that they coincide."""
        self.line(x - 3, y, x + 3, y, HAIR)
        self.line(x, y - 3, x, y + 3, HAIR)
        self.canvas.setLineWidth(HAIR * mm)
        self.canvas.circle(x * mm, y * mm, 1.5 * mm, stroke=1, fill=0)

    def check_line(self, x: float, y: float) -> None:
        """The line of 100 mm by which the print's scale is checked, a tick each 10 mm."""
        self.line(x, y, x + CHECK_MM, y, LINE)
        for step in range(11):
            half = 1.6 if step in (0, 5, 10) else 0.8
            edge = {0: LINE / 2, 10: -LINE / 2}.get(step, 0.0)  # outer edges at 0 and 100
            at = x + 10 * step + edge
            self.line(at, y - half, at, y + half, LINE)
        self.text(x + CHECK_MM + 3, y - 0.9, ENTIRE, 7)

    def missing_says(self) -> str | None:
        """A sentence when some character could not be written."""
        if not self.letters.missing:
            return None
        return "A number in [U+…] stands for a character that no font on this machine has."
