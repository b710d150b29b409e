"""The patient's page: one line of what happened, what is ahead and what is missing."""

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Review
from followup.services import reviews, visits
from followup.services.visits import FilmFound, VisitFindings
from registry.models import AuditEntry, Patient, Person, Procedure
from registry.services import erasure, patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

DAY = date(2026, 7, 17)


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def operated(name: str = "Quill", **identity: Any) -> Procedure:
    whose = builders.patient(family_name=name, **identity)
    operation: Procedure = builders.procedure(of=builders.injury(of=whose))
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    return operation


def came(operation: Procedure, **found: Any) -> Review:
    review = operation.reviews.get(step__code="6w")
    return visits.save_visit(
        review=review,
        visited_on=DAY,
        findings=VisitFindings(**found),
        expected_version=review.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )


def page(client: Client, patient: Patient) -> str:
    answer = client.get(reverse("patient", args=[patient.key]))
    assert answer.status_code == 200
    return str(answer.content.decode())


def line(shown: str, title: str) -> str:
    """Return the one line of the course whose title begins so, with its class."""
    lines = re.findall(r"<li class=.*?</li>", shown, re.S)
    (found,) = [one for one in lines if f">{title}" in one]
    return str(found)


def test_the_page_says_who_it_is_and_how_to_reach_them(here: Client) -> None:
    patient = operated(phone="0555 010 2030", email="ada@example.invalid").injury.patient
    shown = page(here, patient)
    for words in ("Quill, Ada", "0555 010 2030", "ada@example.invalid", patient.key):
        assert words in shown
    assert "<dt>Other contact</dt><dd>not recorded" in shown


def test_the_course_shows_what_happened_and_what_is_ahead(here: Client) -> None:
    operation = operated()
    came(operation, films=[FilmFound({"taken_on": DAY, "view": "zanca"})])
    shown = page(here, operation.injury.patient)
    for title in ("Fracture of the lateral clavicle", "Fixation", "Zanca film"):
        assert 'class="past"' in line(shown, title)
    ahead = line(shown, "Review 6 months: planned")
    assert 'class="ahead"' in ahead
    assert '<span class="state open">ahead</span>' in ahead


def test_what_is_missing_is_as_visible_as_what_is_there(here: Client) -> None:
    operation = operated()
    came(operation, score_totals={"pain_nrs": 3.0})
    shown = page(here, operation.injury.patient)
    for title in ("Review 6 weeks: attended", "Review 3 months: lapsed"):
        gap = line(shown, title)
        assert 'class="gap"' in gap
        assert '<span class="state act">missing</span>' in gap
    lacks = "missing: Zanca film of both sides, motion, complications asked for, QuickDASH"
    assert lacks in line(shown, "Review 6 weeks: attended")
    assert "4 past reviews lack something" in shown
    assert (
        "<li>6 weeks: Zanca film of both sides, motion, complications asked for, QuickDASH</li>"
        in shown
    )


def test_nothing_is_called_missing_where_everything_is_there(here: Client) -> None:
    operation = operated()
    review = operation.reviews.get(step__code="6w")
    Review.objects.exclude(pk=review.pk).filter(state="lapsed").update(
        state="not_needed", ended_because="chosen", ended_reason="seen elsewhere"
    )
    came(
        operation,
        films=[FilmFound({"taken_on": DAY, "view": "zanca", "shows_both_sides": True})],
        motion=[{"side": "left", "mode": "active", "flexion_deg": 120}],
        score_totals={"pain_nrs": 3.0, "quickdash": 27.5},
        asked=["complication_screen"],
    )
    shown = page(here, operation.injury.patient)
    assert "complete" in line(shown, "Review 6 weeks: attended")
    assert 'class="gap"' not in shown
    assert "lack" not in shown


def test_each_line_leads_to_where_it_is_worked_on(here: Client) -> None:
    operation = operated()
    shown = page(here, operation.injury.patient)
    review = operation.reviews.get(step__code="6m")
    assert reverse("clinic-visit", args=[review.pk]) in line(shown, "Review 6 months")
    assert reverse("procedure-correct", args=[operation.pk]) in line(shown, "Fixation")


def test_a_patient_without_an_injury_is_told_what_will_stand_here(here: Client) -> None:
    patient = builders.patient()
    shown = page(here, patient)
    assert "No injury recorded yet" in shown
    assert reverse("enrol-injury", args=[patient.key]) in shown


def test_opening_the_page_is_written_down(here: Client, coordinator: Person) -> None:
    page(here, operated().injury.patient)
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.reason, entry.person_id) == ("read", "patient", coordinator.pk)


def test_another_sites_patient_is_not_there(client: Client, outsider: Person) -> None:
    operation = operated()
    client.force_login(outsider)
    for where in (
        reverse("patient", args=[operation.injury.patient.key]),
        reverse("enrol-plan", args=[operation.pk]),
    ):
        assert client.get(where).status_code == 404


def test_who_sees_no_patients_is_refused(client: Client, quality_lead: Person) -> None:
    operation = operated()
    client.force_login(quality_lead)
    for where in (
        reverse("patient", args=[operation.injury.patient.key]),
        reverse("enrol-plan", args=[operation.pk]),
    ):
        assert client.get(where).status_code == 403


def test_an_erased_patient_has_no_page(here: Client) -> None:
    patient = operated().injury.patient
    given = {"by": patient.recorded_by, "now": NOW, "today": TODAY}
    consent = ConsentGiven("registry", "given", TODAY, "asked on the ward")
    patients.add_consent(patient=patient, site=patient.site, given=consent, **given)
    erasure.erase_patient(patient=patient, reason="asked by letter", **given)
    assert here.get(reverse("patient", args=[patient.key])).status_code == 404


def test_the_page_takes_no_post(here: Client) -> None:
    assert here.post(reverse("patient", args=[builders.patient().key])).status_code == 405


def test_the_end_of_an_enrolment_shows_every_planned_review_and_its_version(here: Client) -> None:
    operation = operated()
    shown = here.get(reverse("enrol-plan", args=[operation.pk])).content.decode()
    assert "Planned by 'After fixation, version 1'." in shown
    for review in operation.reviews.all():
        assert f'<th scope="row">{review.step}</th>' in shown
        assert f"{review.proposed_on:%a} {review.proposed_on.day} {review.proposed_on:%b}" in shown


def test_an_operation_without_a_protocol_says_that_nothing_is_planned(here: Client) -> None:
    washout = builders.procedure(kind="washout")
    shown = here.get(reverse("enrol-plan", args=[washout.pk])).content.decode()
    assert "Nothing is planned" in shown


def test_the_queries_do_not_grow_with_the_course(here: Client, counted: Callable[[], Any]) -> None:
    operation = operated()
    patient = operation.injury.patient
    numbers = []
    for _ in range(2):
        came(operation, films=[FilmFound({"taken_on": DAY, "view": "zanca"}, {"union": "none"})])
        with counted() as queries:
            page(here, patient)
        numbers.append(len(queries))
        builders.procedure(builders.injury(patient, side="right"))
    assert numbers[0] == numbers[1]
