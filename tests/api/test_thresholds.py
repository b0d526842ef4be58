"""Thresholds belong to a shot, and are changed by the name of their figure."""

import pytest

from standclear.shooting.watches.thresholds import Thresholds
from tests.api.conftest import House


def test_a_shot_starts_with_the_defaults_and_keeps_what_is_set(house: House) -> None:
    one, other = house.shot()["id"], house.shot()["id"]
    defaults = house.ok("GET", f"/shots/{one}/thresholds")
    assert defaults == Thresholds().as_dict()
    changed = house.ok("PATCH", f"/shots/{one}/thresholds", json={"shift_px": 0.4})
    assert changed == {**defaults, "shift_px": 0.4}
    assert house.ok("GET", f"/shots/{one}/thresholds") == changed
    assert house.ok("GET", f"/shots/{other}/thresholds") == defaults
    back = house.ok("PATCH", f"/shots/{one}/thresholds", json={"shift_px": None})
    assert back == defaults


@pytest.mark.parametrize(
    "body", [{"wobble_px": 1.0}, {"shift_px": 0.0}, {"shift_px": -1.0}, {"shift_px": 1e9}]
)
def test_a_threshold_that_cannot_be_is_refused(house: House, body: dict[str, float]) -> None:
    shot = house.shot()["id"]
    house.problem("PATCH", f"/shots/{shot}/thresholds", 422, "invalid", json=body)
    assert house.ok("GET", f"/shots/{shot}/thresholds") == Thresholds().as_dict()


def test_the_noise_of_the_steady_test_raises_the_defaults_but_not_what_is_set(
    house: House,
) -> None:
    shot = house.shot()["id"]
    house.library.put_setting(f"steady:{shot}", {"noise": {"shift_px": 0.05, "step_percent": 0.1}})
    fitted = house.ok("GET", f"/shots/{shot}/thresholds")
    assert fitted["shift_px"] == pytest.approx(0.3)  # six standard deviations
    assert fitted["step_percent"] == pytest.approx(0.6)
    assert fitted["colour_percent"] == Thresholds().colour_percent
    set_by_hand = house.ok("PATCH", f"/shots/{shot}/thresholds", json={"shift_px": 0.1})
    assert set_by_hand["shift_px"] == 0.1
