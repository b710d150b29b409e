from datetime import date
from typing import Any

import pytest

from followup.exchange.fhir import answers
from followup.models import Invitation
from followup.selectors import fhir_rows
from followup.services import answers as given
from followup.services import scores
from tests import builders, world
from tests.builders import NOW, TODAY
from tests.fhir import valid
from tests.fhir_rows import seen

pytestmark = pytest.mark.django_db


def test_numbered_answers_go_out_by_number_and_without_words() -> None:
    hurt = builders.injury()
    row = scores.record_score(
        injury=hurt,
        instrument="quickdash",
        taken_on=date(2026, 7, 17),
        items={number: float(number % 5 + 1) for number in range(1, 12)},
        by=hurt.recorded_by,
        now=NOW,
        today=TODAY,
    )
    made = valid(answers.of_score(seen(fhir_rows.itemised_scores, row)))
    assert [one["linkId"] for one in made["item"]] == [str(number) for number in range(1, 12)]
    assert made["questionnaire"] == "https://registry.example/Questionnaire/quickdash|2006"
    assert not [one for one in made["item"] if "text" in one]
    assert answers.items_of(made)["3"] == 4.0


@pytest.fixture
def invitation(defaults: None) -> Invitation:
    return Invitation.objects.get(pk=world.one_of_each("north")["invitation_id"])


def written(invitation: Invitation) -> dict[str, Any]:
    return valid(answers.of_invitation(seen(fhir_rows.answered, invitation)))


def test_what_was_answered_at_home_is_in_progress_until_it_is_done(
    invitation: Invitation,
) -> None:
    made = written(invitation)
    assert (made["status"], made["item"][0]["answer"]) == ("in-progress", [{"valueInteger": 4}])
    assert made["item"][1]["answer"][0]["valueCoding"]["code"] == "work.same"
    Invitation.objects.update(completed_at=NOW)
    assert written(invitation)["status"] == "completed"
    Invitation.objects.update(completed_at=None, landed_at=NOW)
    assert written(invitation)["status"] == "stopped"


def test_an_answer_by_somebody_else_has_not_the_patient_as_its_source(
    invitation: Invitation,
) -> None:
    assert written(invitation)["source"] == written(invitation)["subject"]
    given.keep(invitation=invitation, given={"who": "other"}, next_page="", wordings={}, now=NOW)
    made = written(invitation)
    assert "source" not in made
    assert answers.items_of(made)["who"]["code"] == "who.other"


def test_a_form_is_named_with_its_version() -> None:
    assert answers.form("dash", "2006") == "https://registry.example/Questionnaire/dash|2006"
