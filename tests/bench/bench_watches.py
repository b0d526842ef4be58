"""How well the watches measure, on the second generator; figures beside their goals.

Run ``python -m tests.bench.bench_watches [part ...]`` from the project's root; parts: rig, light,
causes, steady, pose, intruder, photographs, time. ``--size 6000`` takes the large pictures,
``--trials N`` scales every count. It prints tables and writes nothing.
"""

import argparse
import resource
import time

import cv2
import numpy as np

from standclear.imaging.decode import decode
from standclear.imaging.light import Response, blocks_of, light_change, response_from
from standclear.imaging.prepared import prepare
from standclear.imaging.registration import reference_from, register
from standclear.imaging.texture import log_light, pyramid
from standclear.shooting.watches.shot_watch import ShotWatch
from tests.generator.tabletop import TEXTURES, Pose, Tabletop, faulty


def table(title, rows, goal=""):
    """Print rows of (name, value) pairs under a title."""
    print(f"\n## {title}" + (f"   (goal: {goal})" if goal else ""), flush=True)
    for row in rows:
        print("   ".join(str(cell) for cell in row), flush=True)


def sets(size, curve="srgb", textures=TEXTURES, area=0.25, seed=0):
    """One tabletop a texture, the object strongly textured."""
    width, height = (1920, 1080) if size == 1920 else (6000, 4000)
    for i, texture in enumerate(textures):
        yield texture, Tabletop(
            seed=seed + i, width=width, height=height, texture=texture,
            object_area=area, object_contrast=0.7, curve=curve,
        )  # fmt: skip


def prepared(codes):
    """Through the same door as a file: halved when it is large."""
    if codes.shape[1] <= 3200:
        return prepare(codes)
    half = cv2.imdecode(
        cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, 98])[1], cv2.IMREAD_REDUCED_COLOR_2
    )
    return prepare(half, codes.shape[1], codes.shape[0])


def rig(size, trials):
    """Registration error with flicker of 2 % sd and a moving, strongly textured object."""
    rows = []
    for curve in ("srgb", "s_curve"):
        for texture, tabletop in sets(size, curve):
            rng = np.random.default_rng(3)
            first = prepared(tabletop.expose(Pose()))
            reference = reference_from(first.texture)
            scale = first.original_per_texture
            errors, turns, sds, told = [], [], [], []
            for n in range(trials):
                large = n % 5 == 4
                fault = faulty(
                    shift_x=rng.uniform(-15, 15) if large else rng.uniform(-2, 2),
                    shift_y=rng.uniform(-15, 15) if large else rng.uniform(-2, 2),
                    turn=rng.uniform(-1, 1) if large else rng.uniform(-0.05, 0.05),
                    gain=1 + 0.02 * rng.standard_normal(),
                )
                pose = Pose(rng.uniform(-40, 40), rng.uniform(-30, 30), rng.uniform(-20, 20))
                found = register(reference, prepared(tabletop.expose(pose, fault)).texture)
                error = np.hypot(
                    found.motion.shift_x * scale - fault.shift_x,
                    found.motion.shift_y * scale - fault.shift_y,
                )
                if found.covariance is not None and found.shift_sd * scale < 0.1:
                    errors.append(error)
                    turns.append(abs(found.motion.turn_deg - fault.turn))
                    sds.append(found.shift_sd * scale)
                told.append(found.covariance is not None)
            rows.append(_rig_row(curve, texture, errors=errors, turns=turns, sds=sds, told=told))
    table("rig: shift error in px of the original", rows,
          "median 0.02, 99 % 0.08, turn 0.003 deg; plain: found or cannot tell")  # fmt: skip


def _rig_row(curve, texture, *, errors, turns, sds, told):
    if not errors:
        return curve, texture, f"nothing sure to 0.1 px; answered {np.mean(told):.2f}"
    return (
        curve, f"{texture:7}", f"median {np.median(errors):.4f}",
        f"99 % {np.quantile(errors, 0.99):.4f}", f"worst {np.max(errors):.4f}",
        f"own sd {np.median(sds):.4f}", f"turn 99 % {np.quantile(turns, 0.99):.4f}",
        f"measured {len(errors)}/{len(told)}",
    )  # fmt: skip


def others(size, trials):
    """The same errors for scikit-image's phase correlation and OpenCV's ECC, same pictures."""
    from skimage.registration import phase_cross_correlation

    rows = []
    for texture, tabletop in sets(size, textures=("paper", "stones", "cloth")):
        rng = np.random.default_rng(4)
        first = tabletop.expose(Pose())
        grey = cv2.cvtColor(first, cv2.COLOR_BGR2GRAY).astype(np.float32)
        reference = reference_from(prepared(first).texture)
        scale = prepared(first).original_per_texture
        errors = {"ours": [], "skimage phase": [], "OpenCV ECC": []}
        for _ in range(trials):
            fault = faulty(shift_x=rng.uniform(-2, 2), shift_y=rng.uniform(-2, 2))
            codes = tabletop.expose(Pose(rng.uniform(-9, 9), rng.uniform(-9, 9), 3), fault)
            other = cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY).astype(np.float32)
            found = register(reference, prepared(codes).texture).motion
            errors["ours"].append(_off(found.shift_x * scale, found.shift_y * scale, fault))
            shift, *_ = phase_cross_correlation(grey, other, upsample_factor=100)
            errors["skimage phase"].append(_off(-shift[1], -shift[0], fault))
            errors["OpenCV ECC"].append(_ecc(grey, other, fault))
        for name, values in errors.items():
            rows.append((f"{texture:7}", f"{name:14}", f"median {np.median(values):.4f}",
                         f"worst {np.max(values):.4f}"))  # fmt: skip
    table("rig against others, shifts only, px", rows, "ours smaller")


def _off(x, y, fault):
    return float(np.hypot(x - fault.shift_x, y - fault.shift_y))


def _ecc(grey, other, fault):
    warp = np.eye(2, 3, dtype=np.float32)
    how = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 60, 1e-6)
    try:
        _, warp = cv2.findTransformECC(grey, other, warp, cv2.MOTION_TRANSLATION, how, None, 5)
    except cv2.error:
        return float("nan")
    return _off(warp[0, 2], warp[1, 2], fault)


def light(size, trials):
    """Error of the gain; the S-curve also with a response learnt from one known change."""
    rows = []
    for curve in ("srgb", "s_curve"):
        for texture, tabletop in sets(size, curve):
            first = prepared(tabletop.expose(Pose()))
            base = blocks_of(first.small, first.trusted)
            response = _learnt(tabletop, base)
            for kind in ("even", "one-sided", "banding", "hand"):
                errors = _light_errors(tabletop, base, kind, trials, Response())
                line = [curve, f"{texture:7}", f"{kind:9}", f"mean {errors.mean():+.4f} %",
                        f"sd {errors.std():.4f} %"]  # fmt: skip
                if curve == "s_curve":
                    learnt = _light_errors(tabletop, base, kind, trials, response)
                    line += [
                        f"| response learnt: mean {learnt.mean():+.4f}",
                        f"sd {learnt.std():.4f}",
                    ]
                rows.append(tuple(line))
    table("light: error of the gain, flicker 2 % sd", rows, "sd 0.03 %")


def _learnt(tabletop, base):
    """As the steady test would: one more exposure, a third of a stop brighter."""
    brighter = prepared(tabletop.expose(Pose(), faulty(gain=2 ** (1 / 3))))
    change = light_change(base, blocks_of(brighter.small, brighter.trusted))
    return response_from(change, np.log(2) / 3)


def _light_errors(tabletop, base, kind, trials, response):
    rng = np.random.default_rng(5)
    errors = []
    for _ in range(trials):
        fault = faulty(
            gain=1 + 0.02 * rng.standard_normal(),
            one_sided=0.03 * rng.choice([-1, 1]) if kind == "one-sided" else 0.0,
            banding=0.01 if kind == "banding" else 0.0,
            banding_phase=rng.uniform(0, 6.28),
            banding_cycles=rng.uniform(2, 6),
            hand=0.04 if kind == "hand" else 0.0,
            hand_side=int(rng.integers(4)),
        )
        pose = Pose(rng.uniform(-9, 9), rng.uniform(-9, 9), rng.uniform(-5, 5))
        shot = prepared(tabletop.expose(pose, fault))
        change = light_change(base, blocks_of(shot.small, shot.trusted), None, response)
        errors.append(100 * (change.level - tabletop.true_mean_gain(fault)))
    return np.array(errors)


def _bump(angle):
    return faulty(shift_x=0.1 * np.cos(angle), shift_y=0.1 * np.sin(angle))


CAUSES = {
    "exposure_step": lambda rng: faulty(gain=1 + 0.005 * rng.choice([-1, 1])),
    "colour_shift": lambda rng: faulty(red=1 + 0.015 * rng.choice([-1, 1]), blue=1.0),
    "one_sided_light": lambda rng: faulty(one_sided=rng.choice([-1, 1]) * rng.uniform(0.015, 0.04)),
    "banding": lambda rng: faulty(
        banding=rng.uniform(0.005, 0.02),
        banding_cycles=rng.uniform(1.8, 8),
        banding_phase=rng.uniform(0, 6),
    ),
    "bump": lambda rng: faulty(
        shift_x=0.1 * np.cos(a := rng.uniform(0, 6.28)), shift_y=0.1 * np.sin(a)
    ),
    "focus_slip": lambda rng: faulty(defocus=rng.uniform(0.6, 1.5)),
}


def causes(size, trials):
    """Each fault on its own, by the whole watch: is it found, and named as nothing else?"""
    rows = []
    for curve in ("srgb", "s_curve"):
        for texture, tabletop in sets(size, curve, area=0.1):
            for cause, make in CAUSES.items():
                rng = np.random.default_rng(6)
                found = exact = 0
                for n in range(trials):
                    if n % 10 == 0:
                        watch, pose = _started(tabletop, rng)
                    pose = Pose(pose.x + 4, pose.y + 1, pose.turn)
                    named = _named(watch, tabletop.expose(pose, make(rng)))
                    watch.forget("last")
                    found += cause in named
                    exact += named == {cause}
                rows.append((curve, f"{texture:7}", f"{cause:15}", f"found {found}/{trials}",
                             f"named exactly {exact}/{trials}"))  # fmt: skip
    table("causes, 0.5 % steps, 0.1 px bumps", rows, "found 99 %, named 95 %")


def _started(tabletop, rng):
    watch, pose = ShotWatch(), Pose(rng.uniform(-50, 50), 0, 0)
    for n in range(4):
        pose = Pose(pose.x + 4, pose.y + 1, pose.turn)
        watch.examine(tabletop.expose(pose), key=f"start {n}")
    return watch, pose


def _named(watch, codes):
    verdict = watch.examine(codes, key="last")
    return {cause for found in verdict["watches"].values() for cause in found["causes"]}


def steady(size, trials):
    """False alarms: nothing wrong, the object moves. Counts verdicts, by watch."""
    rows = []
    for texture, tabletop in sets(size, area=0.15):
        counts = dict.fromkeys(("light", "rig", "focus", "pose"), 0)
        unsure = dict.fromkeys(counts, 0)
        watch, pose = ShotWatch(), Pose(-150, 0, 0)
        rng = np.random.default_rng(7)
        for n in range(trials + 1):
            pose = Pose(pose.x + rng.uniform(1, 5), pose.y, pose.turn + rng.uniform(-3, 3))
            if pose.x > 150:
                pose = Pose(-150, 0, 0)
            verdict = watch.examine(tabletop.expose(pose), key=str(n))
            for name in counts:
                state = verdict["watches"][name]["state"]
                counts[name] += n > 0 and state == "flagged"
                unsure[name] += n > 0 and state == "cannot_tell"
        rows.append((f"{texture:7}", f"false alarms of {trials}:", counts, "cannot tell:", unsure))
    table("steady frames, object moving", rows, "under 1 in 1000 for light and rig")


def pose(size, trials):
    """Spacing error for an object that turns up to 5 degrees a frame; same pose; small moves."""
    rows = []
    for texture, tabletop in sets(size, area=0.08):
        watch, at = ShotWatch(), Pose(-100, 0, 0)
        rng = np.random.default_rng(8)
        watch.examine(tabletop.expose(at), key="0")
        errors, lost, same, mistaken, small = [], 0, 0, 0, 0
        for n in range(trials):
            step = rng.uniform(2, 12)
            to = Pose(at.x + step, at.y + rng.uniform(-3, 3), at.turn + rng.uniform(-5, 5))
            kind = n % 4
            if kind == 2:
                to = at
            if kind == 3:
                angle = rng.uniform(0, 6.28)
                to = Pose(at.x + np.cos(angle), at.y + np.sin(angle), at.turn)
            if to.x > 200:
                to = Pose(-100, 0, to.turn)
            fault = faulty(gain=1 + 0.02 * rng.standard_normal())
            found = watch.examine(tabletop.expose(to, fault), key=str(n))["watches"]["pose"]
            named = "same_pose" in found["causes"]
            if kind == 2:
                same += named
            elif kind == 3:
                small, mistaken = small + 1, mistaken + named
            elif "move_x_px" in found["figures"] and abs(to.x - at.x) < 50:
                figures = found["figures"]
                off_x = figures["move_x_px"] - (to.x - at.x)
                errors.append(np.hypot(off_x, figures["move_y_px"] - (to.y - at.y)))
            else:
                lost += 1
            at = to
        rows.append((f"{texture:7}", f"spacing median {np.median(errors):.3f}",
                     f"95 % {np.quantile(errors, 0.95):.3f} px ({len(errors)}, lost {lost})",
                     f"same pose found {same}/{len(range(2, trials, 4))}",
                     f"moves of 1 px mistaken {mistaken}/{small}"))  # fmt: skip
    table("pose, flicker 2 % sd", rows, "median 0.1, 95 % 0.5; 99 % found; under 0.5 % mistaken")


def intruder(size, trials):
    """A hand of 2 % of the frame, or a shadow, from any side; and none."""
    rows = []
    for texture, tabletop in sets(size, area=0.12):
        rng = np.random.default_rng(9)
        watch, at = ShotWatch(), Pose(-100, 0, 0)
        hands = shadows = false = counted = 0
        for n in range(trials + 1):
            at = Pose(at.x + 4, at.y, at.turn + 1) if at.x < 150 else Pose(-100, 0, 0)
            fault = faulty(gain=1 + 0.02 * rng.standard_normal())
            kind = n % 3
            if n and kind:
                fault = faulty(
                    gain=fault.gain, hand=0.02, hand_side=int(rng.integers(4)),
                    hand_at=rng.uniform(0.1, 0.9), shadow=kind == 2,
                )  # fmt: skip
            found = watch.examine(tabletop.expose(at, fault), key=str(n))["watches"]["pose"]
            named = "hand_left_in" in found["causes"]
            hands += named and kind == 1
            shadows += named and kind == 2
            if n and kind == 0:
                counted, false = counted + 1, false + named
        rows.append((f"{texture:7}", f"hands {hands}/{len(range(1, trials + 1, 3))}",
                     f"shadows {shadows}/{len(range(2, trials + 1, 3))}",
                     f"false {false}/{counted}"))  # fmt: skip
    table("hand or shadow of 2 %", rows, "hands 99 %, false under 1 %")


def photographs(size, trials):
    """Real photographs bundled with scikit-image, shifted by scipy's Fourier shift."""
    from tests.generator.photographs import NAMES, moved, photograph

    rows = []
    for name in NAMES:
        rng = np.random.default_rng(10)
        linear = photograph(name)
        reference = reference_from(pyramid(log_light(moved(linear, 0, 0, rng))))
        errors = []
        for _ in range(trials):
            x, y = rng.uniform(-3, 3, 2)
            found = register(reference, pyramid(log_light(moved(linear, x, y, rng)))).motion
            errors.append(np.hypot(found.shift_x - x, found.shift_y - y))
        rows.append(
            (f"{name:12}", f"median {np.median(errors):.4f}", f"worst {np.max(errors):.4f}")
        )
    table("real photographs, px", rows, "median 0.02, 99 % 0.08")


def _files(size):
    """Three JPEG files; large ones are enlarged from small ones, which costs the bench less."""
    (_, tabletop), *_ = sets(1920, textures=("stones",), area=0.2)
    rng = np.random.default_rng(0)
    files = []
    for n in range(3):
        codes = tabletop.expose(Pose(5 * n, n, n))
        if size == 6000:
            codes = cv2.resize(codes, (6000, 4000), interpolation=cv2.INTER_LINEAR)
            grain = rng.integers(-3, 4, codes.shape, dtype=np.int8)
            codes = np.clip(codes + grain.astype(np.int16), 0, 255).astype(np.uint8)
        files.append(cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes())
    return files


def timing(size, trials):
    """Seconds a verdict takes from the file's bytes; wall and processor, and peak memory."""
    files = _files(size)
    start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    watch = ShotWatch()
    walls, cpus, decodes = [], [], []
    for n in range(trials + 1):
        data = files[n % 3]
        wall, cpu = time.perf_counter(), time.process_time()
        watch.examine_file(data, key=str(n))
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
        wall = time.perf_counter()
        decode(data)
        decodes.append(time.perf_counter() - wall)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    table(f"time at {size}", [(
        f"wall median {np.median(walls[1:]):.3f} s", f"processor {np.median(cpus[1:]):.3f} s",
        f"first {walls[0]:.3f} s", f"of it decoding {np.median(decodes):.3f} s",
        f"peak memory {peak:.0f} MiB (before: {start:.0f}, the generator's own)",
    )], "0.4 s at 1920, 1.2 s at 6000; under 1024 MiB")  # fmt: skip


PARTS = {
    "rig": (rig, 40), "others": (others, 12), "light": (light, 25), "causes": (causes, 20),
    "steady": (steady, 200), "pose": (pose, 120), "intruder": (intruder, 60),
    "photographs": (photographs, 40), "time": (timing, 8),
}  # fmt: skip


def main():
    """Run the parts asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", default=list(PARTS))
    parser.add_argument("--size", type=int, default=1920, choices=(1920, 6000))
    parser.add_argument("--trials", type=float, default=1.0, help="factor on every count")
    asked = parser.parse_args()
    for name in asked.parts or PARTS:
        run, count = PARTS[name]
        run(asked.size, max(4, round(count * asked.trials)))


if __name__ == "__main__":
    main()
