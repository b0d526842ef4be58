"""How the light of an exposure differs from the reference: level, field, colour, tone, banding.

The logarithm of the ratio of linearised blocks is modelled as a sum: a level, a field of order 2
over the picture (a lamp on one side), a curve over tone (the camera's own rendering moves dark and
bright tones differently), and a wave down the rows (mains beat under a rolling shutter); then red
and blue against the whole (a colour shift). What the model cannot explain, the moving object or a
hand, is weighted out.

The level is read from luma, weighted so that a JPEG file's coarsely rounded colour cancels.

Sources: J. W. Tukey's biweight in iteratively reweighted least squares (P. J. Huber, E. M.
Ronchetti, "Robust Statistics", 2009); luma weights of JFIF (ITU-R BT.601).
"""

from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.banding import Wave, find_wave
from standclear.imaging.linear import Doubles, Floats, Mask
from standclear.imaging.robust import Solution, biweight_fit, clipped_mean

BLOCK = 4
"""Side of a block, in pixels of the small picture."""

LEAST_TRUSTED = 0.99
LEAST_BLOCKS = 60
MIDDLE_GREY = 0.18
TONE_SPAN_STOPS = 2.0
LUMA_BGR = np.array([0.114, 0.587, 0.299])
ROUNDING = 0.0012
"""Noise that a block has at least, natural log at middle grey: a JPEG file's rounded averages."""
COLOUR_STEP = 0.06
"""How far one step of a JPEG file's rounded colour may move a block's ratio of two channels: on a
plain wall a small change of colour moves half of it by a step, and the other half not at all."""
TONE_PER_LEVEL = 0.3
LEAST_TONE = 5e-4

LEVEL, FIELD, TONE = 0, slice(1, 6), slice(6, 8)


@dataclass(frozen=True)
class Response:
    """How much more than sRGB a camera's rendering moves, by tone: ``a + b u + c u²``.

    ``u`` is the tone in units of two stops from middle grey. Without a known change of light it
    cannot be learnt: pictures alone leave a power of light open (M. D. Grossberg, S. K. Nayar,
    "Determining the camera response from images: what is knowable?", PAMI 25, 2003).
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0

    def at(self, u: Doubles) -> Doubles:
        """The factor at each tone, kept between a quarter and four."""
        return np.clip(self.a + self.b * u + self.c * u * u, 0.25, 4.0)


SRGB = Response()


@dataclass(frozen=True)
class LightChange:
    """The change against the reference; natural logarithms of ratios of linear light.

    ``level`` is the mean over the picture at the set's own mean tone, where it is known best;
    ``field_terms`` the coefficients of x, y, x², xy, y² (x, y from -1 to 1, each term with its mean
    over the picture taken off); ``tone`` of u and u² with u in units of two stops from middle grey,
    each without its mean over the set, which ``tone_means`` are; ``blue`` and ``red`` are against
    green.
    ``covariance`` belongs to level, field and tone in that order, ``colour_sd`` to blue and red.
    ``rows`` is the wave's profile by block row with the rest of the model taken off. ``left`` is by
    block and channel what remains, NaN where light cannot be trusted.
    """

    level: float
    field_terms: Doubles
    tone: Doubles
    tone_means: Doubles
    blue: float
    red: float
    covariance: Doubles
    colour_sd: float
    wave: Wave | None
    rows: Doubles = field(repr=False)
    row_mass: Doubles = field(repr=False)
    left: Floats = field(repr=False)

    @property
    def level_sd(self) -> float:
        """Standard deviation of ``level``."""
        return float(np.sqrt(self.covariance[LEVEL, LEVEL]))


@dataclass(frozen=True)
class _Entries:
    """One entry a block: log ratio of luma-weighted light, tone, weight before any fit."""

    ratios: Doubles
    usable: Mask
    whole: Doubles
    tone: Doubles
    prior: Doubles

    @property
    def tones(self) -> Doubles:
        """u and u² by block, (blocks, 2)."""
        return np.column_stack([self.tone.ravel(), np.square(self.tone.ravel())])

    @property
    def tone_means(self) -> Doubles:
        """Their means over what is heeded."""
        return np.asarray(np.average(self.tones, axis=0, weights=self.prior.ravel()))


@dataclass(frozen=True)
class _Rows:
    profile: Doubles
    mass: Doubles
    wave: Wave | None


def blocks_of(small: Floats, trusted: Floats) -> tuple[Floats, Floats]:
    """Block means of linear light and of the trusted part, (h, w, 3) → (h // 4, w // 4, 3)."""
    return _block_means(small), _block_means(trusted)


def light_change(
    reference: tuple[Floats, Floats],
    picture: tuple[Floats, Floats],
    background: Floats | None = None,
    response: Response = SRGB,
) -> LightChange | None:
    """Fit the model to two exposures' `blocks_of`; ``None`` when too few blocks can be trusted.

    ``background`` (rows, columns as the blocks, 0..1) says how surely a block was background.
    """
    entries = _entries(reference, picture, background)
    if (entries.prior > 0).sum() < LEAST_BLOCKS:
        return None
    shape = entries.tone.shape
    design = _design(entries, response)
    solution, kept = _solved(design, entries, entries.whole)
    rows = _rows(design, entries.whole, solution, kept)
    if rows.wave is not None:
        waved = entries.whole - rows.wave.over(shape[0])[:, None] * response.at(entries.tone)
        solution, kept = _solved(design, entries, waved)
        again = _rows(design, entries.whole, solution, kept)
        rows = again if again.wave is not None else rows
    weights = np.zeros(entries.whole.size)
    weights[kept] = solution.weights * np.square(solution.noise)
    model = (design @ solution.values).reshape(shape)
    return _change(entries, model, solution, weights.reshape(shape), rows)


def field_over(terms: Doubles, rows: int = 9, columns: int = 16) -> Doubles:
    """The field of ``LightChange.field_terms`` on a grid, (rows, columns), natural logarithm."""
    return np.asarray(np.tensordot(terms, _field_terms(rows, columns), axes=1))


def response_from(change: LightChange, known_log_gain: float) -> Response:
    """Learn a camera's response from one change of light whose size is known (a shutter time)."""
    at_middle_grey = change.level - float(change.tone @ change.tone_means)
    return Response(
        at_middle_grey / known_log_gain,
        float(change.tone[0]) / known_log_gain,
        float(change.tone[1]) / known_log_gain,
    )


def _entries(
    reference: tuple[Floats, Floats], picture: tuple[Floats, Floats], background: Floats | None
) -> _Entries:
    usable = np.minimum(reference[1], picture[1]) >= LEAST_TRUSTED
    usable &= (reference[0] > 0) & (picture[0] > 0)
    before = np.where(usable, reference[0], 1.0).astype(np.float64)
    after = np.where(usable, picture[0], 1.0).astype(np.float64)
    ratios = np.log(after / before)
    light = np.where(usable, np.sqrt(after * before), 0.0)
    weights = LUMA_BGR * light ** (1 / 2.4)
    total = np.maximum(weights.sum(axis=2), 1e-9)
    whole = (weights * ratios).sum(axis=2) / total
    enough = (usable * LUMA_BGR).sum(axis=2) > 0.5
    tone = np.log2(np.maximum((LUMA_BGR * light).sum(axis=2), 1e-4) / MIDDLE_GREY)
    prior = enough.astype(np.float64)
    if background is not None:
        prior *= background
    return _Entries(ratios, usable, whole, tone / TONE_SPAN_STOPS, prior)


def _solved(design: Doubles, entries: _Entries, wanted: Doubles) -> tuple[Solution, Mask]:
    kept = entries.prior.ravel() > 0
    floor = ROUNDING * np.exp2(-entries.tone.ravel()[kept] * TONE_SPAN_STOPS / 2.4)
    solution = biweight_fit(
        design[kept],
        wanted.ravel()[kept],
        entries.prior.ravel()[kept],
        entries.tone.ravel()[kept],
        floor=floor,
        expected=_expected(float(np.median(wanted.ravel()[kept]))),
    )
    return solution, kept


def _expected(level: float) -> Doubles:
    """A rendering's contrast follows the change of light; level and field are free."""
    free = np.full(6, np.inf)
    bent = TONE_PER_LEVEL * abs(level) + LEAST_TONE
    return np.concatenate([free, [bent, bent]])


def _rows(design: Doubles, whole: Doubles, solution: Solution, kept: Mask) -> _Rows:
    """Weighted mean by block row of what the smooth model leaves, and the wave in it."""
    left = whole - (design @ solution.values).reshape(whole.shape)
    spread = np.zeros(whole.size)
    spread[kept] = solution.weights
    weights = spread.reshape(whole.shape)
    mass = weights.sum(axis=1)
    profile = (weights * left).sum(axis=1) / np.maximum(mass, 1e-12)
    return _Rows(profile, mass, find_wave(profile, mass))


def _change(
    entries: _Entries, model: Doubles, solution: Solution, weights: Doubles, rows: _Rows
) -> LightChange:
    if rows.wave is not None:
        model = model + rows.wave.over(len(model))[:, None]
    blue, red, colour_sd = _colour(entries, weights)
    left = (entries.ratios - model[:, :, None]) - _offsets(entries, blue, red)
    values = solution.values
    return LightChange(
        float(values[LEVEL]), values[FIELD], values[TONE], entries.tone_means, blue, red,
        solution.covariance, colour_sd, rows.wave, rows.profile, rows.mass,
        np.where(entries.usable, left, np.nan).astype(np.float32),
    )  # fmt: skip


def _colour(entries: _Entries, weights: Doubles) -> tuple[float, float, float]:
    """Blue and red against green over the background, and their standard deviation.

    A JPEG file rounds colour so coarsely that single blocks jump; only the mean over many is true,
    so the weights come from the level's fit and the mean is clipped, not redescending.
    """
    known = entries.usable.all(axis=2) & (weights > 0.1)
    if known.sum() < LEAST_BLOCKS:
        return 0.0, 0.0, float("inf")
    ratios = entries.ratios[known]
    blue, blue_sd = clipped_mean(ratios[:, 0] - ratios[:, 1], weights[known], COLOUR_STEP)
    red, red_sd = clipped_mean(ratios[:, 2] - ratios[:, 1], weights[known], COLOUR_STEP)
    return blue, red, max(blue_sd, red_sd)


def _offsets(entries: _Entries, blue: float, red: float) -> Doubles:
    """What each channel has more than luma after a colour shift."""
    share = LUMA_BGR[0] * blue + LUMA_BGR[2] * red
    return np.array([blue - share, -share, red - share])


def _design(entries: _Entries, response: Response) -> Doubles:
    """(blocks, 8) in the order of `LightChange.covariance`. The bends over tone have no mean: with
    one, a set of few tones could hardly tell them from its level."""
    tone = entries.tone
    spread = _field_terms(*tone.shape).reshape(5, -1).T
    lit = np.column_stack([np.ones(tone.size), spread]) * response.at(tone.reshape(-1))[:, None]
    return np.column_stack([lit, entries.tones - entries.tone_means])


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
