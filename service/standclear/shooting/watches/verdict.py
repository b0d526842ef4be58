"""The shape of a verdict: each watch with state, figures, thresholds, causes, words."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

CLEAR, FLAGGED, CANNOT_TELL = "clear", "flagged", "cannot_tell"


@dataclass(frozen=True)
class Finding:
    """What one watch says of one exposure. ``thresholds`` are in the unit of the figure named."""

    state: str
    says: str
    figures: Mapping[str, float] = field(default_factory=dict)
    causes: tuple[str, ...] = ()
    thresholds: Mapping[str, float] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """As JSON; figures that are not finite are left out."""
        return {
            "state": self.state,
            "figures": {k: round(float(v), 5) for k, v in self.figures.items() if isfinite(v)},
            "thresholds": {k: round(float(v), 5) for k, v in self.thresholds.items()},
            "causes": list(self.causes),
            "says": self.says,
        }


def cannot_tell(why: str) -> Finding:
    """No figure, and the reason."""
    return Finding(CANNOT_TELL, why)


def verdict(findings: Mapping[str, Finding]) -> dict[str, Any]:
    """The verdict on an exposure from its watches' findings."""
    flagged = any(finding.state == FLAGGED for finding in findings.values())
    return {
        "state": FLAGGED if flagged else CLEAR,
        "watches": {name: finding.as_dict() for name, finding in findings.items()},
    }
