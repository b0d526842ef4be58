"""A large sound through the real server: taken in pieces, whole, and without filling the memory."""

import hashlib
import json
import wave
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import psutil
import pytest

from tests.service import Api, ServiceProcess

RATE, SECONDS = 48_000, 240
LEAST = 40_000_000


@pytest.fixture
def service(tmp_path: Path) -> Iterator[ServiceProcess]:
    with ServiceProcess(tmp_path / "library") as service:
        yield service


@pytest.fixture
def api(service: ServiceProcess) -> Iterator[Api]:
    api = service.api()
    yield api
    api.close()


def squeak(path: Path) -> Path:
    """Four minutes of two channels: more than 40 MB."""
    one = (8_000 * np.sin(np.arange(RATE) * 0.05)).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        for _ in range(SECONDS):
            file.writeframes(np.repeat(one, 2).tobytes())
    return path


def test_forty_megabytes_of_sound_are_taken_whole_and_never_lie_in_memory(
    service: ServiceProcess, api: Api, tmp_path: Path
) -> None:
    shot = api.ok("POST", "/shots", json={"name": "the cork wakes", "frame_rate": "12"})["id"]
    sound = squeak(tmp_path / "squeak.wav")
    assert sound.stat().st_size > LEAST
    address = f"{service.url}/api/v1/shots/{shot}/sound"
    process = psutil.Process(service.process.pid)
    api.session.put(address, params={"name": "short.wav"}, data=sound.read_bytes()[:400_044])
    before = process.memory_info().rss
    with sound.open("rb") as file:
        answer = api.session.put(address, params={"name": "squeak.wav"}, data=file, timeout=120)
    assert answer.status_code == 200, answer.text
    facts = answer.json()
    assert (facts["size"], facts["duration_s"]) == (sound.stat().st_size, SECONDS)
    # A service at work breathes by some megabytes; the sound in one piece would be over LEAST.
    assert process.memory_info().rss - before < LEAST * 9 // 10
    kept = hashlib.sha256(api.session.get(service.url + facts["url"], timeout=120).content)
    assert kept.hexdigest() == hashlib.sha256(sound.read_bytes()).hexdigest()


def test_more_than_two_hundred_megabytes_are_refused_before_they_are_sent(
    service: ServiceProcess, api: Api
) -> None:
    shot = api.ok("POST", "/shots", json={"name": "the cork wakes", "frame_rate": "12"})["id"]
    asked = urlsplit(service.url)
    line = HTTPConnection(asked.hostname or "", asked.port, timeout=60)
    line.putrequest("PUT", f"/api/v1/shots/{shot}/sound")
    line.putheader("Authorization", str(api.session.headers["Authorization"]))
    line.putheader("Content-Length", "260000000")
    line.endheaders(b"RIFF\0\0\0\0WAVE")
    answer = line.getresponse()
    assert answer.status == 413
    assert json.loads(answer.read())["code"] == "too_large"
    line.close()
    assert api.call("GET", f"/shots/{shot}/sound").status_code == 404
