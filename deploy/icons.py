"""Draws webclient/icons/*.png from webclient/icon.svg, whose lines are all level or upright.

python deploy/icons.py
"""

import re
from pathlib import Path

from PIL import Image, ImageDraw

WEBCLIENT = Path(__file__).resolve().parents[1] / "webclient"
UNITS = 32  # the drawing's side
FINER = 4  # drawn larger, then reduced: smooth edges
# The innermost 80 % of a maskable icon are seen in every shape (W3C, Web Application Manifest).
SAFE = 0.8


def lines(svg: str) -> list[tuple[float, float, float, float]]:
    """The path's lines, end to end, in the drawing's units."""
    found = []
    for x, y, way, to in re.findall(r"M([\d.]+) ([\d.]+)([hvHV])(-?[\d.]+)", svg):
        start = {"h": float(x), "v": float(y)}
        end = {**start, way.lower(): float(to) + (start[way] if way.islower() else 0)}
        found.append((start["h"], start["v"], end["h"], end["v"]))
    return found


def value(svg: str, name: str) -> str:
    """An attribute's value."""
    match = re.search(rf'{name}="([^"]+)"', svg)
    assert match is not None, name
    return match[1]


def draw(svg: str, side: int, *, bare_corners: bool, scale: float = 1.0) -> Image.Image:
    """The icon at ``side`` pixels; the lines at ``scale`` about its centre."""
    full = side * FINER
    unit = full / UNITS
    image = Image.new("RGBA", (full, full), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    corner = float(value(svg, "rx")) * unit if bare_corners else 0
    pen.rounded_rectangle((0, 0, full - 1, full - 1), corner, fill=value(svg, "fill"))
    half = float(value(svg, "stroke-width")) / 2 * scale * unit
    for line in lines(svg):
        x0, y0, x1, y1 = ((16 + (at - 16) * scale) * unit for at in line)
        box = (min(x0, x1) - half, min(y0, y1) - half, max(x0, x1) + half, max(y0, y1) + half)
        pen.rounded_rectangle(box, half, fill=value(svg, "stroke"))
    return image.resize((side, side), Image.Resampling.LANCZOS)


def main() -> None:
    """Draw all."""
    svg = (WEBCLIENT / "icon.svg").read_text()
    folder = WEBCLIENT / "icons"
    folder.mkdir(exist_ok=True)
    for name, image in {
        "180": draw(svg, 180, bare_corners=False, scale=0.9),
        "192": draw(svg, 192, bare_corners=True),
        "512": draw(svg, 512, bare_corners=True),
        "512-maskable": draw(svg, 512, bare_corners=False, scale=SAFE),
    }.items():
        image.save(folder / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
