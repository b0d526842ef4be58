"""RAW originals: one recipe for the whole shot, so that the developing itself cannot flicker.

The files are minimal DNGs (Adobe Digital Negative 1.4, an openly published format), written here.
"""

from pathlib import Path

import numpy as np
import pytest
import tifffile

from standclear.finishing.api import ExportOptions, export
from standclear.finishing.shot import FilmExposure, FilmShot

rawpy = pytest.importorskip("rawpy", reason="needs standclear[raw]")

SIDE = 128
RATIONAL, SRATIONAL, SHORT, BYTE, ASCII, LONG = 5, 10, 3, 1, 2, 4
XYZ_TO_SRGB = (32405, -15371, -4985, -9693, 18760, 416, 556, -2040, 10572)


def dng(path: Path, red: int, blue: int) -> Path:
    """The same grey wall every time; what the camera took for white (red, blue) differs."""
    chance = np.random.default_rng(3)
    cells = np.full((SIDE, SIDE), 6_000.0)
    cells[::2, ::2] *= 0.6  # red
    cells[1::2, 1::2] *= 0.7  # blue
    cells *= 1 + 0.02 * chance.standard_normal(cells.shape)
    matrix = [number for part in XYZ_TO_SRGB for number in (part, 10_000)]
    tags = [
        (50706, BYTE, 4, (1, 4, 0, 0), True),  # DNGVersion
        (50708, ASCII, 0, "Cork", True),  # UniqueCameraModel
        (33421, SHORT, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, BYTE, 4, (0, 1, 1, 2), True),  # CFAPattern
        (50717, LONG, 1, 16_383, True),  # WhiteLevel
        (50721, SRATIONAL, 9, matrix, True),  # ColorMatrix1
        (50728, RATIONAL, 3, (red, 1000, 1000, 1000, blue, 1000), True),  # AsShotNeutral
        (50778, SHORT, 1, 21, True),  # CalibrationIlluminant1: D65
    ]
    tifffile.imwrite(path, cells.astype(np.uint16), photometric=32803, extratags=tags)
    return path


def test_a_white_balance_that_wanders_in_the_files_does_not_reach_the_film(tmp_path: Path):
    neutrals = ((600, 700), (660, 640), (540, 760))
    paths = [dng(tmp_path / f"cork_{n}.dng", *white) for n, white in enumerate(neutrals)]
    with rawpy.imread(str(paths[0])) as first, rawpy.imread(str(paths[1])) as second:
        assert first.camera_whitebalance != second.camera_whitebalance
    shot = FilmShot("cork", "12", tuple(FilmExposure(path) for path in paths))
    report = export(shot, ExportOptions(format="tiff"), tmp_path / "film")
    pictures = [tifffile.imread(path) for path in sorted((tmp_path / "film").iterdir())]
    assert report.notes == ()
    assert pictures[0].dtype == np.uint16
    assert all(np.array_equal(pictures[0], one) for one in pictures[1:])
    middle = pictures[0][32:-32, 32:-32].reshape(-1, 3).mean(axis=0)
    assert np.ptp(middle) < 0.02 * middle.mean(), "what the first file calls white is grey"
