"""Text in any script as outlines: direction by UAX #9, shaping by HarfBuzz, font by character.

Outlines need no font in the PDF or at the reader's, and print the same everywhere; the price is
that such text cannot be searched in the PDF.
"""

import unicodedata
from dataclasses import dataclass
from itertools import groupby

import uharfbuzz as hb
from bidi import algorithm

from standclear.paper.fonts import Fonts, Typeface

# Path steps in em: ("M", x, y), ("L", x, y), ("C", x1, y1, x2, y2, x, y), ("Z",).
Step = tuple[str, *tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Outline:
    """Shaped text: its path, its advance, both in em, and the characters that no font has."""

    steps: tuple[Step, ...]
    width: float
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Run:
    text: str
    face: Typeface
    backwards: bool


def outline(text: str, fonts: Fonts) -> Outline:
    """The outline of one line of text. A character without a font is written as its number."""
    missing: list[str] = []
    pen = _Pen()
    for run in _runs(text, fonts, missing):
        _draw(run, pen)
    return Outline(tuple(pen.steps), pen.x, tuple(missing))


def _runs(text: str, fonts: Fonts, missing: list[str]) -> list[_Run]:
    """Runs of one font and direction, in the order in which they are seen."""
    levelled = _levels(text)
    runs: list[tuple[int, _Run]] = []
    for level, group in groupby(levelled, key=lambda pair: pair[1]):
        line = "".join(character for character, _ in group)
        runs.extend((level, run) for run in _by_font(line, bool(level % 2), fonts, missing))
    return _in_visual_order(runs)


def _levels(text: str) -> list[tuple[str, int]]:
    """Each character with its embedding level, by the Unicode bidirectional algorithm."""
    storage = algorithm.get_empty_storage()
    base = algorithm.get_base_level(text)
    storage["base_level"], storage["base_dir"] = base, ("L", "R")[base]
    algorithm.get_embedding_levels(text, storage)
    algorithm.explicit_embed_and_overrides(storage)
    algorithm.resolve_weak_types(storage)
    algorithm.resolve_neutral_types(storage, False)
    algorithm.resolve_implicit_levels(storage, False)
    return [(item["ch"], item["level"]) for item in storage["chars"]]


def _by_font(line: str, backwards: bool, fonts: Fonts, missing: list[str]) -> list[_Run]:
    """The line cut where its font changes; marks stay with what they stand on."""
    runs: list[_Run] = []
    face: Typeface | None = None
    for character in line:
        joins = unicodedata.category(character) in ("Mn", "Mc", "Me", "Cf")
        found = face if joins and face else fonts.face_for(character, face)
        if found is None:
            if not joins:
                missing.append(character)
                runs.extend(_spelt(character, fonts))
                face = None
            continue
        if runs and found is face:
            runs[-1] = _Run(runs[-1].text + character, found, backwards)
        else:
            runs.append(_Run(character, found, backwards))
        face = found
    return runs


def _spelt(character: str, fonts: Fonts) -> list[_Run]:
    """The number of a character that no font has, so that nothing is lost: [U+0915]."""
    face = fonts.face_for("U")
    return [_Run(f"[U+{ord(character):04X}]", face, False)] if face else []


def _in_visual_order(runs: list[tuple[int, _Run]]) -> list[_Run]:
    """Rule L2: from the highest level down, sequences at that level or above are turned round."""
    for level in range(max((level for level, _ in runs), default=0), 0, -1):
        turned: list[tuple[int, _Run]] = []
        for high, group in groupby(runs, key=lambda pair, at=level: pair[0] >= at):  # type: ignore[misc]
            members = list(group)
            turned.extend(reversed(members) if high else members)
        runs = turned
    return [run for _, run in runs]


def _draw(run: _Run, pen: "_Pen") -> None:
    buffer = hb.Buffer()
    buffer.add_str(run.text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if run.backwards else "ltr"
    hb.shape(run.face.font, buffer)
    for glyph, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        pen.scale = 1 / run.face.units
        pen.shift = (pen.x + place.x_offset * pen.scale, place.y_offset * pen.scale)
        run.face.font.draw_glyph_with_pen(glyph.codepoint, pen)
        pen.x += place.x_advance * pen.scale


class _Pen:
    """Takes glyph outlines and lays them side by side, quadratic curves made cubic."""

    def __init__(self) -> None:
        self.steps: list[Step] = []
        self.x = 0.0
        self.scale = 1.0
        self.shift = (0.0, 0.0)
        self._last = (0.0, 0.0)

    def _at(self, point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * self.scale + self.shift[0], point[1] * self.scale + self.shift[1]

    def moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        """Begins a contour."""
        self._last = self._at(point)
        self.steps.append(("M", *self._last))

    def lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802
        """A straight edge."""
        self._last = self._at(point)
        self.steps.append(("L", *self._last))

    def curveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        """A cubic edge: two control points and an end."""
        first, second, end = (self._at(point) for point in points)
        self.steps.append(("C", *first, *second, *end))
        self._last = end

    def qCurveTo(self, *points: tuple[float, float]) -> None:  # noqa: N802
        """A quadratic edge: one control point and an end."""
        (cx, cy), (x, y) = (self._at(point) for point in points)
        x0, y0 = self._last
        first = x0 + (cx - x0) * 2 / 3, y0 + (cy - y0) * 2 / 3
        second = x + (cx - x) * 2 / 3, y + (cy - y) * 2 / 3
        self.steps.append(("C", *first, *second, x, y))
        self._last = (x, y)

    def closePath(self) -> None:  # noqa: N802
        """Ends a contour."""
        self.steps.append(("Z",))
