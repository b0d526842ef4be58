"""How a picture lies on a reference: shift, turn and scale, and how well they are known.

A direct fit: Gauss-Newton on the band-passed log pictures (`texture.py`), coarse to fine, in which
each block is weighted down by its residual energy against the noise (Tukey's biweight on energies).
What moved on its own has far more residual than noise and drops out, however much texture it has;
what stays is the background, because it covers most area.

Sources: B. D. Lucas, T. Kanade, "An iterative image registration technique" (IJCAI 1981);
S. Baker, I. Matthews, "Lucas-Kanade 20 years on" (IJCV 2004); P. J. Huber, E. M. Ronchetti, "Robust
Statistics" (2009), for weights and for the sandwich covariance.
"""

from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.linear import Doubles, Floats
from standclear.imaging.similarity import IDENTITY, Similarity, brought_onto_reference
from standclear.imaging.texture import block_centres, block_size, block_sums, gradients
from standclear.imaging.tiles import start_from_tiles

BIWEIGHT = 5.0
"""Blocks with more than this many times the usual residual energy do not count."""

SETTLED_PX = 0.001
"""A step below this, in pixels of the level, ends a level."""

TRUSTED_AREA = 0.5
"""A fit from identity that leaves less of the area in agreement is tried again from tiles."""


SYSTEMATIC_PX = 0.003
"""What sampling, resampling and JPEG blocks leave in a shift beside noise (measured)."""

NOISE_PLACE_PX = 8.0
"""Pixels over which the band-passed gradient's noise hangs together (measured on white noise)."""


@dataclass(frozen=True)
class Level:
    """One size of the reference, with all that a fit needs of it.

    ``hessian`` holds for each block the sums of gx gx, gx gy, gy gy; ``x``, ``y`` the blocks'
    centres relative to the picture's centre, in units of ``reach`` (half the width, in pixels).
    """

    picture: Floats
    gx: Floats
    gy: Floats
    block: int
    hessian: tuple[Floats, Floats, Floats]
    x: Floats
    y: Floats
    reach: float


@dataclass(frozen=True)
class Reference:
    """A precomputed reference, finest level first."""

    levels: tuple[Level, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """(h, w) of the finest level."""
        return self.levels[0].picture.shape


@dataclass(frozen=True)
class Registration:
    """Where the picture lies, in pixels of the finest level.

    ``covariance`` is 4 x 4 for (shift_x, shift_y, turn in rad, log scale). ``None`` stands for a
    fit that has no ground: nothing in the background's texture ties it down. ``agreeing`` is the
    part of the area that lies still on the reference. ``aligned`` is the picture's finest level
    brought onto the reference, ``weights`` and ``energy`` are by block of that level.
    """

    motion: Similarity
    covariance: Doubles | None
    agreeing: float
    aligned: Floats = field(repr=False)
    weights: Floats = field(repr=False)
    energy: Floats = field(repr=False)

    @property
    def shift_sd(self) -> float:
        """Standard deviation of the less certain shift axis, in pixels of the finest level."""
        if self.covariance is None:
            return float("inf")
        return float(np.sqrt(max(np.linalg.eigvalsh(self.covariance[:2, :2])[-1], 0.0)))


@dataclass(frozen=True)
class _Fit:
    motion: Similarity
    aligned: Floats
    residual: Floats
    weights: Floats
    energy: Floats


def reference_from(levels: tuple[Floats, ...]) -> Reference:
    """Prepare band-passed levels (finest first, from `texture.pyramid`) for many fits."""
    return Reference(tuple(_level(picture) for picture in levels))


def register(
    reference: Reference, levels: tuple[Floats, ...], background: Floats | None = None
) -> Registration:
    """Fit the picture with these ``levels`` onto ``reference``.

    ``background`` (rows, columns of any grid, 0..1) says how surely each place was background in
    the exposures before. Levels must have the reference's sizes (``ValueError`` otherwise).
    """
    if levels[0].shape != reference.shape:
        raise ValueError(f"a picture of {levels[0].shape} does not fit {reference.shape}")
    fit = _descend(reference, levels, IDENTITY, background)
    found = _judged(reference.levels[0], fit)
    if found.covariance is not None and found.agreeing >= TRUSTED_AREA:
        return found
    start = start_from_tiles(
        reference.levels[_tile_level(reference)].picture, levels[_tile_level(reference)]
    )
    if start is None:
        return found
    start = start.resized(2.0 ** _tile_level(reference))
    other = _judged(reference.levels[0], _descend(reference, levels, start, background))
    return _better_by_area(found, other)


def fit_patch(
    before: Floats, after: Floats, start: Similarity, prior: Floats, block: int
) -> Similarity:
    """Refine the motion of what moved inside two patches of one size, about the patch's centre.

    ``prior`` (rows, columns of blocks of ``block`` pixels, 0..1) says where the moved thing is.
    """
    return _fit_level(_level(before, block), after, start, 12, prior).motion


def _tile_level(reference: Reference) -> int:
    widths = [level.picture.shape[1] for level in reference.levels]
    return min(range(len(widths)), key=lambda i: abs(widths[i] - 480))


def _level(picture: Floats, block: int | None = None) -> Level:
    size = block or block_size(picture.shape[1])
    gx, gy = gradients(picture)
    x, y = block_centres(picture.shape, size)
    reach = picture.shape[1] / 2
    hessian = (
        block_sums((gx, gx), size),
        block_sums((gx, gy), size),
        block_sums((gy, gy), size),
    )
    return Level(picture, gx, gy, size, hessian, x / reach, y / reach, reach)


def _descend(
    reference: Reference, levels: tuple[Floats, ...], start: Similarity, background: Floats | None
) -> _Fit:
    motion = start
    for depth in range(len(levels) - 1, -1, -1):
        at_level = motion.resized(0.5**depth)
        steps = 4 if depth == 0 else 8
        prior = _prior(reference.levels[depth], background)
        fit = _fit_level(reference.levels[depth], levels[depth], at_level, steps, prior)
        motion = fit.motion.resized(2.0**depth)
    return fit


def _prior(level: Level, background: Floats | None) -> Floats:
    if background is None:
        return np.ones(level.x.shape, dtype=np.float32)
    rows = (np.arange(level.x.shape[0]) + 0.5) / level.x.shape[0] * background.shape[0]
    columns = (np.arange(level.x.shape[1]) + 0.5) / level.x.shape[1] * background.shape[1]
    return np.asarray(background[np.ix_(rows.astype(int), columns.astype(int))], dtype=np.float32)


def _fit_level(level: Level, picture: Floats, start: Similarity, steps: int, prior: Floats) -> _Fit:
    motion = start
    for step in range(steps + 1):
        aligned = brought_onto_reference(picture, motion)
        residual = aligned - level.picture
        energy = _mean_energy(residual, level.block)
        weights = _weights(level, energy, motion, prior)
        if step == steps:
            break
        change = _newton_step(level, residual, weights)
        if change is None:
            break
        motion = _moved(motion, change, level.reach)
        if np.abs(change).max() < SETTLED_PX:
            break
    return _Fit(motion, aligned, residual, weights, energy)


def _mean_energy(residual: Floats, block: int) -> Floats:
    return np.asarray(block_sums((residual, residual), block) / block**2, dtype=np.float32)


def _moved(motion: Similarity, change: Doubles, reach: float) -> Similarity:
    return Similarity(
        motion.shift_x + change[0],
        motion.shift_y + change[1],
        motion.turn + change[2] / reach,
        motion.log_scale + change[3] / reach,
    )


def _weights(level: Level, energy: Floats, motion: Similarity, prior: Floats) -> Floats:
    inside = _inside(level, motion) * prior
    counted = energy[inside > 0.5]
    usual = float(np.median(counted)) if counted.size else 0.0
    if usual <= 0.0:
        return inside
    ratio = energy / (BIWEIGHT * usual)
    return np.asarray(np.square(np.clip(1.0 - ratio, 0.0, 1.0)) * inside, dtype=np.float32)


def _inside(level: Level, motion: Similarity) -> Floats:
    """1 for blocks that the moved picture covers whole, 0 for those that it leaves in part."""
    points = np.stack([level.x.ravel(), level.y.ravel()], axis=1) * level.reach
    moved = points + motion.displacement(
        points.astype(np.float64) + _middle(level.picture.shape), level.picture.shape
    )
    half = np.array(level.picture.shape[::-1]) / 2 - level.block / 2
    covered = np.all(np.abs(moved) <= half + 1.0, axis=1)
    return np.asarray(covered.reshape(level.x.shape), dtype=np.float32)


def _middle(shape: tuple[int, ...]) -> Doubles:
    return np.array([shape[1] / 2, shape[0] / 2])


def _basis(level: Level, sx: Floats, sy: Floats) -> Doubles:
    """Block sums along x and y → the four parameters' sums, (4, blocks); turn and scale × reach."""
    return (
        np.stack([sx, sy, level.x * sy - level.y * sx, level.x * sx + level.y * sy])
        .reshape(4, -1)
        .astype(np.float64)
    )


def _newton_step(level: Level, residual: Floats, weights: Floats) -> Doubles | None:
    sx = block_sums((level.gx, residual), level.block)
    sy = block_sums((level.gy, residual), level.block)
    score = _basis(level, sx, sy) @ weights.ravel()
    normal = _normal_matrix(level, level.hessian, weights)
    if np.linalg.cond(normal) > 1e8:
        return None
    step = -np.linalg.solve(normal, score)
    return np.asarray(np.clip(step, -2.0, 2.0), dtype=np.float64)


def _normal_matrix(
    level: Level, hessian: tuple[Floats, Floats, Floats], weights: Floats
) -> Doubles:
    """4 x 4 sum over blocks of w J'J, with the blocks' centres standing for their pixels."""
    xx, xy, yy = (h.astype(np.float64) * weights for h in hessian)
    one = np.ones_like(xx)
    zero = np.zeros_like(xx)
    jx = np.stack([one, zero, -level.y, level.x]).reshape(4, -1)
    jy = np.stack([zero, one, level.x, level.y]).reshape(4, -1)
    cross = (jx * xy.ravel()) @ jy.T
    normal: Doubles = (jx * xx.ravel()) @ jx.T + cross + cross.T + (jy * yy.ravel()) @ jy.T
    return normal


def _judged(level: Level, fit: _Fit) -> Registration:
    counted = fit.weights > 0
    covered = _inside(level, fit.motion) > 0
    agreeing = float(counted.sum() / max(covered.sum(), 1))
    return Registration(
        fit.motion, _covariance(level, fit), agreeing, fit.aligned, fit.weights, fit.energy
    )


def _covariance(level: Level, fit: _Fit) -> Doubles | None:
    """Sandwich covariance; ``None`` when the texture common to both pictures is not above noise.

    The information is the sum of products of the two pictures' gradients: noise, which they do not
    share, drops out of it. The scatter of the blocks' own scores stands for the noise, so that its
    correlation from pixel to pixel needs no model.
    """
    gx, gy = gradients(fit.aligned)
    shared = (
        block_sums((level.gx, gx), level.block),
        _mean(block_sums((level.gx, gy), level.block), block_sums((level.gy, gx), level.block)),
        block_sums((level.gy, gy), level.block),
    )
    information = _normal_matrix(level, shared, fit.weights)
    doubt = _information_doubt(level, (level.gx - gx, level.gy - gy), fit.weights)
    smallest = float(np.linalg.eigvalsh(information[:2, :2])[0])
    if smallest <= 4.0 * doubt or np.linalg.eigvalsh(information)[0] <= 0.0:
        return None
    sx = block_sums((_mean(level.gx, gx), fit.residual), level.block)
    sy = block_sums((_mean(level.gy, gy), fit.residual), level.block)
    scores = _basis(level, sx, sy) * fit.weights.ravel()
    inverse = np.linalg.inv(information)
    scores = _without_leverage(level, shared, fit.weights, inverse, scores)
    covariance = inverse @ (scores @ scores.T) @ inverse + np.eye(4) * SYSTEMATIC_PX**2
    units = np.array([1.0, 1.0, 1.0 / level.reach, 1.0 / level.reach])
    return np.asarray(covariance * np.outer(units, units), dtype=np.float64)


def _without_leverage(
    level: Level,
    shared: tuple[Floats, Floats, Floats],
    weights: Floats,
    inverse: Doubles,
    scores: Doubles,
) -> Doubles:
    """Each block's score as if the fit had been made without it, (4, blocks).

    Where few blocks hold most of the texture, the fit follows their noise, and their scores look
    small: the plain sandwich is then too sure. Source: R. M. Bell, D. F. McCaffrey, "Bias reduction
    in standard errors for linear regression with multi-stage samples" (2002), the jackknife form.
    """
    xx, xy, yy = ((h.astype(np.float64) * weights).ravel() for h in shared)
    x, y = level.x.ravel().astype(np.float64), level.y.ravel().astype(np.float64)
    one, zero = np.ones_like(x), np.zeros_like(x)
    jx, jy = np.stack([one, zero, -y, x], axis=1), np.stack([zero, one, x, y], axis=1)
    cross = _outer(jx, jy)
    own = xx[:, None, None] * _outer(jx, jx) + yy[:, None, None] * _outer(jy, jy)
    own += xy[:, None, None] * (cross + cross.transpose(0, 2, 1))
    rest = np.eye(4) - own @ inverse
    freed = np.linalg.solve(rest + np.eye(4) * 1e-9, scores.T[:, :, None])
    return np.asarray(freed[:, :, 0].T)


def _outer(first: Doubles, second: Doubles) -> Doubles:
    return np.asarray(first[:, :, None] * second[:, None, :])


def _mean(first: Floats, second: Floats) -> Floats:
    return np.asarray((first + second) * np.float32(0.5), dtype=np.float32)


def _information_doubt(level: Level, differences: tuple[Floats, Floats], weights: Floats) -> float:
    """Standard deviation of the summed information if the pictures had nothing in common.

    The gradients' difference holds the noise of both; the product of two noises with that energy
    scatters by its root over the number of independent places.
    """
    places = level.block**2 / NOISE_PLACE_PX
    spread = 0.0
    for difference in differences:
        noise = block_sums((difference, difference), level.block) / 2
        spread = max(spread, float(np.sqrt(np.sum(np.square(noise * weights)) / places)))
    return spread


def _better_by_area(first: Registration, second: Registration) -> Registration:
    """The one with less residual in more of the area: each block has one vote, however textured."""
    votes = np.sign(first.energy - second.energy)
    balance = float(votes.sum())
    margin = 3.0 * float(np.sqrt(np.abs(votes).sum()))
    if balance > margin and second.covariance is not None:
        return second
    return first
