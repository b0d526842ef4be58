"""The whole loop through the real libgphoto2 and its virtual PTP camera, by the API alone."""

import hashlib
from pathlib import Path

from tests.pictures import large_jpeg
from tests.service import ServiceProcess

BYTES = 8_000_000  # all of one size: the virtual camera notes a file's size once, when opened


def test_twelve_exposures_arrive_byte_for_byte(tmp_path: Path) -> None:
    sees = tmp_path / "sees"
    sees.mkdir()

    def lay(seed: int) -> str:
        """What the camera sees next; its SHA-256."""
        data = large_jpeg(seed, BYTES)
        (sees / "view.jpg").write_bytes(data)
        return hashlib.sha256(data).hexdigest()

    lay(0)
    with ServiceProcess(tmp_path / "library", "tethered", env={"VCAMERADIR": str(sees)}) as service:
        api = service.api()
        api.wait_for_camera()
        camera = api.ok("GET", "/camera")
        assert camera["live"] is False
        assert camera["live_says"]
        settings = api.ok("GET", "/camera/settings")
        assert {"shutter", "aperture"} <= set(settings)
        shot = api.ok("POST", "/shots", json={"name": "cork wakes", "frame_rate": "12"})["id"]
        path = f"/shots/{shot}/exposures"
        seen, ids = [], []
        for seed in range(1, 13):
            seen.append(lay(seed))
            item = api.ok("POST", path, json={}, headers={"Idempotency-Key": f"press-{seed}"})
            ids.append(item["items"][0]["id"])
        api.ok("DELETE", f"{path}/{ids[4]}")
        assert api.ok("GET", f"/shots/{shot}")["exposure_count"] == 11
        api.ok("POST", f"/shots/{shot}/undo")
        seen[7] = lay(99)
        ids[7] = api.ok("POST", path, json={"replaces": ids[7]})["items"][0]["id"]
        items = api.ok("GET", path)["items"]
        assert [item["id"] for item in items] == ids
        for item, sha256 in zip(items, seen, strict=True):
            original = item["originals"][0]
            assert (original["width"], original["height"]) == (6000, 4000)
            assert original["size"] == BYTES
            body = api.session.get(service.url + original["url"], timeout=60).content
            assert hashlib.sha256(body).hexdigest() == sha256 == original["sha256"]
        playback = api.ok("GET", f"/shots/{shot}/playback")
        assert [frame["exposure"] for frame in playback["frames"]] == ids
        preview = api.session.get(service.url + items[0]["preview"] + "?width=640", timeout=60)
        assert preview.headers["Content-Type"] == "image/jpeg"
        api.close()
