"""A sound laid under a shot: taken in pieces, drawn, marked, and heard in the film."""

import io
import re
import subprocess
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from standclear.web import sound as sound_pages
from tests.api.conftest import House
from tests.api.test_exports import finished

RATE = 8_000


def knock(at_s: float = 0.5, length_s: float = 1.0) -> bytes:
    """A WAV file: silence with one short loud click."""
    samples = np.zeros(int(length_s * RATE), "<i2")
    samples[round(at_s * RATE) :][:40] = 30_000
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples.tobytes())
    return kept.getvalue()


def lay(house: House, shot: str, data: bytes, name: str = "squeak.wav") -> Any:
    return house.ok("PUT", f"/shots/{shot}/sound", data=data, query_string={"name": name})


def test_a_sound_is_kept_as_it_was_given_and_drawn_by_frame(house: House) -> None:
    shot = house.shot()["id"]
    data = knock()
    facts = lay(house, shot, data)
    assert (facts["name"], facts["size"], facts["duration_s"]) == ("squeak.wav", len(data), 1.0)
    assert house.client.get(facts["url"], buffered=True).data == data
    peaks = house.ok("GET", f"/shots/{shot}/sound/peaks")
    highs = [high for _, high in peaks["peaks"]]
    # Half a second is frame 6 of 12 in a second, from 0.
    assert highs.index(max(highs)) // peaks["slices_per_frame"] == 6
    assert len(highs) == 12 * peaks["slices_per_frame"]


def test_the_waveform_follows_the_shots_rate(house: House) -> None:
    shot = house.shot()["id"]
    lay(house, shot, knock())
    house.ok("PATCH", f"/shots/{shot}", json={"frame_rate": "24"})
    assert house.ok("GET", f"/shots/{shot}/sound/peaks")["rate"] == "24"


def test_what_is_no_sound_is_refused_and_the_sound_before_stays(house: House) -> None:
    shot = house.shot()["id"]
    before = lay(house, shot, knock())
    playlist = b"#EXTM3U\n#EXTINF:1,\nfile:///etc/hostname\n"
    cut = knock()[:30]
    for bad in (b"", b"text", playlist, cut, b"\xff\xd8\xff\xe0" + bytes(99), b"ID3" + bytes(99)):
        house.problem("PUT", f"/shots/{shot}/sound", 422, "sound_unreadable", data=bad)
    assert house.ok("GET", f"/shots/{shot}/sound") == before
    folder = house.library.folder / "sounds" / shot
    assert len([path for path in folder.iterdir() if path.suffix == ".wav"]) == 1
    assert not list(folder.glob(".*"))


def test_only_a_sound_may_be_larger_than_a_megabyte(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    shot = house.shot()["id"]
    large = knock(length_s=80)
    assert len(large) > 1_000_000
    assert lay(house, shot, large)["duration_s"] == 80
    house.problem("PUT", f"/shots/{shot}/plan", 413, "too_large", data=large)
    monkeypatch.setattr(sound_pages, "MOST_SOUND", 100_000)
    house.problem("PUT", f"/shots/{shot}/sound", 413, "too_large", data=large)


def test_a_sound_taken_away_is_gone_and_its_marks_stay(house: House) -> None:
    shot = house.shot()["id"]
    house.problem("GET", f"/shots/{shot}/sound", 404, "not_found")
    house.problem("DELETE", f"/shots/{shot}/sound", 404, "not_found")
    lay(house, shot, knock())
    house.ok("PUT", f"/shots/{shot}/sound/marks", json={"marks": {"7": "squeak"}})
    assert house.client.delete(f"/api/v1/shots/{shot}/sound").status_code == 204
    assert house.ok("GET", f"/shots/{shot}/sound/marks") == {
        "marks": {"7": "squeak"},
        "sound": None,
    }
    assert not list((house.library.folder / "sounds" / shot).iterdir())


def test_marks_that_cannot_be(house: House) -> None:
    shot = house.shot()["id"]
    for marks in ({"0": "a"}, {"x": "a"}, {"1": ""}, {"1": 5}, {"1": "x" * 81}, []):
        body = {"marks": marks}
        house.problem("PUT", f"/shots/{shot}/sound/marks", 422, "invalid", json=body)
    assert house.ok("GET", f"/shots/{shot}/sound/marks")["marks"] == {}


def test_the_film_sounds_from_the_frame_where_the_sound_was_put(
    house: House, tmp_path: Path
) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=2, hold=12)
    lay(house, shot, knock(at_s=0.25))
    house.ok("PATCH", f"/shots/{shot}/sound", json={"offset_frames": 6})
    job = house.ok("POST", f"/shots/{shot}/exports", json={"format": "prores"})
    done = finished(house, job["id"])
    assert done["state"] == "done", done
    film = tmp_path / "film.mov"
    film.write_bytes(house.client.get(done["file"], buffered=True).data)
    # Read back with FFmpeg's own decoder: 6 of 12 frames a second and a quarter: 0.75 s.
    command = ["ffmpeg", "-v", "error", "-i", str(film), "-vn", "-ac", "1", "-f", "f32le", "-"]
    heard = np.frombuffer(subprocess.run(command, capture_output=True, check=True).stdout, "<f4")
    loud = np.abs(heard)
    assert len(heard) == 2 * 48_000
    assert abs(int(np.argmax(loud > 0.4 * loud.max())) / 48_000 - 0.75) < 0.001


def test_what_is_marked_is_printed_in_the_sheets_sound_column(house: House, tmp_path: Path) -> None:
    shot = house.shot()["id"]
    house.press(shot, count=6)
    house.ok("PUT", f"/shots/{shot}/sound/marks", json={"marks": {"2": "eek", "5": "plop"}})
    sheet = tmp_path / "sheet.pdf"
    sheet.write_bytes(house.client.get(f"/api/v1/shots/{shot}/sheet.pdf").data)
    # Read by poppler: where each word was printed, in points.
    told = subprocess.run(["pdftotext", "-bbox", str(sheet), "-"], capture_output=True, check=True)
    words = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>([^<]+)<', told.stdout.decode())
    places = {text: (float(x), float(y)) for x, y, text in words}
    for mark in ("eek", "plop"):
        assert abs(places[mark][0] - places["sound"][0]) < 6, "in the column of that name"
    assert places["sound"][1] < places["eek"][1] < places["plop"][1]
