"""Reads our PDFs with poppler, a renderer that is not ours, and measures what it drew."""

import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="poppler-utils (pdftoppm) is not installed"
)


def _run(program: str, *arguments: str) -> str:
    done = subprocess.run([program, *arguments], check=True, capture_output=True, text=True)
    return done.stdout


def pages(pdf: bytes, folder: Path, dpi: int) -> list[np.ndarray]:
    """Every page as a grey picture, 0 black to 255 white."""
    path = folder / "printed.pdf"
    path.write_bytes(pdf)
    _run("pdftoppm", "-gray", "-r", str(dpi), str(path), str(folder / "page"))
    files = sorted(folder.glob("page-*.pgm"))
    found = [cv2.imread(str(file), cv2.IMREAD_GRAYSCALE) for file in files]
    for file in files:
        file.unlink()
    return [page for page in found if page is not None]


def text(pdf: bytes, folder: Path) -> str:
    """The text of all pages, laid out as printed."""
    path = folder / "printed.pdf"
    path.write_bytes(pdf)
    return _run("pdftotext", "-layout", str(path), "-")


def sizes_pt(pdf: bytes, folder: Path) -> set[tuple[float, float]]:
    """The page sizes in points."""
    path = folder / "printed.pdf"
    path.write_bytes(pdf)
    lines = _run("pdfinfo", "-f", "1", "-l", "99", str(path)).splitlines()
    words = [line.split() for line in lines if "size:" in line and line.startswith("Page ")]
    return {(float(w[3]), float(w[5])) for w in words}


def runs(line: np.ndarray) -> list[tuple[float, float]]:
    """Dark stretches along a row or column: (start, end) in pixels, to a fraction by their grey."""
    dark = np.concatenate([[0.0], 1 - line.astype(float) / 255, [0.0]])
    inside = dark > 0.5
    starts = np.flatnonzero(inside[1:] & ~inside[:-1]) + 1
    ends = np.flatnonzero(~inside[1:] & inside[:-1]) + 1
    found = []
    for start, end in zip(starts, ends, strict=True):
        before = dark[start - 1] if dark[start - 1] <= 0.5 else 0.0
        after = dark[end] if end < len(dark) and dark[end] <= 0.5 else 0.0
        first, last = 1 - dark[start], 1 - dark[end - 1]
        found.append((start - 1 + first - before, end - 1 - last + after))
    return found
