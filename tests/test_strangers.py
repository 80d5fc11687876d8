"""Small invented shops, each with its sum done by hand beside it.

The sums are plain arithmetic on the sizes in the shop file and on the yardsticks named beside
them; what no yardstick says is common practice, no source.
"""

from __future__ import annotations

import pytest
from shops import judged, pick, text_of

from floorplan.search.change import Draft
from floorplan.search.rework import feet
from floorplan.shop.faults import ShopFileError
from floorplan.shop.reader import parse

INCH = 0.0254


# --- half-finished files -------------------------------------------------------------------


@pytest.mark.parametrize("section", ["fixed", "equipment"])
def test_a_thing_of_which_nothing_is_said_yet_is_told_in_words(section: str) -> None:
    """A name with `{}` behind it: no size, no kind; a fault at its line, no traceback."""
    text = f"shop: a shop\nroom: {{size: [20', 16'], height: 8'}}\n{section}:\n  panel: {{}}\n"
    with pytest.raises(ShopFileError) as told:
        parse(text)
    fault = told.value.faults[0]
    assert (fault.line, fault.message) == (4, "`panel` has no width")


# --- changes that cannot be made -----------------------------------------------------------


def test_a_mat_is_not_let_down_below_the_floor() -> None:
    """A drawer whose bottom is 1/4 in above the floor meets a mat of 3/8 in, 1/8 in too high.

    Parting them by height takes 1/8 in off the mat and leaves 1/4 in: that may be offered.  With
    the drawer on the floor it takes 3/8 in and nothing is left of the mat: that may not.
    """
    for bottom, offered in (("1/4 in", [-1 / 8]), ("0 in", [])):
        text = text_of(
            "mat: {width: 30 in, depth: 20 in, height: 3/8 in, at: {x: 5', y: 58 in}}",
            "chest: {width: 30 in, depth: 20 in, height: 30 in, at: {x: 5', y: 80 in}, drawers: "
            f"{{low: {{side: front, at: 0, width: 30 in, travel: 18 in, bottom: {bottom}, "
            "top: 8 in}}}",
        )
        file = parse(text)
        made = judged(text)
        assert pick(made, "openings", "chest", "mat").verdict == "fails"
        steps = list(feet(Draft(file.shop, file.layout), "mat", made.scene, made.failing))
        lowered = [round(s.by / INCH, 6) for s in steps if s.by is not None and s.by < 0]
        assert lowered == offered
