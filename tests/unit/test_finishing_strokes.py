"""What is drawn by hand becomes a mask: in pixels, moved, beyond the rim, softened."""

import numpy as np

from standclear.finishing.cleanup import _Walk
from standclear.finishing.options import CleanUpOptions, Stroke
from standclear.finishing.plate import Set
from standclear.finishing.strokes import Box, Line, box_of, drawn, in_pixels, moved

WHOLE = Box(0, 0, 200, 100)


def test_a_stroke_covers_its_width_along_its_way():
    lines = in_pixels((Stroke(points=((0.25, 0.5), (0.75, 0.5)), width=0.05),), 200, 100)
    mask = drawn(lines, WHOLE)
    assert mask[50, 50:150].min() == 1.0
    assert abs(mask[:, 100].sum() - 10) <= 2
    assert mask[50, :40].max() == mask[50, 160:].max() == 0.0


def test_a_dot_is_round():
    mask = drawn((Line(((100.0, 50.0),), 20.0),), WHOLE)
    assert abs(mask.sum() - np.pi * 100) < 45


def test_what_ends_at_the_rim_goes_on_beyond_it():
    lines = in_pixels((Stroke(points=((0.5, 0.4), (0.5, 0.995)), width=0.05),), 200, 100)
    raised = drawn(moved(lines, np.array([[1.0, 0, 0], [0, 1, -60]])), Box(0, -60, 200, 100))
    assert raised[60:, 100].min() == 1.0, "the foot of the rod is still covered"
    inside = in_pixels((Stroke(points=((0.5, 0.4), (0.5, 0.8)), width=0.05),), 200, 100)
    assert drawn(inside, WHOLE)[95:].max() == 0.0


def test_a_softened_mask_is_whole_where_it_was_drawn_and_nothing_in_sight_ends_hard():
    lines = (Line(((60.0, 50.0), (140.0, 50.0)), 20.0),)
    mask = drawn(lines, WHOLE, feather=4.0)
    assert mask[41:59, 100].min() > 0.95
    assert np.abs(np.diff(mask[:, 100])).max() < 0.3


def test_a_box_holds_all_that_the_brush_touched():
    lines = (Line(((60.0, 50.0), (140.0, 70.0)), 20.0),)
    box = box_of(lines, 0).within(200, 100)
    outside = drawn(lines, WHOLE)
    outside[box.top : box.bottom, box.left : box.right] = 0
    assert outside.max() == 0.0
    assert Box(-5, -5, 3, 400).within(200, 100) == Box(0, 0, 3, 100)
    assert Box(300, 0, 400, 10).within(200, 100).size == (0, 10)


def test_a_mask_holds_until_the_next_one_is_drawn():
    masks = [
        {"exposure": number, "strokes": [{"points": [(x, 0.5)], "width": 0.1}]}
        for number, x in ((3, 0.2), (6, 0.8))
    ]
    options = CleanUpOptions.model_validate({"masks": masks, "follows": False})
    scene = Set(lambda _: np.zeros(0), (200, 100), None, {}, None)  # type: ignore[arg-type]
    places = _Walk(scene, lambda _: None).places(options, range(8))
    across = [places[index].lines[0].points[0][0] for index in range(8)]
    assert across == [40.0] * 5 + [160.0] * 3
