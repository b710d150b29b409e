"""Response rates against counts by hand."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import Invitation, Message, Review
from followup.selectors import responses as selector
from followup.services import messages, scores
from registry.models import Person
from tests.builders import NOW, TODAY
from tests.followup.asked import invited

pytestmark = pytest.mark.usefixtures("defaults")
LATER = NOW + timedelta(days=30)


def asked(reminder: int = 0, *, answered: bool = False, by: str = "", **values: Any) -> Invitation:
    """Invite somebody; they answer after so many reminders, or never."""
    invitation, _ = invited()
    Invitation.objects.filter(pk=invitation.pk).update(
        reminder=reminder, completed_at=NOW if answered else None, **values
    )
    if by:
        row = messages.put(
            patient=invitation.review.procedure.injury.patient,
            site=invitation.site,
            purpose="questionnaire",
            key=f"questionnaire:{invitation.pk}:0",
            invitation=invitation,
            now=NOW,
        )
        Message.objects.filter(pk=row.pk).update(state="sent", sent_at=NOW, means=by)
    return invitation


def found(user: Person, **more: Any) -> selector.Responses:
    at: dict[str, Any] = {"since": TODAY - timedelta(days=365), "now": LATER, "today": TODAY}
    return selector.responses(user, **{**at, **more})


def counts(one: selector.Responses, code: str) -> dict[str, tuple[int, int]]:
    table = next(table for table in one.tables if table.code == code)
    return {line.label: (line.share.number, line.share.of) for line in table.lines}


def test_each_reminder_is_held_against_those_who_were_still_silent(coordinator: Person) -> None:
    for reminder, answered in ((0, True), (0, True), (1, True), (2, True), (2, False)):
        asked(reminder, answered=answered)
    one = found(coordinator)
    assert (one.total.share.number, one.total.share.of) == (4, 5)
    assert counts(one, "reminder") == {
        "The invitation itself": (2, 5),
        "Reminder 1": (1, 3),
        "Reminder 2": (1, 2),
    }


def test_by_step_and_by_means(coordinator: Person) -> None:
    asked(answered=True, by="email")
    asked(by="email")
    asked(answered=True, by="text")
    asked()
    one = found(coordinator)
    assert counts(one, "means") == {"By hand": (0, 1), "E-mail": (1, 2), "Text message": (1, 1)}
    assert counts(one, "step") == {"6 months": (2, 4)}
    assert one.total.few
    assert one.total.percent == "50.0% (15.0 to 85.0)"


def test_what_is_open_withdrawn_or_not_sent_is_said_and_not_counted(coordinator: Person) -> None:
    asked(answered=True)
    asked(opened_at=NOW)
    asked(revoked_at=NOW, revoked_because="in error")
    asked(sent_at=None)
    one = found(coordinator)
    assert (one.total.share.number, one.total.share.of) == (1, 2)
    assert (one.still_open, one.begun, one.withdrawn, one.waiting) == (0, 1, 1, 1)
    early = found(coordinator, now=NOW)
    assert early.total.share.of == 0
    assert early.total.percent == "nobody to count"
    assert early.still_open == 1


def test_by_mode_counts_reviews_that_wanted_a_patients_score(coordinator: Person) -> None:
    both, home, nobody = (asked().review for _ in range(3))
    for review, modes in ((both, ("clinic", "remote")), (home, ("remote",)), (nobody, ())):
        for mode in modes:
            scores.record_score(
                injury=review.procedure.injury,
                instrument="pain_nrs",
                taken_on=TODAY,
                total=3,
                mode=mode,
                by=review.recorded_by,
                now=NOW,
                today=TODAY,
            )
    over = TODAY + timedelta(days=1)
    # Each of the three had three reviews before, at 2 weeks, 6 weeks and 3 months.
    assert counts(found(coordinator), "mode")["Patient, remote"] == (0, 9)
    days = dict.fromkeys(("opens_on", "due_on", "proposed_on", "closes_on"), TODAY)
    Review.objects.filter(pk__in=[both.pk, home.pk, nobody.pk]).update(**days)
    mode = counts(found(coordinator, today=over, since=TODAY - timedelta(days=30)), "mode")
    assert mode["Patient, remote"] == (2, 3)
    assert mode["In clinic"] == (1, 3)
    assert mode["By phone"] == (0, 3)


def test_another_site_and_another_year_are_not_counted(
    coordinator: Person, outsider: Person
) -> None:
    asked(answered=True)
    assert found(outsider).total.share.of == 0
    assert found(coordinator, since=TODAY + timedelta(days=1)).total.share.of == 0


def test_the_table_to_take_along_holds_every_line(coordinator: Person) -> None:
    asked(answered=True)
    rows = selector.to_rows(found(coordinator))
    assert rows[0] == ["table", "line", "of", "answered", "share", "low_95", "high_95"]
    assert ["all", "All", 1, 1, "1.0000", "0.2065", "1.0000"] in rows
    assert {row[0] for row in rows[1:]} == {"all", "step", "means", "reminder", "mode"}
