"""Where one fault makes another watch see ghosts, the watch that is fooled says so.

A picture out of focus and bands over it change the whole picture in patches, which look to the pose
watch like props that moved. What it says of a hand, a doubled pose or the spacing stands.
"""

from collections.abc import Mapping

from standclear.shooting.watches.verdict import FLAGGED, Finding, cannot_tell

MOVED = ("something_moved",)
FOOLED_BY = {
    ("focus", "focus_slip"): "The picture is out of focus",
    ("light", "banding"): "The picture has bands of light",
}


def ghosts_from(findings: Mapping[str, Finding]) -> str | None:
    """The fault that changes the whole picture in patches, as the beginning of a sentence."""
    for (watch, cause), why in FOOLED_BY.items():
        if cause in findings[watch].causes:
            return why
    return None


def without_ghosts(findings: Mapping[str, Finding]) -> dict[str, Finding]:
    """The findings, the pose watch's withdrawn where another fault explains all that it saw."""
    pose, why = findings["pose"], ghosts_from(findings)
    if why is None or pose.state != FLAGGED or pose.causes != MOVED:
        return dict(findings)
    says = f"{why}: whether a thing moved cannot be told from it."
    return {**findings, "pose": cannot_tell(says)}
