from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from registry.rules.construct_words import Built, in_words

NOTHING: dict[str, Any] = {
    **dict.fromkeys(name for name in Built.__annotations__),
    "suture_kind": "",
    "graft": "unknown",
}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, ""),
        ({"plate_holes": 7, "anchor_count": 1}, "7 holes, 1 anchor"),
        (
            {"lateral_screw_count": 8, "lateral_screw_diameter_mm": Decimal("2.3")},
            "8 lateral screws of 2.3 mm",
        ),
        ({"lateral_screw_diameter_mm": Decimal("2.3")}, ""),
        ({"anchor_count": 0, "button_count": 2}, "2 buttons"),
        ({"suture_kind": "braided", "half_hitch_count": 3}, "braided suture, 3 half hitches"),
        ({"half_hitch_count": 1, "graft": "autograft"}, "1 half hitch, autograft"),
        ({"graft": "none"}, ""),
    ],
)
def test_what_is_known_is_said_and_the_rest_left_out(facts: dict[str, Any], words: str) -> None:
    assert in_words(SimpleNamespace(**{**NOTHING, **facts})) == words
