from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import EndpointChoice
from followup.models import Review
from registry.models import Person, Procedure
from tests import builders
from tests.analytics.records import held, lost, operation
from tests.analytics.views.test_outcomes import text
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW)


def page(client: Client, procedure: Procedure) -> Any:
    return client.get(reverse("outcomes-case", args=[procedure.pk]))


def test_a_case_is_explained_drawn_and_judged_by_every_definition(
    client: Client, surgeon: Person
) -> None:
    client.force_login(surgeon)
    done = lost()
    answer = page(client, done)
    said = text(answer)
    assert "Did it hold?" in said
    assert "5.0 mm above the first film, more than the 3 mm of this definition" in said
    assert "2 mm could be measurement alone" in said
    assert "CC distance doubled against the other side" in said
    drawn = answer.content.decode()
    assert '<desc id="case-axis-detail">Lost: on the Zanca film' in drawn
    assert 'aria-describedby="case-axis-detail"' in drawn
    assert reverse("patient", args=[done.injury.patient.key]) in drawn
    assert done.injury.patient.identity.family_name not in drawn


def test_the_quality_lead_sees_the_case_by_its_key_without_a_way_to_the_patient(
    client: Client, quality_lead: Person
) -> None:
    client.force_login(quality_lead)
    done = held()
    answer = page(client, done)
    assert done.injury.patient.key in text(answer)
    assert reverse("patient", args=[done.injury.patient.key]) not in answer.content.decode()


def test_a_site_without_a_definition_is_told_that_no_verdict_stands(
    client: Client, surgeon: Person
) -> None:
    client.force_login(surgeon)
    done = held()
    EndpointChoice.objects.all().delete()
    said = text(page(client, done))
    assert "calls no definition its own" in said
    assert "CC distance more than 3 mm above the first film" in said


def test_a_later_operation_and_another_sites_case_are_not_there(
    client: Client, surgeon: Person
) -> None:
    client.force_login(surgeon)
    done, foreign = held(), held("south")
    later = builders.procedure(
        done.injury, None, kind="implant_removal", revises=done, performed_on=done.performed_on
    )
    assert page(client, later).status_code == 404
    assert page(client, foreign).status_code == 404
    assert page(client, operation()).status_code == 200


def test_the_way_to_it_is_shown_to_whoever_may_go_it(
    client: Client, surgeon: Person, coordinator: Person
) -> None:
    done = held()
    review = Review.objects.filter(procedure=done).latest("due_on")
    where = reverse("outcomes-case", args=[done.pk])
    for user, shown in ((surgeon, True), (coordinator, False)):
        client.force_login(user)
        for way in (
            reverse("patient", args=[done.injury.patient.key]),
            reverse("clinic-visit", args=[review.pk]),
        ):
            answer = client.get(way)
            assert answer.status_code == 200
            assert (where in answer.content.decode()) is shown


def test_every_case_behind_a_number_opens_its_verdict(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    done = held()
    answer = client.get(reverse("outcomes-cases"), {"which": "eligible"})
    assert reverse("outcomes-case", args=[done.pk]) in answer.content.decode()
