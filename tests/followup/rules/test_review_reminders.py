"""Who may be reminded, by which means, and why not."""

from datetime import date, timedelta
from typing import Any

import pytest

from followup.rules.contact import Reach
from followup.rules.review_reminders import Facts, Reminder, reminder_for
from followup.rules.windows import Window

TODAY = date(2026, 11, 25)
EVERY = ("email", "text", "letter")


def facts(**values: Any) -> Facts:
    given: dict[str, Any] = {
        "state": "planned",
        "window": Window(TODAY - timedelta(days=3), TODAY, TODAY + timedelta(days=9)),
        "reach": Reach(frozenset({"phone", "text", "email"})),
        "offered": EVERY,
        **values,
    }
    return Facts(**given)


def asked(**values: Any) -> Reminder:
    return reminder_for(facts(**values), 7, TODAY)


def test_the_preferred_means_is_taken_where_the_site_sends_by_it() -> None:
    assert asked() == Reminder("email")
    reach = Reach(frozenset({"text", "email"}), preferred="text")
    assert asked(reach=reach) == Reminder("text")
    assert asked(reach=reach, offered=("email",)) == Reminder("email")


def test_a_refused_means_gives_way_to_the_next() -> None:
    reach = Reach(frozenset({"text", "email"}), refused=frozenset({"email"}))
    assert asked(reach=reach) == Reminder("text")


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"booked_on": TODAY}, "is booked on 25 Nov 2026"),
        ({"state": "attended"}, "the review is attended"),
        (
            {
                "window": Window(
                    TODAY + timedelta(days=1), TODAY + timedelta(days=2), TODAY + timedelta(days=3)
                )
            },
            "the window opens on 26 Nov 2026",
        ),
        (
            {
                "window": Window(
                    TODAY - timedelta(days=3), TODAY - timedelta(days=2), TODAY - timedelta(days=1)
                )
            },
            "the window closed on 24 Nov 2026",
        ),
        ({"reach": Reach(frozenset({"email"}), opted_out=True)}, "does not want to be contacted"),
        (
            {"reach": Reach(frozenset({"email"}), declined_on=TODAY)},
            "said on 25 Nov 2026 that they do not want to come",
        ),
        (
            {"last_on": TODAY - timedelta(days=6)},
            "was reminded on 19 Nov 2026, less than 7 days ago",
        ),
        (
            {"last_on": TODAY + timedelta(days=1)},
            "has a reminder waiting, which goes on 26 Nov 2026",
        ),
        ({"offered": ()}, "this site sends no messages"),
        (
            {"reach": Reach(frozenset({"email"}), refused=frozenset({"email"}))},
            "has refused e-mail; has no address for text message; has no address for letter",
        ),
    ],
)
def test_nobody_is_reminded_without_need_or_against_their_will(
    values: dict[str, Any], why: str
) -> None:
    assert asked(**values) == Reminder("", why)


def test_after_a_week_somebody_may_be_reminded_again() -> None:
    assert asked(last_on=TODAY - timedelta(days=7)).means == "email"
