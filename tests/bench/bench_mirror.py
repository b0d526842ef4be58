"""Press to 201 without a second copy, with one in step, and with one whose place is away.

Virtual PTP camera, 8 MB pictures; the three services are pressed in turns, so that all of them meet
the same machine. And how far the copy is behind while pictures are taken.
"""

from contextlib import ExitStack
from pathlib import Path

from tests.bench.bench_capture import press_times
from tests.bench.tables import LONG, Table, median, percentile
from tests.pictures import large_jpeg
from tests.second_places import free_port
from tests.service import Api, ServiceProcess
from tests.waiting import until

ROUNDS, EACH = (10, 5) if LONG else (3, 4)
GOAL = 1.15
# The short form runs beside other work, on a few pictures: it fails on a blunder, not on noise.
SHORT_GOAL = 3.0


def test_a_second_copy_in_step_or_away_does_not_slow_the_press(tmp_path: Path) -> None:
    sees, copy = tmp_path / "sees", tmp_path / "copy"
    sees.mkdir()
    copy.mkdir()
    (sees / "view.jpg").write_bytes(large_jpeg(1))
    mirrors = {
        "none": (),
        "in step": ("--mirror", str(copy)),
        "away": ("--mirror", f"sftp://cork@127.0.0.1:{free_port()}/copy"),
    }
    times: dict[str, list[float]] = {name: [] for name in mirrors}
    lags: list[float] = []
    with ExitStack() as stack:
        found: dict[str, tuple[ServiceProcess, Api, str]] = {}
        for name, more in mirrors.items():
            service = stack.enter_context(
                ServiceProcess(
                    tmp_path / name / "library", "tethered", *more, env={"VCAMERADIR": str(sees)}
                )
            )
            api = service.api()
            stack.callback(api.close)
            api.wait_for_camera()
            shot = api.ok("POST", "/shots", json={"name": "bench"})["id"]
            found[name] = (service, api, shot)
            press_times(service, _token(api), shot, 1)
        for _ in range(ROUNDS):
            for name, (service, api, shot) in found.items():
                times[name] += press_times(service, _token(api), shot, EACH)
            lags.append(found["in step"][1].ok("GET", "/mirror")["lag_s"])
        api = found["in step"][1]
        until(lambda: api.ok("GET", "/mirror")["state"] == "in_step", 120, "for the copy")
        copied = api.ok("GET", "/mirror")["copied_exposures"]
        away = found["away"][1].ok("GET", "/mirror")
    assert copied == ROUNDS * EACH + 1
    assert (away["state"], away["waiting_exposures"]) == ("away", ROUNDS * EACH + 1)
    table = Table(f"Press to 201 with a second copy, 8 MB, n = {ROUNDS * EACH} each")
    for name, taken in times.items():
        table.row(f"{name}, median", median(taken) * 1000, "ms")
        table.row(f"{name}, 95th percentile", percentile(taken, 95) * 1000, "ms")
    for name in ("in step", "away"):
        ratio = median(times[name]) / median(times["none"])
        table.row(f"{name} / none, median", ratio, "×", GOAL if LONG else SHORT_GOAL)
    table.row("copy's lag while shooting, most", max(lags), "s")
    table.hold()


def _token(api: Api) -> str:
    return str(api.session.headers["Authorization"]).split()[1]
