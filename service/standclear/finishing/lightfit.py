"""How the light of one exposure lies against the shot's own still background. Pure arithmetic.

By block and channel the logarithm of the ratio to the background is modelled as ``response(tone) x
field(place)``: the field is a polynomial over the picture, the response says how much more than
sRGB the camera's own curve moves at each tone. What the model cannot explain (the moving object) is
weighted out with Tukey's biweight (P. J. Huber, E. M. Ronchetti, "Robust Statistics", 2009).
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from standclear.imaging.robust import BIWEIGHT_CUT, robust_sd

Doubles = npt.NDArray[np.float64]

ORDER = 4
TERMS = (ORDER + 1) * (ORDER + 2) // 2
ROUNDS = 12
RESPONSE_ROUNDS = 3
RESPONSE_POWERS = 3
SMALLEST_SD = 2e-4
RIDGE = 1e-4
LUMA_BGR = np.array([0.114, 0.587, 0.299])  # ITU-R BT.601, as JFIF has it
MIDDLE_GREY = 0.18
TONE_SPAN_STOPS = 2.0


@dataclass(frozen=True)
class Response:
    """Polynomial over tone, lowest power first; tones outside ``low``..``high`` take the end's."""

    powers: tuple[float, ...] = (1.0,)
    low: float = -3.0
    high: float = 3.0

    def at(self, tone: Doubles) -> Doubles:
        """The factor at each tone (see ``tone_of``), from a quarter to four."""
        inside = np.clip(tone, self.low, self.high)
        return np.clip(np.polynomial.polynomial.polyval(inside, self.powers), 0.25, 4.0)


@dataclass(frozen=True)
class Blocks:
    """Mean log linear light of blocks, (rows, columns, 3) blue first, and 1 where it is known."""

    log: Doubles = field(repr=False)
    known: Doubles = field(repr=False)


@dataclass(frozen=True)
class Plate:
    """The still background: log light by block, how surely each block is background, response."""

    log: Doubles = field(repr=False)
    sure: Doubles = field(repr=False)
    response: Response = field(default_factory=Response)


@dataclass(frozen=True)
class LightFit:
    """Field coefficients by channel, (3, TERMS), natural logarithm; the first is the level.

    ``noise`` is the variance of each coefficient, same shape; ``agreeing`` the part of the
    background that the model explains.
    """

    terms: Doubles = field(repr=False)
    noise: Doubles = field(repr=False)
    agreeing: float = 1.0


def tone_of(log_light: Doubles) -> Doubles:
    """Tone in units of two stops from middle grey, of natural log linear light."""
    return np.asarray((log_light - np.log(MIDDLE_GREY)) / (np.log(2.0) * TONE_SPAN_STOPS))


def field_terms(x: Doubles, y: Doubles) -> Doubles:
    """Legendre products up to ``ORDER`` at x, y (each -1..1), (TERMS, *shape); the first is 1."""
    along = [np.polynomial.legendre.legval(x, _unit(n)) for n in range(ORDER + 1)]
    down = [np.polynomial.legendre.legval(y, _unit(n)) for n in range(ORDER + 1)]
    pairs = [(i, n - i) for n in range(ORDER + 1) for i in range(n, -1, -1)]
    return np.stack([along[i] * down[j] for i, j in pairs])


def grid(rows: int, columns: int) -> Doubles:
    """``field_terms`` at the centres of rows x columns blocks, (TERMS, rows, columns)."""
    x = (np.arange(columns) + 0.5) / columns * 2 - 1
    y = (np.arange(rows) + 0.5) / rows * 2 - 1
    across, down = np.meshgrid(x, y)
    return field_terms(across, down)


def fit(plate: Plate, blocks: Blocks) -> LightFit | None:
    """Fit an exposure's blocks to the plate; None when too little background can be seen."""
    ratio = blocks.log - plate.log
    known = blocks.known.min(axis=2) * plate.sure
    if (known > 0).sum() < 3 * TERMS:
        return None
    terms = grid(*known.shape).reshape(TERMS, -1).T
    tone = tone_of(plate.log).reshape(-1, 3)
    luma = (ratio.reshape(-1, 3) * LUMA_BGR).sum(axis=1)
    grey = terms * plate.response.at((tone * LUMA_BGR).sum(axis=1))[:, None]
    weights = _robust_weights(grey, luma, known.ravel())
    found, noise = np.empty((3, TERMS)), np.empty((3, TERMS))
    for channel in range(3):
        design = terms * plate.response.at(tone[:, channel])[:, None]
        wanted = ratio[..., channel].ravel()
        found[channel] = _solve(design, wanted, weights)
        noise[channel] = _variance(design, wanted - design @ found[channel], weights)
    return LightFit(found, noise, float((weights > 0).sum() / max((known > 0).sum(), 1)))


def learn_response(plate: Plate, samples: list[Blocks]) -> Response:
    """The response from the shot's own flicker; sRGB's when the light hardly moves.

    Its scale is open and set so that its mean over the background is 1.
    """
    for _ in range(RESPONSE_ROUNDS):
        fits = [(blocks, found) for blocks in samples if (found := fit(plate, blocks)) is not None]
        levels = np.array([found.terms[1, 0] for _, found in fits])
        if len(fits) < 4 or robust_sd(levels) < 0.002:
            return plate.response
        plate = replace(plate, response=_bettered(plate, fits))
    return plate.response


def _bettered(plate: Plate, fits: list[tuple[Blocks, LightFit]]) -> Response:
    """The polynomial over tone that explains what no field over the picture can.

    Tone goes with place on most sets, so that a field alone would take up half of the response:
    both sides are freed of all fields first (R. Frisch, F. V. Waugh, Econometrica 1, 1933).
    """
    terms = grid(*plate.sure.shape).reshape(TERMS, -1).T
    tone = tone_of(plate.log).reshape(-1, 3)
    powers = np.arange(1, RESPONSE_POWERS + 1)
    normal, wanted = np.zeros((len(powers), len(powers))), np.zeros(len(powers))
    for blocks, found in fits:
        weights = _calm_weights(plate, blocks, found)
        for channel in range(3):
            root = np.sqrt(weights[:, channel])
            moved = terms @ found.terms[channel]
            ratio = (blocks.log - plate.log)[..., channel].ravel()
            both = np.column_stack([moved[:, None] * tone[:, [channel]] ** powers, ratio])
            free = _without(terms * root[:, None], both * root[:, None])
            normal += free[:, :-1].T @ free[:, :-1]
            wanted += free[:, :-1].T @ free[:, -1]
    faint = 1e-6 * np.trace(normal) / len(powers) + 1e-15
    found_powers = np.linalg.solve(normal + faint * np.eye(len(powers)), wanted)
    return _normal_response(plate, np.concatenate([[1.0], found_powers]))


def _normal_response(plate: Plate, powers: Doubles) -> Response:
    tone = tone_of(plate.log)[plate.sure > 0.5]
    low, high = np.quantile(tone, [0.02, 0.98])
    raw = Response(tuple(float(p) for p in powers), float(low), float(high))
    mean = float(raw.at(tone).mean())
    return Response(tuple(float(p / mean) for p in powers), float(low), float(high))


def _calm_weights(plate: Plate, blocks: Blocks, found: LightFit) -> Doubles:
    """By block and channel how far it may be heeded: background that the model explains."""
    moved = np.einsum("ct,trk->rkc", found.terms, grid(*plate.sure.shape))
    left = blocks.log - plate.log - plate.response.at(tone_of(plate.log)) * moved
    prior = blocks.known * plate.sure[..., None]
    calm = (np.abs(left) < 3.0 * _calm_sd(left[(prior > 0.5).all(axis=2)])).all(axis=2)
    return np.asarray((prior * calm[..., None]).reshape(-1, 3))


def _without(fields: Doubles, columns: Doubles) -> Doubles:
    """What is left of the columns when the fields have explained all they can.

    By the normal equations: Legendre products are nearly orthogonal, and some thirty times as many
    rows as columns make an orthogonal factoring many times slower for nothing.
    """
    normal = fields.T @ fields
    faint = 1e-12 * np.trace(normal) / len(normal) + 1e-15
    explained = np.linalg.solve(normal + faint * np.eye(len(normal)), fields.T @ columns)
    return np.asarray(columns - fields @ explained)


def _calm_sd(left: Doubles) -> float:
    """Standard deviation from the calmest quarter: the object may hold more than half of it."""
    if not left.size:
        return SMALLEST_SD
    quarter = float(np.quantile(np.abs(left), 0.25))  # of a normal distribution 0.3186 sd
    return max(quarter / 0.3186, SMALLEST_SD)


def _robust_weights(design: Doubles, wanted: Doubles, prior: Doubles) -> Doubles:
    values = np.zeros(design.shape[1])
    values[0] = np.median(wanted[prior > 0])
    weights = prior
    for turn in range(ROUNDS):
        left = wanted - design @ values
        spread = max(robust_sd(left[(weights if turn > 2 else prior) > 0]), SMALLEST_SD)
        weights = prior * np.square(np.clip(1.0 - np.square(left / (BIWEIGHT_CUT * spread)), 0, 1))
        values = _solve(design, wanted, weights)
    return weights


def _solve(design: Doubles, wanted: Doubles, weights: Doubles) -> Doubles:
    """Weighted least squares with a faint ridge on all but the first coefficient."""
    weighted = design * weights[:, None]
    normal = design.T @ weighted
    ridge = np.full(len(normal), RIDGE * np.trace(normal) / len(normal) + 1e-12)
    ridge[0] = 1e-12
    return np.asarray(np.linalg.solve(normal + np.diag(ridge), weighted.T @ wanted))


def _variance(design: Doubles, left: Doubles, weights: Doubles) -> Doubles:
    """Variance of each coefficient, from the scatter of what is left (sandwich)."""
    inverse = np.linalg.pinv(design.T @ (design * weights[:, None]), hermitian=True)
    scores = design * (weights * left)[:, None]
    return np.asarray(np.diag(inverse @ (scores.T @ scores) @ inverse))


def _unit(order: int) -> list[float]:
    return [0.0] * order + [1.0]
