"""What the step-back trigger costs those who watch: the live view's rate with four viewers, with
the trigger at work beside it and without, in turns on one service."""

from pathlib import Path
from statistics import median

from tests.bench.bench_live import Watched, watch
from tests.bench.tables import LONG, Table
from tests.service import Api, ServiceProcess
from tests.waiting import until

VIEWERS = 4
ROUNDS = 3 if LONG else 1
#: The hand keeps coming, so that the trigger has hands, studies and pictures to deal with.
CAMERA = "rehearsal:seed=2,hand_first=2,hand_seconds=2,hand_after=0.5"


def slowest(seen: Watched) -> float:
    """Pictures a second of the viewer with the fewest."""
    return float(min(viewer["fps"] for viewer in seen.viewers))


def follow(api: Api, shot: str) -> None:
    """The trigger at work, asking first so that no exposure stops the live view."""
    wish = {"mode": "step_back", "shot": shot, "only_ask": True}
    api.ok("PUT", "/trigger", json=wish)
    states = ("hands_in", "settling", "asking")
    until(lambda: api.ok("GET", "/trigger")["state"] in states, 60, "for the hand to be seen")


def test_four_viewers_with_and_without_the_trigger(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library", CAMERA) as service:
        api = service.api()
        api.wait_for_camera()
        token = str(api.session.headers["Authorization"]).split()[1]
        shot = str(api.ok("POST", "/shots", json={"name": "x", "frame_rate": "12"})["id"])
        watch(service, token, [0])  # warms caches and threads
        without, beside = [], []
        for _ in range(ROUNDS):
            api.ok("PUT", "/trigger", json={"mode": "manual"})
            without.append(watch(service, token, [0] * VIEWERS))
            follow(api, shot)
            beside.append(watch(service, token, [0] * VIEWERS))
        api.close()
    plain, fps = (median([slowest(one) for one in each]) for each in (without, beside))
    costs = median([one.cpu_percent for one in beside]) - median(
        [one.cpu_percent for one in without]
    )
    table = Table(f"Live view with {VIEWERS} viewers and the step-back trigger, {ROUNDS} rounds")
    table.row("slowest viewer without the trigger", plain, "fps")
    table.row("slowest viewer beside it", fps, "fps", 29 if LONG else 3, least=True)
    # The short form runs beside other work: it fails on a blunder only.
    table.row("rate kept", 100 * fps / plain, "%", 98 if LONG else 20, least=True)
    table.row("the service's CPU more", costs, "% of a core")
    table.hold()
