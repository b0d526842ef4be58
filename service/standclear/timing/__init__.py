"""Pure arithmetic of the trade: rates, timecode, easing, spacing, the plan. No I/O."""
