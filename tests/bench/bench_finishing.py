"""Finishing against its goals, side by side with FFmpeg's own filters, in one run.

    nice python -m tests.bench.bench_finishing [light] [position] [speed] [memory]

Flicker: at most a twentieth of FFmpeg deflicker's best setting and under 0.03 %, by block 0.15 %.
Jitter: at most a quarter of vidstab's best mode and under 0.1 px. Speed: 0.9 times the ffmpeg
command line without corrections, 0.35 with both. Memory: no growth from 100 to 2,000 frames.
STANDCLEAR_LONG=1 runs the full size (1920 wide, 48 exposures).
"""

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from standclear.finishing.api import ExportOptions, export
from tests.bench.film_sets import FilmSet, film_set, flatness, jitter
from tests.bench.tables import LONG, Table

WIDTH, COUNT = (1920, 48) if LONG else (960, 30)
DEFLICKER = [
    f"deflicker=mode={mode}:size={size}" for mode in ("am", "pm", "median") for size in (5, 25)
]
LIGHT = {
    "global, sRGB": {"gain": 0.02},
    "global, S-curve": {"gain": 0.02, "curve": "s_curve"},
    "one-sided, sRGB": {"side": 0.03},
    "one-sided, S-curve": {"side": 0.03, "curve": "s_curve"},
    "lamp on at a step": {"gain": 0.02, "step": 30},
    "even already": {},
}
POSITION = {
    "object 25 %": {"bump": 2.0, "area": 0.25},
    "object 5 %": {"bump": 2.0, "area": 0.05},
    "bump and flicker": {"bump": 2.0, "area": 0.25, "gain": 0.02},
}


def ours(scene: FilmSet, folder: Path, **options: object) -> list[np.ndarray]:
    shutil.rmtree(folder, ignore_errors=True)
    export(scene.shot, ExportOptions.model_validate({"format": "png", **options}), folder)
    return [cv2.imread(str(path)) for path in sorted(folder.iterdir())]


def theirs(scene: FilmSet, folder: Path, filters: str) -> list[np.ndarray]:
    """The same originals through an FFmpeg filter, to PNG."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    pattern = scene.shot.exposures[0].path.parent / "cork_%06d.jpg"
    command = ["ffmpeg", "-v", "error", "-i", pattern, "-vf", filters, folder / "%06d.png"]
    subprocess.run(command, check=True)
    return [cv2.imread(str(path)) for path in sorted(folder.iterdir())]


def light(root: Path) -> Table:
    """What flickers after the correction, beside FFmpeg's best setting."""
    table = Table("Light: sd of the still background's log luminance")
    for number, (name, faults) in enumerate(LIGHT.items()):
        count = max(COUNT, 44 if "step" in faults else 0)
        scene = film_set(root / f"light{number}", count=count, width=WIDTH, **faults)
        before = flatness(scene.originals, scene)
        film = ours(scene, root / "ours", light={}, position={})
        after = flatness(film, scene)
        table.row(f"{name}: as shot", before.whole, "%")
        if not faults:
            same = sum(map(np.array_equal, film, scene.originals))
            table.row(f"{name}: byte-equal frames", same / len(film), "of all", 1, least=True)
            continue
        best = min(flatness(theirs(scene, root / "theirs", how), scene).whole for how in DEFLICKER)
        table.row(f"{name}: FFmpeg's best", best, "%")
        table.row(f"{name}: ours", after.whole, "%", 0.03)
        table.row(f"{name}: ours, by block", after.block, "%", 0.15)
        table.row(f"{name}: FFmpeg's best / ours", best / after.whole, "×", 20, least=True)
        if "step" in faults:
            off = abs(after.step / before.step - 1) * 100
            table.row(f"{name}: the step is off by", off, "%", 2)
    return table


def position(root: Path) -> Table:
    """What jumps after the correction, beside vidstab's best mode and deshake."""
    table = Table("Position: jitter of the still background, rms")
    for number, (name, faults) in enumerate(POSITION.items()):
        scene = film_set(
            root / f"position{number}", count=24 if LONG else 14, width=WIDTH, **faults
        )
        table.row(f"{name}: as shot", jitter(scene.originals, scene), "px")
        after = jitter(ours(scene, root / "ours", light={}, position={}), scene)
        modes = [(h, c) for h in ("tripod=1", "smoothing=30") for c in (0.25, 0.05, 0.01)]
        best = min(_vidstab(scene, root, how, contrast) for how, contrast in modes)
        deshake = jitter(theirs(scene, root / "theirs", "deshake"), scene)
        table.row(f"{name}: vidstab's best", best, "px")
        table.row(f"{name}: deshake", deshake, "px")
        table.row(f"{name}: ours", after, "px", 0.1)
        table.row(f"{name}: ours / vidstab's best", after / best, "×", 0.25)
    return table


def _vidstab(scene: FilmSet, root: Path, how: str, least_contrast: float) -> float:
    found = root / "transforms.trf"
    tripod = ":tripod=1" if how.startswith("tripod") else ""
    look = f"shakiness=10:accuracy=15:mincontrast={least_contrast}:result={found}{tripod}"
    theirs(scene, root / "theirs", f"format=yuv420p,vidstabdetect={look}")
    undo = f"format=yuv420p,vidstabtransform=input={found}:{how}:optzoom=0:interpol=bicubic"
    return jitter(theirs(scene, root / "theirs", undo), scene)


def speed(root: Path) -> Table:
    """Frames per second, three runs each in turn, the best of each."""
    scene = film_set(root / "speed", count=COUNT, width=1920, gain=0.02, bump=2.0)
    pattern = scene.shot.exposures[0].path.parent / "cork_%06d.jpg"
    colours = "scale=out_color_matrix=bt709:out_range=tv"
    cli = ["ffmpeg", "-v", "error", "-y", "-r", "12", "-i", pattern, "-vf", colours]
    cli += ["-c:v", "libx264", "-preset", "medium", "-crf", "18", "-pix_fmt", "yuv420p"]
    cli += ["-movflags", "+faststart", root / "cli.mp4"]
    both: dict[str, object] = {"light": {}, "position": {}}
    ways: dict[str, Callable[[], object]] = {
        "ffmpeg command line": lambda: subprocess.run(cli, check=True),
        "ours": lambda: export(scene.shot, ExportOptions(), root / "ours.mp4"),
        "ours, both corrections": lambda: export(
            scene.shot, ExportOptions.model_validate(both), root / "both.mp4"
        ),
    }
    best = dict.fromkeys(ways, 0.0)
    for _ in range(3):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            best[name] = max(best[name], len(scene.shot.exposures) / (time.perf_counter() - start))
    table = Table("Speed at 1920 × 1080")
    cli_rate = best["ffmpeg command line"]
    for name, rate in best.items():
        table.row(name, rate, "frames/s")
    table.row("ours / ffmpeg", best["ours"] / cli_rate, "×", 0.9, least=True)
    corrected = best["ours, both corrections"] / cli_rate
    table.row("both corrections / ffmpeg", corrected, "×", 0.35, least=True)
    return table


MEMORY = """
import sys
from pathlib import Path
from standclear.finishing.api import ExportOptions, export
from standclear.finishing.shot import FilmExposure, FilmShot
from tests.resident import peak_mib
paths = sorted(Path(sys.argv[1]).glob("*.jpg"))
count, options = int(sys.argv[2]), ExportOptions.model_validate_json(sys.argv[3])
shot = FilmShot("cork", "12", tuple(FilmExposure(paths[i % len(paths)]) for i in range(count)))
export(shot, options, Path(sys.argv[4]))
print(peak_mib())
"""


def export_mib(folder: Path, count: int, options: str, target: Path) -> float:
    """Largest resident size of a process that exports ``count`` exposures."""
    command = [sys.executable, "-c", MEMORY, folder, str(count), options, target]
    return float(subprocess.run(command, capture_output=True, check=True, text=True).stdout)


def memory(root: Path) -> Table:
    """Largest resident size, short shot and long; a tenth is what two runs differ by."""
    film_set(root / "memory", count=8, width=480, gain=0.02, bump=1.0)
    table = Table("Memory: largest resident size")
    for name, options in {
        "plain": "{}",
        "both corrections": '{"light": {}, "position": {}}',
    }.items():
        few, many = (
            export_mib(root / "memory", count, options, root / "m.mp4") for count in (100, 2000)
        )
        table.row(f"{name}: 100 frames", few, "MiB")
        table.row(f"{name}: 2,000 frames", many, "MiB")
        table.row(f"{name}: 2,000 / 100", many / few, "×", 1.1)
    return table


def main() -> None:
    """Run the parts asked for; ends with 1 when a goal was missed."""
    cv2.setNumThreads(1)
    parts = {"light": light, "position": position, "speed": speed, "memory": memory}
    missed: list[str] = []
    with tempfile.TemporaryDirectory() as place:
        for name in sys.argv[1:] or parts:
            table = parts[name](Path(place))
            table.print()
            sys.stdout.flush()
            missed += table.missed
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
