"""Promise 1 from outside: killed at random moments, the service loses nothing acknowledged."""

import hashlib
import random
import threading
import time
from pathlib import Path

import requests

from tests.bench.tables import LONG
from tests.pictures import jpeg
from tests.service import Api, ServiceProcess

LONG_CAPTURES = 200


def shoot_until_dead(api: Api, shot: str, acknowledged: dict[str, str], most: int) -> None:
    """Press as fast as it goes, noting what was acknowledged, until the service is gone."""
    for _ in range(most):
        try:
            answer = api.call("POST", f"/shots/{shot}/exposures", json={})
        except requests.RequestException:
            return
        assert answer.status_code == 201, answer.text
        item = answer.json()["items"][0]
        acknowledged[item["id"]] = item["originals"][0]["sha256"]


def everything(api: Api, shot: str) -> dict[str, str]:
    """All exposures of the shot by id, each original fetched and hashed."""
    found: dict[str, str] = {}
    cursor: str | None = ""
    numbers = []
    while cursor is not None:
        after = f"&after={cursor}" if cursor else ""
        page = api.ok("GET", f"/shots/{shot}/exposures?limit=100{after}")
        for item in page["items"]:
            numbers.append(item["number"])
            url = api.url.removesuffix("/api/v1") + item["originals"][0]["url"]
            found[item["id"]] = hashlib.sha256(api.session.get(url, timeout=30).content).hexdigest()
            assert found[item["id"]] == item["originals"][0]["sha256"]
        cursor = page["next"]
    assert numbers == list(range(1, len(numbers) + 1))
    return found


def test_killed_at_random_moments_it_keeps_all_it_acknowledged(tmp_path: Path) -> None:
    captures = LONG_CAPTURES if LONG else 40
    sees = tmp_path / "sees"
    sees.mkdir()
    picture = jpeg(640, 360, seed=1)
    (sees / "view.jpg").write_bytes(picture)
    rng = random.Random(8)
    library = tmp_path / "library"
    acknowledged: dict[str, str] = {}
    shot = token = ""
    kills = 0
    while len(acknowledged) < captures:
        with ServiceProcess(library, "tethered", env={"VCAMERADIR": str(sees)}) as service:
            token = token or service.token()
            api = service.api(token)
            api.wait_for_camera()
            if not shot:
                shot = api.ok("POST", "/shots", json={"name": "cork"})["id"]
            kept = everything(api, shot)
            assert acknowledged.items() <= kept.items()
            assert len(kept) - len(acknowledged) <= 1 + kills, "at most the one in flight is more"
            presser = threading.Thread(
                target=shoot_until_dead, args=(api, shot, acknowledged, captures)
            )
            target = len(acknowledged) + rng.randint(1, 12)
            presser.start()
            moment = threading.Event()
            while len(acknowledged) < target and presser.is_alive():
                moment.wait(0.002)
            moment.wait(rng.random() * 0.03)  # anywhere within the next press
            service.kill()
            kills += 1
            presser.join(30)
            api.close()
    with ServiceProcess(library, "tethered", env={"VCAMERADIR": str(sees)}) as service:
        api = service.api(token)
        kept = everything(api, shot)
        api.close()
    assert acknowledged.items() <= kept.items()
    halves = [path for path in (library / "shots").rglob("*") if path.suffix == ".part"]
    assert not halves
    print(f"{kills} kills, {len(acknowledged)} acknowledged, {len(kept)} kept, none lost")


def test_it_opens_in_a_moment_after_a_kill(tmp_path: Path) -> None:
    with ServiceProcess(tmp_path / "library") as service:
        service.kill()
    start = time.monotonic()
    with ServiceProcess(tmp_path / "library"):
        assert time.monotonic() - start < 30
