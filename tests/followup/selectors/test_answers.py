"""What a surgeon reads of what was answered at home."""

from datetime import timedelta
from typing import Any

import pytest

from followup.selectors import answers as selector
from followup.services import answers, invitations
from registry.models import Person
from tests.builders import NOW, TODAY
from tests.followup.asked import invited, operated

pytestmark = pytest.mark.usefixtures("defaults")


def test_answers_stand_in_words_with_what_alarmed(surgeon: Person) -> None:
    invitation, _ = invited()
    given = {"pain": "9", "work": "not_yet", "satisfaction": "", "quickdash:1": "3"}
    answers.keep(invitation=invitation, given=given, next_page="", wordings={}, now=NOW)
    injury = invitation.review.procedure.injury_id
    (one,) = selector.of_injuries(surgeon, [injury])
    assert (one.injury_id, one.on, one.step, one.finished) == (injury, TODAY, "6 months", False)
    assert one.lines == ("pain: 9", "work: Not yet")
    assert one.alarming == ("pain 9 of 10",)
    answers.complete(invitation=invitation, now=NOW)
    assert selector.of_injuries(surgeon, [injury])[0].finished


def test_they_are_read_in_one_query_and_not_by_another_site(
    surgeon: Person, outsider: Person, counted: Any
) -> None:
    kept = [invited()[0] for _ in range(3)]
    for invitation in kept:
        answers.keep(invitation=invitation, given={"pain": "1"}, next_page="", wordings={}, now=NOW)
    injuries = [invitation.review.procedure.injury_id for invitation in kept]
    selector.of_injuries(surgeon, [])
    with counted() as queries:
        assert len(selector.of_injuries(surgeon, injuries)) == 3
    assert len(queries) == 1
    assert selector.of_injuries(outsider, injuries) == []


def test_a_review_in_its_window_can_be_asked_about_and_then_withdrawn(surgeon: Person) -> None:
    operation = operated()
    patient = operation.injury.patient
    at: dict[str, Any] = {"user": surgeon, "patient": patient, "now": NOW, "today": TODAY}
    (line,) = selector.invitation_lines(**at)
    assert (line.words, line.may_issue, line.may_revoke) == ("nobody asked yet", True, False)
    by = operation.recorded_by
    invitation, _ = invitations.hand_over(review=line.review, by=by, now=NOW)
    (line,) = selector.invitation_lines(**at)
    assert (line.words, line.may_issue, line.may_revoke) == ("sent, not opened", True, True)
    invitations.revoke(invitation=invitation, because="in error", by=by, now=NOW)
    (line,) = selector.invitation_lines(**at)
    assert (line.words, line.may_issue, line.may_revoke) == ("withdrawn", True, False)
    again, _ = invitations.hand_over(review=line.review, by=by, now=NOW)
    (line,) = selector.invitation_lines(**at)
    assert line.invitation == again
    late = {**at, "now": NOW + timedelta(days=30), "today": TODAY + timedelta(days=30)}
    (line,) = selector.invitation_lines(**late)
    assert (line.words, line.may_issue) == ("time is over", True)
    answers.complete(invitation=again, now=NOW)
    (line,) = selector.invitation_lines(**at)
    assert (line.words, line.may_issue, line.may_revoke) == ("answered", False, False)


def test_another_site_sees_no_questionnaire(outsider: Person) -> None:
    invitation, _ = invited()
    patient = invitation.review.procedure.injury.patient
    assert selector.invitation_lines(outsider, patient, NOW, TODAY) == []
