"""Whether the last exposure completed an action of the plan: there the step-back trigger stops."""

from standclear.library.library import Library
from standclear.timing.errors import TimingError
from standclear.timing.plan_convert import from_stored
from standclear.timing.progress import Shown, where_shown
from standclear.timing.rates import parse_rate


def action_ended(library: Library, shot_id: str) -> bool:
    """False as well where there is no plan, or none that can be read."""
    data, _ = library.plan(shot_id)
    if data is None:
        return False
    shown = [Shown(line.id, line.hold) for line in library.outline(shot_id)]
    try:
        plan = from_stored(data, parse_rate(library.shot(shot_id).frame_rate))
        return where_shown(plan, shown).just_ended is not None
    except TimingError:
        return False
