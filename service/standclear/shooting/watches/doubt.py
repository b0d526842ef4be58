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


def without_ghosts(findings: Mapping[str, Finding]) -> dict[str, Finding]:
    """The findings, the pose watch's withdrawn where another fault explains all that it saw."""
    pose = findings["pose"]
    if pose.state != FLAGGED or pose.causes != MOVED:
        return dict(findings)
    for (watch, cause), why in FOOLED_BY.items():
        if cause in findings[watch].causes:
            says = f"{why}: whether a thing moved cannot be told from it."
            return {**findings, "pose": cannot_tell(says)}
    return dict(findings)
