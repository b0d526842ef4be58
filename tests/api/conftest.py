"""The application in this process, over a toy camera."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from standclear.clock import SystemClock
from standclear.finishing.jobs import ExportDesk
from standclear.library.library import Library
from standclear.shooting.stage import Stage
from standclear.web import exports
from standclear.web.app import Service, create_app
from standclear.web.gate import Gate
from tests.toys import ToyCamera
from tests.waiting import until


@dataclass
class House:
    """Everything that a test may want to touch."""

    camera: ToyCamera
    library: Library
    stage: Stage
    gate: Gate
    service: Service
    client: FlaskClient

    def ok(self, method: str, path: str, **kwargs: Any) -> Any:
        """A request that must succeed; its JSON."""
        response = self.client.open("/api/v1" + path, method=method, **kwargs)
        assert response.status_code < 300, (response.status_code, response.text)
        return response.get_json(silent=True)

    def problem(self, method: str, path: str, status: int, code: str, **kwargs: Any) -> Any:
        """A request that must fail as a Problem with this status and code."""
        response = self.client.open("/api/v1" + path, method=method, **kwargs)
        assert response.status_code == status, (response.status_code, response.text)
        assert response.mimetype == "application/problem+json"
        body = response.get_json()
        assert body["code"] == code, body
        assert body["status"] == status
        assert body["detail"]
        assert body["title"]
        return body

    def shot(self, **body: Any) -> Any:
        """A new shot."""
        return self.ok("POST", "/shots", json={"name": "cork wakes", **body})

    def press(self, shot: str, headers: dict[str, str] | None = None, **body: Any) -> Any:
        """One press; the items kept."""
        return self.ok("POST", f"/shots/{shot}/exposures", json=body, headers=headers)["items"]

    @contextmanager
    def exposing(self, shot: str) -> Iterator[None]:
        """A press is carried out for as long as this lasts."""
        self.camera.answer.clear()
        press = threading.Thread(target=lambda: self.press(shot))
        press.start()
        until(lambda: self.stage.camera().state == "exposing")
        try:
            yield
        finally:
            self.camera.answer.set()
            press.join(20)


@pytest.fixture
def cameras() -> dict[str, ToyCamera]:
    """The cameras by id; "toy" is the one in use. A test module may attach others."""
    return {"toy": ToyCamera()}


@pytest.fixture
def house(tmp_path: Path, cameras: dict[str, ToyCamera]) -> Iterator[House]:
    camera = cameras["toy"]
    clock = SystemClock()
    library = Library.open(tmp_path / "library", clock)
    stage = Stage(
        library=library,
        clock=clock,
        make_camera=lambda name: cameras.get(name, camera),
        camera="toy",
    )
    gate = Gate(library, clock)
    desk = ExportDesk(
        tmp_path / "exports",
        clock,
        may_run=stage.shutter.is_idle,
        on_change=lambda job: stage.events.publish("export", exports.as_json(job)),
    )
    service = create_app(stage, gate, desk, attached=list)
    service.app.testing = False  # errors are answered, as in use
    client = service.app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {gate.new_token('test')}"
    until(lambda: stage.camera().state == "ready")
    yield House(camera, library, stage, gate, service, client)
    camera.answer.set()
    stage.farewell(10)
    desk.close()
    library.close()
