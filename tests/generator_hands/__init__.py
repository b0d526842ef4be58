"""A second, plain generator of hands on a tabletop. It shares no code with the rehearsal set: other
drawing, other tone curve, other noise, other timing; so a trigger that fits both is no accident."""

from tests.generator_hands.plan import Act, Truth, a_pose, an_idle_visit
from tests.generator_hands.world import World

__all__ = ["Act", "Truth", "World", "a_pose", "an_idle_visit"]
