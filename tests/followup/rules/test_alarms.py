"""Which answers alarm, on either side of each limit."""

import pytest

from followup.rules import alarms


@pytest.mark.parametrize(
    ("answers", "reasons"),
    [
        ({}, set()),
        ({"fever": "no", "wound_leaks": "no", "shape": "no", "pain": "8"}, set()),
        ({"fever": "yes"}, {"fever_or_wound"}),
        ({"wound_leaks": "yes"}, {"fever_or_wound"}),
        ({"shape": "yes"}, {"shape"}),
        ({"pain": "9"}, {"pain"}),
        ({"pain": "10", "shape": "yes", "fever": "yes"}, {"pain", "shape", "fever_or_wound"}),
        ({"pain": ""}, set()),
    ],
)
def test_an_answer_alarms_or_does_not(answers: dict[str, str], reasons: set[str]) -> None:
    found = alarms.alarms(answers)
    assert set(found) == reasons
    assert set(found) <= set(alarms.REASONS)


def test_the_words_say_which_answer_it_was() -> None:
    both = alarms.alarms({"fever": "yes", "wound_leaks": "yes", "pain": "9"})
    assert both["fever_or_wound"] == "fever and the wound leaks"
    assert both["pain"] == "pain 9 of 10"
