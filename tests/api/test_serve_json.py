"""`standclear serve --json`: where the service is, and the code, as lines that a program reads."""

import json
from pathlib import Path
from typing import Any

import requests

from tests.pictures import jpeg
from tests.service import ServiceProcess
from tests.waiting import until


def told(service: ServiceProcess) -> dict[str, Any]:
    """All that it has said as JSON; anything else in its output is the log's."""
    facts: dict[str, Any] = {}
    for line in list(service.lines):
        if line.startswith("{"):
            facts.update(json.loads(line))
    return facts


def test_a_program_reads_address_and_code_and_pairs_with_them(tmp_path: Path) -> None:
    (tmp_path / "sees").mkdir()
    (tmp_path / "sees" / "view.jpg").write_bytes(jpeg(320, 180))
    env = {"VCAMERADIR": str(tmp_path / "sees")}
    service = ServiceProcess(tmp_path / "library", "tethered", "--json", env=env)
    try:
        until(lambda: "code" in told(service), 60)
        facts = told(service)
        assert len(facts["code"]) == 6
        assert facts["minutes"] == 10
        answer = requests.post(
            f"{facts['listening']}/api/v1/pairing", json={"code": facts["code"]}, timeout=30
        )
        assert answer.status_code == 201
        assert "pairing code:" not in service.output()
    finally:
        service.stop()
        service._reader.join(5)
        assert service.process.stdout is not None
        service.process.stdout.close()
