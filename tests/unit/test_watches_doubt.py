"""A fault that makes another watch see ghosts is told alone."""

from standclear.shooting.watches.doubt import without_ghosts
from standclear.shooting.watches.verdict import CANNOT_TELL, CLEAR, FLAGGED, Finding


def findings(focus: tuple[str, ...], pose: tuple[str, ...]) -> dict[str, Finding]:
    def one(causes: tuple[str, ...]) -> Finding:
        return Finding(FLAGGED if causes else CLEAR, "says", causes=causes)

    return {"light": one(()), "rig": one(()), "focus": one(focus), "pose": one(pose)}


def test_blur_explains_what_seems_to_have_moved() -> None:
    judged = without_ghosts(findings(("focus_slip",), ("something_moved",)))
    assert judged["pose"].state == CANNOT_TELL
    assert "out of focus" in judged["pose"].says
    assert judged["focus"].state == FLAGGED


def test_a_hand_stands_whatever_else_is_wrong() -> None:
    for causes in (("hand_left_in",), ("hand_left_in", "something_moved"), ("same_pose",)):
        assert without_ghosts(findings(("focus_slip",), causes))["pose"].causes == causes


def test_without_another_fault_what_moved_is_told() -> None:
    assert without_ghosts(findings((), ("something_moved",)))["pose"].state == FLAGGED
