"""What the step-back trigger says, one sentence for each cause, and the sound of each state."""

from collections.abc import Mapping

from standclear.shooting.stepback.states import Cause, State

#: A sentence for each cause; those of a bare state stand under its name.
SAYS: Mapping[Cause, str] = {
    "restless": "Something moves in the picture: keep out of it for a second, the set is learnt.",
    "hands": "Hands are in the picture.",
    "hand_resting": "Something reaches in from the edge and rests there; nothing is taken.",
    "stirring": "Something moved in the picture, and no hand was seen coming in.",
    "wobbling": "The hands are gone; something still moves. Waiting until it rests.",
    "still": "The hands are gone and the set is still; a moment more.",
    "shadow": "A shadow lies over the set; waiting until it has passed.",
    "light": "The light is not as it was; waiting for it.",
    "changed": "A new pose, and nobody in the picture.",
    "nothing_changed": "Hands came and went, and the pose is the same. Press to take it anyway.",
    "passed_by": "Somebody passed behind the set; nothing was changed.",
    "no_hand_seen": "The pose changed, and no hand was seen. Press to take it.",
    "left_behind": "Something was left in the picture that was not there. Take it away, or press.",
    "large_change": "Far more changed than in other poses. Look at the picture, then press.",
    "at_the_edge": "Something stays at the picture's edge. If it belongs there, press: "
    "the set is learnt anew and nothing is taken.",
    "light_stays": "The light changed and stays so. Mend it, or press to take the picture.",
    "bumped": "The camera was bumped. Put it back, or press: the set is learnt anew from "
    "where the camera stands, and nothing is taken.",
    "ready": "Ready: press to take the picture.",
    "no_picture": "No live picture comes; the trigger cannot see. The self-timer still works.",
    "held": "Held back. It goes on when hands come in again, or at a press.",
    "action_done": "The action is shot. Press to go on with what follows.",
    "failed": "The picture was not taken. Press to try again.",
}

STATE_SAYS: Mapping[State, str] = {
    "learning": "Learning the set: keep out of the picture for a second.",
    "watching": "Watching. Come in and move something.",
    "rest": "Taken. Looking at the set as it is now.",
    "take": "Taking the picture.",
    "counting": "Taking the picture in a moment; a touch holds it back.",
}


def says(state: State, cause: Cause) -> str:
    """The sentence for a state and its cause."""
    if state in ("take", "counting", "rest"):
        return STATE_SAYS[state]
    return SAYS.get(cause) or STATE_SAYS.get(state, "")
