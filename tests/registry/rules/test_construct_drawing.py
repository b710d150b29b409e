import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from registry.rules.construct_drawing import WIDTH, ConstructDrawing, drawing

NOTHING: dict[str, Any] = {
    **dict.fromkeys(
        (
            *("plate_holes", "lateral_screw_count", "lateral_screw_diameter_mm", "anchor_count"),
            *("shaft_screw_count", "shaft_screw_diameter_mm", "button_count", "retainer_count"),
            *("half_hitch_count", "free_slots_count"),
        )
    ),
    "suture_kind": "",
    "graft": "unknown",
}
STYLES = Path(__file__).resolve().parents[3] / "config/static/css/holdfast.css"


def drawn(family: str = "locking_plate", side: str = "left", **facts: Any) -> ConstructDrawing:
    fractured = bool(facts.pop("fractured", True))
    built = SimpleNamespace(**{**NOTHING, **facts})
    return drawing(built, side=side, family=family, fractured=fractured)


def counted(made: ConstructDrawing, look: str) -> int:
    return sum(shape.look == look for shape in made.shapes)


def texts(made: ConstructDrawing) -> list[str]:
    return [label.text for label in made.labels]


def test_as_many_parts_are_drawn_as_were_recorded() -> None:
    made = drawn(
        "locking_plate_anchors",
        plate_holes=7,
        shaft_screw_count=3,
        lateral_screw_count=8,
        lateral_screw_diameter_mm=2.3,
        anchor_count=2,
        free_slots_count=2,
        retainer_count=1,
    )
    numbers = {
        look: counted(made, look)
        for look in ("screw", "screw small", "anchor", "slot", "retainer", "suture", "unknown")
    }
    assert numbers == {
        **{"screw": 3, "screw small": 8, "anchor": 2, "slot": 2, "retainer": 1},
        **{"suture": 2, "unknown": 0},
    }
    assert made.words == (
        "Left shoulder from the front: plate, 7 holes, 3 shaft screws, 8 lateral screws of 2.3 mm, "
        "2 free slots, 1 suture retainer, 2 anchors."
    )


def test_what_is_not_recorded_is_drawn_and_said_as_unknown() -> None:
    made = drawn("locking_plate_anchors", plate_holes=6, anchor_count=1)
    assert counted(made, "unknown") == 4
    assert counted(made, "screw") == counted(made, "slot") == 0
    assert {"? shaft screws", "? lateral screws", "? free slots", "? suture retainers"} < set(
        texts(made)
    )
    assert made.words.endswith(
        "Not recorded: shaft screws, lateral screws, free slots, suture retainers."
    )


def test_none_is_not_unknown() -> None:
    made = drawn("locking_plate_anchors", free_slots_count=0)
    assert "no free slots" in made.words
    assert "no free slots" in texts(made)
    assert "free slots" not in made.words.split("Not recorded:")[1]


def test_the_words_say_each_number_that_the_drawing_shows() -> None:
    made = drawn("suspensory", button_count=2, suture_kind="braided", fractured=False)
    for label in texts(made)[:-4]:
        assert label in made.words
    assert "braided suture" in made.words
    assert counted(made, "plate") == counted(made, "fracture") == 0
    assert counted(made, "button") == 2


def test_a_hook_is_drawn_for_a_hook_plate_alone() -> None:
    hooked = drawn("hook_plate", plate_holes=5, shaft_screw_count=4)
    assert counted(hooked, "hook") == 1
    assert "plate with a hook under the acromion" in hooked.words
    assert "lateral" not in hooked.words
    assert counted(drawn(), "hook") == 0


@pytest.mark.parametrize(
    ("graft", "look", "says"),
    [("autograft", "graft", "autograft round"), ("unknown", "unknown", "Not recorded: the graft")],
)
def test_a_graft_is_drawn_or_asked_for(graft: str, look: str, says: str) -> None:
    made = drawn("tendon_graft", graft=graft)
    assert counted(made, look) == 1
    assert says in made.words


def test_another_construct_has_a_plate_only_where_one_is_recorded() -> None:
    bare = drawn("other")
    assert bare.words == "Left shoulder from the front: nothing recorded."
    assert counted(bare, "plate") == 0
    assert counted(drawn("other", plate_holes=4), "plate") == 1


def numbers(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+),([-\d.]+)", path)]


@pytest.mark.parametrize("family", ["locking_plate_anchors", "hook_plate", "tendon_graft"])
def test_a_right_shoulder_is_the_mirror_image_of_a_left_one(family: str) -> None:
    facts = {"plate_holes": 7, "shaft_screw_count": 3, "anchor_count": 2, "graft": "allograft"}
    left, right = drawn(family, **facts), drawn(family, "right", **facts)
    assert right.words == left.words.replace("Left", "Right")
    for one, other in zip(left.shapes, right.shapes, strict=True):
        for (x, y), (mirrored, same) in zip(numbers(one.path), numbers(other.path), strict=True):
            assert (mirrored, same) == (pytest.approx(WIDTH - x), y)


@pytest.mark.parametrize("many", [1, 6, 20])
def test_everything_stays_inside_the_drawing(many: int) -> None:
    made = drawn(
        "locking_plate_anchors",
        plate_holes=30,
        shaft_screw_count=many,
        lateral_screw_count=many,
        anchor_count=min(many, 6),
        button_count=min(many, 6),
        free_slots_count=min(many, 6),
    )
    points = [point for shape in made.shapes for point in numbers(shape.path)]
    assert all(0 <= x <= made.width and made.top <= y <= made.foot for x, y in points)
    assert len({shape.path for shape in made.shapes}) == len(made.shapes)


def test_a_side_is_left_or_right() -> None:
    with pytest.raises(ValueError, match="not 'both'"):
        drawn(side="both")


def test_every_look_has_a_style_in_ink() -> None:
    made = [
        drawn("locking_plate_anchors", **dict.fromkeys(("shaft_screw_count", "anchor_count"), 1)),
        drawn(
            "hook_plate", button_count=1, retainer_count=1, free_slots_count=1, graft="synthetic"
        ),
        drawn("locking_plate", lateral_screw_count=2),
    ]
    used = {word for one in made for shape in one.shapes for word in shape.look.split()}
    assert len(used) == 14
    styles = STYLES.read_text()
    for word in used:
        assert f".cd.{word}" in styles
