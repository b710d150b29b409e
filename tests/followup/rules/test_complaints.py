"""When a patient's answers ask about removal, and when they do not."""

import pytest

from followup.rules.complaints import complaint_of


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({}, ""),
        ({"hw_rubs": "sometimes", "hw_sleep": "sometimes", "hw_out": "unsure"}, ""),
        ({"hw_rubs": "never", "hw_out": "no"}, ""),
        ({"hw_rubs": "often"}, "rubs often"),
        ({"hw_out": "yes"}, "wishes it out"),
        (
            {"hw_strap": "often", "hw_sleep": "sometimes", "hw_out": "yes"},
            "sore under a strap often, disturbs sleep sometimes, wishes it out",
        ),
    ],
)
def test_a_complaint_is_loud_enough_or_not(answers: dict[str, str], said: str) -> None:
    assert complaint_of(answers) == said
