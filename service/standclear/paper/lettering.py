"""Text on a PDF canvas, in any script, fitted to its place.

What Windows-1252 holds is set in Helvetica, which every PDF reader has and whose figures are all of
one width; anything else is drawn as outlines (``shaping.py``).
"""

from dataclasses import dataclass, field
from typing import Literal

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from standclear.paper.fonts import Fonts
from standclear.paper.shaping import Outline, outline

Align = Literal["left", "middle", "right"]
PLAIN, STRONG = "Helvetica", "Helvetica-Bold"
SMALLEST = 0.75  # text is narrowed by its size to this share before it is cut short


@dataclass
class Letterer:
    """Writes on one canvas and remembers the characters that could not be written."""

    canvas: Canvas
    fonts: Fonts
    missing: set[str] = field(default_factory=set)

    def write(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        width: float | None = None,
        align: Align = "left",
        strong: bool = False,
    ) -> float:
        """Writes one line with its baseline at y; sizes and places in points.

        Text wider than ``width`` is first made smaller, then cut with an ellipsis. Returns the
        width that it took.
        """
        text = " ".join(text.split())
        size, text = self._fitted(text, size, width, strong)
        taken = self.measure(text, size, strong)
        x -= {"left": 0.0, "middle": taken / 2, "right": taken}[align]
        if _is_plain(text):
            self.canvas.setFont(STRONG if strong else PLAIN, size)
            self.canvas.drawString(x, y, text)
        else:
            shaped = outline(text, self.fonts)
            self.missing.update(shaped.missing)
            _fill(self.canvas, shaped, x, y, size)
        return taken

    def measure(self, text: str, size: float, strong: bool = False) -> float:
        """The width of a line in points."""
        if _is_plain(text):
            return float(stringWidth(text, STRONG if strong else PLAIN, size))
        return outline(text, self.fonts).width * size

    def _fitted(
        self, text: str, size: float, width: float | None, strong: bool
    ) -> tuple[float, str]:
        if width is None or (full := self.measure(text, size, strong)) <= width:
            return size, text
        smaller = max(width / full, SMALLEST) * size
        if self.measure(text, smaller, strong) <= width * 1.001:
            return smaller, text
        low, high = 0, len(text)
        while low < high:  # the longest beginning that fits
            middle = (low + high + 1) // 2
            fits = self.measure(text[:middle].rstrip() + "…", smaller, strong) <= width
            low, high = (middle, high) if fits else (low, middle - 1)
        return smaller, text[:low].rstrip() + "…"


def _is_plain(text: str) -> bool:
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def _fill(canvas: Canvas, shaped: Outline, x: float, y: float, size: float) -> None:
    path = canvas.beginPath()
    for kind, *numbers in shaped.steps:
        placed = [(x if n % 2 == 0 else y) + value * size for n, value in enumerate(numbers)]
        if kind == "M":
            path.moveTo(*placed)
        elif kind == "L":
            path.lineTo(*placed)
        elif kind == "C":
            path.curveTo(*placed)
        else:
            path.close()
    canvas.drawPath(path, stroke=0, fill=1, fillMode=1)
