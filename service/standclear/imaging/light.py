"""How the light of an exposure differs from the reference: level, field, colour, tone, banding.

The logarithm of the ratio of linearised blocks is modelled as a sum: a level, a field of order 2
over the picture (a lamp on one side), an offset for red and blue against green (a colour shift), a
curve over tone (the camera's own rendering moves dark and bright tones differently), and a wave
down the rows (mains beat under a rolling shutter). What the model cannot explain, the moving object
or a hand, is weighted out.

Sources: J. W. Tukey's biweight in iteratively reweighted least squares (P. J. Huber, E. M.
Ronchetti, "Robust Statistics", 2009); luminance weights of ITU-R BT.709.
"""

from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.banding import Wave, find_wave
from standclear.imaging.linear import LUMINANCE_BGR, Doubles, Floats
from standclear.imaging.robust import Solution, biweight_fit

BLOCK = 4
"""Side of a block, in pixels of the small picture."""

LEAST_TRUSTED = 0.99
LEAST_BLOCKS = 60
MIDDLE_GREY = 0.18
TONE_SPAN_STOPS = 2.0

FIELD_TERMS = 5
LEVEL, FIELD, TONE, BLUE, RED = 0, slice(1, 6), slice(6, 8), 8, 9


@dataclass(frozen=True)
class LightChange:
    """The change against the reference; natural logarithms of ratios of linear light.

    ``level`` is green's mean over the picture at middle grey; ``field`` the coefficients of x, y,
    x², xy, y² (x, y from -1 to 1, each term with its mean over the picture taken off); ``tone`` of
    u and u² with u in units of two stops from middle grey; ``blue`` and ``red`` against green.
    ``covariance`` belongs to the ten in that order. ``rows`` is the wave's profile by block row
    with the rest of the model taken off. ``left`` is by block and channel what remains, and
    ``noise`` its expected standard deviation.
    """

    level: float
    field_terms: Doubles
    tone: Doubles
    blue: float
    red: float
    covariance: Doubles
    wave: Wave | None
    rows: Doubles = field(repr=False)
    left: Floats = field(repr=False)
    noise: Floats = field(repr=False)

    @property
    def luminance_level(self) -> float:
        """The level of luminance (ITU-R BT.709)."""
        return self.level + LUMINANCE_BGR[0] * self.blue + LUMINANCE_BGR[2] * self.red

    @property
    def level_sd(self) -> float:
        """Standard deviation of ``level``."""
        return float(np.sqrt(self.covariance[LEVEL, LEVEL]))


def blocks_of(small: Floats, trusted: Floats) -> tuple[Floats, Floats]:
    """Block means of linear light and of the trusted part, (h, w, 3) → (h // 4, w // 4, 3)."""
    return _block_means(small), _block_means(trusted)


def light_change(
    reference: tuple[Floats, Floats],
    picture: tuple[Floats, Floats],
    background: Floats | None = None,
) -> LightChange | None:
    """Fit the model to two exposures' `blocks_of`; ``None`` when too few blocks can be trusted.

    ``background`` (rows, columns as the blocks, 0..1) says how surely a block was background.
    """
    rows, columns = reference[0].shape[:2]
    usable = np.minimum(reference[1], picture[1]) >= LEAST_TRUSTED
    usable &= (reference[0] > 0) & (picture[0] > 0)
    if usable.any(axis=2).sum() < LEAST_BLOCKS:
        return None
    before = np.where(usable, reference[0], 1.0).astype(np.float64)
    after = np.where(usable, picture[0], 1.0).astype(np.float64)
    ratio = np.log(after / before)
    tone = np.log2(np.sqrt(after * before) / MIDDLE_GREY) / TONE_SPAN_STOPS
    design = _design(rows, columns, tone)
    prior = usable.astype(np.float64)
    if background is not None:
        prior *= background[:, :, None]
    return _fit(design, ratio, tone, prior)


def field_over(terms: Doubles, rows: int = 9, columns: int = 16) -> Doubles:
    """The field of ``LightChange.field_terms`` on a grid, (rows, columns), natural logarithm."""
    return np.asarray(np.tensordot(terms, _field_terms(rows, columns), axes=1))


def _fit(design: Doubles, ratio: Doubles, tone: Doubles, prior: Doubles) -> LightChange:
    shape = ratio.shape
    kept = prior.ravel() > 0
    solution = biweight_fit(
        design[kept], ratio.ravel()[kept], prior.ravel()[kept], tone.ravel()[kept]
    )
    rows, wave = _rows_and_wave(design, ratio, prior, solution, kept)
    if wave is not None:
        waved = ratio - wave.over(shape[0])[:, None, None]
        solution = biweight_fit(
            design[kept], waved.ravel()[kept], prior.ravel()[kept], tone.ravel()[kept]
        )
        rows, again = _rows_and_wave(design, ratio, prior, solution, kept)
        wave = again or wave
    left = ratio - (design @ solution.values).reshape(shape)
    if wave is not None:
        left = left - wave.over(shape[0])[:, None, None]
    noise = np.full(ratio.size, np.inf)
    noise[kept] = solution.noise
    values = solution.values
    return LightChange(
        float(values[LEVEL]), values[FIELD], values[TONE], float(values[BLUE]), float(values[RED]),
        solution.covariance, wave, rows,
        np.where(prior > 0, left, 0.0).astype(np.float32),
        noise.reshape(shape).astype(np.float32),
    )  # fmt: skip


def _rows_and_wave(
    design: Doubles, ratio: Doubles, prior: Doubles, solution: Solution, kept: Doubles
) -> tuple[Doubles, Wave | None]:
    """Weighted mean by block row of what the smooth model leaves, and the wave in it."""
    left = ratio - (design @ solution.values).reshape(ratio.shape)
    weights = np.zeros(ratio.size)
    weights[kept] = solution.weights
    weights = weights.reshape(ratio.shape)
    mass = weights.sum(axis=(1, 2))
    rows = (weights * left).sum(axis=(1, 2)) / np.maximum(mass, 1e-12)
    return rows, find_wave(rows, mass)


def _design(rows: int, columns: int, tone: Doubles) -> Doubles:
    """(entries, 10) in the order of `LightChange.covariance`; entries are block, then channel."""
    field_terms = _field_terms(rows, columns)
    spread = np.repeat(field_terms.reshape(FIELD_TERMS, -1).T, 3, axis=0)
    entries = spread.shape[0]
    u = tone.reshape(-1)
    channel = np.tile(np.arange(3), entries // 3)
    return np.column_stack(
        [np.ones(entries), spread, u, u * u, channel == 0, channel == 2]
    ).astype(np.float64)


def _field_terms(rows: int, columns: int) -> Doubles:
    """x, y, x², xy, y² over the grid, each without its mean, (5, rows, columns)."""
    x = np.linspace(-1, 1, columns)[None, :] * np.ones((rows, 1))
    y = np.linspace(-1, 1, rows)[:, None] * np.ones((1, columns))
    terms = np.stack([x, y, x * x, x * y, y * y])
    return np.asarray(terms - terms.mean(axis=(1, 2), keepdims=True))


def _block_means(picture: Floats) -> Floats:
    rows, columns = picture.shape[0] // BLOCK, picture.shape[1] // BLOCK
    cut = picture[: rows * BLOCK, : columns * BLOCK].reshape(rows, BLOCK, columns, BLOCK, 3)
    return np.asarray(cut.mean(axis=(1, 3)), dtype=np.float32)
