"""How truly a camera's shift, turn and scale are read; and the same by two other libraries."""

import cv2
import numpy as np

from standclear.imaging.registration import reference_from, register
from standclear.imaging.texture import log_light, pyramid
from tests.bench.tables import Table
from tests.bench.watch_sets import chance, flickering, prepared, sets, textured
from tests.generator.photographs import NAMES, moved, photograph
from tests.generator.tabletop import Pose, faulty


def rig(run):
    """Small bumps, and every fifth up to 15 px and 1 degree; the object moves, light flickers."""
    table = Table(f"rig: error of the shift in px of the original at {run.size}")
    small, large, turns = [], [], []
    for name, tabletop in sets(run, areas=(0.25,)):
        if not textured(name):
            continue
        rng, first = chance(run, 3), prepared(tabletop)
        reference, scale = reference_from(first.texture), first.original_per_texture
        errors = []
        for n in range(run.count):
            fault = _moved(rng, large=n % 5 == 4)
            found = register(reference, prepared(tabletop, _posed(rng, run), fault).texture)
            assert found.covariance is not None
            error = _off(found.motion.shift_x * scale, found.motion.shift_y * scale, fault)
            (large if n % 5 == 4 else small).append(error)
            errors.append(error)
            turns.append(abs(found.motion.turn_deg - fault.turn))
        print(f"   {name}: median {np.median(errors):.4f}, worst {np.max(errors):.4f}, own sd "
              f"{found.shift_sd * scale:.4f}", flush=True)  # fmt: skip
    for kind, values in (("to 2 px", small), ("to 15 px and 1 degree", large)):
        table.row(f"shifts {kind}: median of {len(values)}", np.median(values), "px", 0.02)
        table.row(f"shifts {kind}: 99 %", np.quantile(values, 0.99), "px", 0.08)
    table.row(f"turn: 99 % of {len(turns)}", np.quantile(turns, 0.99), "degrees", 0.003)
    return table


def _moved(rng, *, large):
    way, turn = (15, 1.0) if large else (2, 0.05)
    x, y = rng.uniform(-way, way, 2)
    return flickering(faulty(shift_x=x, shift_y=y, turn=rng.uniform(-turn, turn)), rng)


def _posed(rng, run):
    x, y, turn = rng.uniform(-1, 1, 3)
    return Pose(40 * run.unit * x, 30 * run.unit * y, 20 * turn)


def others(run):
    """scikit-image's phase_cross_correlation and OpenCV's findTransformECC on the same pictures."""
    table = Table(f"rig against others at {run.size}, shifts up to 2 px, object on 25 %: error, px")
    for name, tabletop in sets(run, ("srgb",), ("paper", "wood", "cloth", "stones"), (0.25,)):
        rng, first = chance(run, 4), tabletop.expose(Pose())
        reference = reference_from(pyramid(log_light(first)))
        errors = {"ours": [], "scikit-image phase": [], "OpenCV ECC": []}
        for _ in range(run.count):
            x, y = rng.uniform(-2, 2, 2)
            fault = faulty(shift_x=x, shift_y=y)
            codes = tabletop.expose(Pose(rng.uniform(-9, 9), rng.uniform(-9, 9), 3), fault)
            found = register(reference, pyramid(log_light(codes))).motion
            errors["ours"].append(_off(found.shift_x, found.shift_y, fault))
            grey, other = _grey(first), _grey(codes)
            errors["scikit-image phase"].append(_phase(grey, other, fault))
            errors["OpenCV ECC"].append(_ecc(grey, other, fault))
        best = min(np.median(errors[k]) for k in list(errors)[1:])
        for who, values in errors.items():
            goal = best if who == "ours" else None
            table.row(f"{name}: {who}, median of {len(values)}", np.median(values), "px", goal)
            table.row(f"{name}: {who}, worst", np.max(values), "px")
    return table


def photographs(run):
    """Real photographs bundled with scikit-image, shifted by scipy's Fourier shift."""
    table = Table("real photographs: error of the shift")
    errors = []
    for name in NAMES:
        rng, linear = chance(run, 10), photograph(name)
        reference = reference_from(pyramid(log_light(moved(linear, 0, 0, rng))))
        own = []
        for _ in range(run.count):
            x, y = rng.uniform(-3, 3, 2)
            gain = 1 + 0.02 * rng.standard_normal()
            found = register(reference, pyramid(log_light(moved(linear, x, y, rng, gain)))).motion
            own.append(np.hypot(found.shift_x - x, found.shift_y - y))
        table.row(f"{name}: median of {len(own)}", np.median(own), "px", 0.02)
        errors += own
    table.row(f"all: 99 % of {len(errors)}", np.quantile(errors, 0.99), "px", 0.08)
    return table


def _off(x, y, fault):
    return float(np.hypot(x - fault.shift_x, y - fault.shift_y))


def _grey(codes):
    return cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY).astype(np.float32)


def _phase(grey, other, fault):
    from skimage.registration import phase_cross_correlation

    shift, *_ = phase_cross_correlation(grey, other, upsample_factor=100)
    return _off(-shift[1], -shift[0], fault)


def _ecc(grey, other, fault):
    warp = np.eye(2, 3, dtype=np.float32)
    how = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 60, 1e-6)
    try:
        _, warp = cv2.findTransformECC(grey, other, warp, cv2.MOTION_TRANSLATION, how, None, 5)
    except cv2.error:
        return float("nan")
    return _off(warp[0, 2], warp[1, 2], fault)
