from datetime import date, timedelta

import pytest

from followup.rules.urgency import DueFacts, Tier, reason

TODAY = date(2026, 11, 25)


def facts(
    tier: Tier, *, due: int = 0, closes: int = 14, removal: int | None = None, booked: bool = False
) -> DueFacts:
    """Return facts whose days are counted from today."""
    return DueFacts(
        tier=tier,
        today=TODAY,
        due_on=TODAY + timedelta(days=due),
        closes_on=TODAY + timedelta(days=closes),
        removal_due_on=None if removal is None else TODAY + timedelta(days=removal),
        is_booked=booked,
    )


def test_what_is_lost_by_waiting_comes_first() -> None:
    assert [one.name for one in sorted(Tier)] == [
        "REMOVAL_OVERDUE",
        "FILM_WINDOW_CLOSING",
        "EARLY_AFTER_DEPARTURE",
        "LATE",
        "IN_WINDOW",
        "LATER",
    ]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            facts(Tier.REMOVAL_OVERDUE, removal=-9),
            "Hardware that is meant to come out is 9 days past its time",
        ),
        (
            facts(Tier.REMOVAL_OVERDUE, removal=-1),
            "Hardware that is meant to come out is 1 day past its time",
        ),
        (
            facts(Tier.FILM_WINDOW_CLOSING, closes=3),
            "A film is still missing; the window closes in 3 days",
        ),
        (
            facts(Tier.FILM_WINDOW_CLOSING, closes=0),
            "A film is still missing; the window closes today",
        ),
        (
            facts(Tier.FILM_WINDOW_CLOSING, closes=-2),
            "A film is still missing; the window closed 2 days ago",
        ),
        (
            facts(Tier.EARLY_AFTER_DEPARTURE),
            "Early review after a departure from a construct check",
        ),
        (facts(Tier.LATE, due=-1, closes=10), "1 day late; the window closes in 10 days"),
        (facts(Tier.LATE, due=-30, closes=-1), "30 days late; the window closed 1 day ago"),
        (facts(Tier.IN_WINDOW, due=5), "In window, due in 5 days, not booked yet"),
        (facts(Tier.IN_WINDOW, due=0, booked=True), "In window, due today, booked"),
        (facts(Tier.LATER, due=1), "Window opens later, due in 1 day, not booked yet"),
    ],
    ids=lambda one: one.tier.name if isinstance(one, DueFacts) else "",
)
def test_each_place_says_why(given: DueFacts, said: str) -> None:
    assert reason(given) == said
