"""From which size on a change is worth a word; by shot, in the unit of its figure."""

from dataclasses import asdict, dataclass, replace


@dataclass(frozen=True)
class Noise:
    """What a set shows when nothing moves (standard deviations from the steady test)."""

    step_percent: float = 0.0
    colour_percent: float = 0.0
    shift_px: float = 0.0
    turn_deg: float = 0.0
    blur_px: float = 0.0


@dataclass(frozen=True)
class Thresholds:
    """Lengths in pixels of the original; light in % of linear light."""

    step_percent: float = 0.25
    colour_percent: float = 0.5
    gradient_percent: float = 0.5
    banding_percent: float = 0.5
    drift_percent: float = 0.6
    shift_px: float = 0.06
    turn_deg: float = 0.006
    scale_percent: float = 0.01
    creep_px: float = 0.06
    tellable_px: float = 0.5
    blur_px_at_1920: float = 0.4
    hand_percent: float = 0.8
    moved_percent: float = 0.15

    def fitted_to(self, noise: Noise) -> "Thresholds":
        """Raised where the set's own noise would cause false alarms: six deviations stay clear."""
        return replace(
            self,
            step_percent=max(self.step_percent, 6.0 * noise.step_percent),
            colour_percent=max(self.colour_percent, 6.0 * noise.colour_percent),
            shift_px=max(self.shift_px, 6.0 * noise.shift_px),
            turn_deg=max(self.turn_deg, 6.0 * noise.turn_deg),
            blur_px_at_1920=max(self.blur_px_at_1920, 4.0 * noise.blur_px),
        )

    def as_dict(self) -> dict[str, float]:
        """Name → value, as stored with the shot."""
        return asdict(self)
