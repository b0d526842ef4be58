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

from standclear.imaging.fit_doubt import covariance
from standclear.imaging.fit_level import Level, basis, normal_matrix
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

STANDS_PX = 0.3
MOST_OF_AREA = 0.4
"""A camera has moved when so much more of the area is better off with the motion than without; an
object of a quarter of the picture is not."""


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
    if _way(found.motion, reference.levels[0].reach) > STANDS_PX:
        found = _unless_it_stands(reference.levels[0], levels[0], background, found)
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


def _way(motion: Similarity, reach: float) -> float:
    """Pixels by which the picture's rim moves, at most."""
    around = (abs(motion.turn) + abs(motion.log_scale)) * reach
    return abs(motion.shift_x) + abs(motion.shift_y) + around


def _unless_it_stands(
    level: Level, picture: Floats, background: Floats | None, moved: Registration
) -> Registration:
    """``moved``, unless a camera that stands where it stood explains as much of the area.

    On a plain wall nothing but the object has texture: coarse levels, on which its move is small,
    follow it. Then only the object's own blocks are better off with the motion, not most of them.
    """
    prior = _prior(level, background)
    stands = _judged(level, _fit_level(level, picture, IDENTITY, 6, prior))
    counted = (prior > 0.5) & (_inside(level, moved.motion) > 0)
    votes = np.sign(stands.energy - moved.energy)[counted]
    return moved if float(votes.sum()) > MOST_OF_AREA * max(votes.size, 1) else stands


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


def _newton_step(level: Level, residual: Floats, weights: Floats) -> Doubles | None:
    sx = block_sums((level.gx, residual), level.block)
    sy = block_sums((level.gy, residual), level.block)
    score = basis(level, sx, sy) @ weights.ravel()
    normal = normal_matrix(level, level.hessian, weights)
    if np.linalg.cond(normal) > 1e8:
        return None
    step = -np.linalg.solve(normal, score)
    return np.asarray(np.clip(step, -2.0, 2.0), dtype=np.float64)


def _judged(level: Level, fit: _Fit) -> Registration:
    counted = fit.weights > 0
    covered = _inside(level, fit.motion) > 0
    agreeing = float(counted.sum() / max(covered.sum(), 1))
    return Registration(
        fit.motion,
        covariance(level, fit.aligned, fit.residual, fit.weights),
        agreeing,
        fit.aligned,
        fit.weights,
        fit.energy,
    )


def _better_by_area(first: Registration, second: Registration) -> Registration:
    """The one with less residual in more of the area: each block has one vote, however textured."""
    votes = np.sign(first.energy - second.energy)
    balance = float(votes.sum())
    margin = 3.0 * float(np.sqrt(np.abs(votes).sum()))
    if balance > margin and second.covariance is not None:
        return second
    return first
