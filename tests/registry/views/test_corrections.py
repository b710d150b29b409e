"""Correcting and voiding what was recorded."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import (
    AuditEntry,
    Classification,
    Construct,
    Injury,
    Patient,
    Person,
    Procedure,
)
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def injury(**changes: Any) -> dict[str, Any]:
    return {
        "version": "1",
        "kind": "lateral_clavicle",
        "side": "right",
        "injury_date": "2026-06-01",
        "reason": "wrong side typed",
        **changes,
    }


def operation(**changes: Any) -> dict[str, Any]:
    return {"version": "1", "performed_on": "2026-06-08", "reason": "read the note", **changes}


def construct(**changes: Any) -> dict[str, Any]:
    kind = builders.construct_type("LP")
    return {"version": "1", "construct_type": kind.pk, "reason": "read the note", **changes}


def test_the_patients_page_leads_to_every_correction(here: Client) -> None:
    row = builders.procedure()
    page = here.get(reverse("patient", args=[row.injury.patient.key])).content.decode()
    assert reverse("injury-correct", args=[row.injury_id]) in page
    assert reverse("procedure-correct", args=[row.pk]) in page
    assert reverse("patient-history", args=[row.injury.patient.key]) in page
    operation_page = here.get(reverse("procedure-correct", args=[row.pk])).content.decode()
    leads = here.get(reverse("enrol-construct", args=[row.pk]))
    assert reverse("enrol-construct", args=[row.pk]) in operation_page
    assert leads.url == reverse("construct-correct", args=[row.pk])


def test_opening_what_is_to_be_corrected_is_written_down(here: Client) -> None:
    row = builders.procedure()
    for name in ("procedure-correct", "construct-correct"):
        here.get(reverse(name, args=[row.pk]))
        entry = AuditEntry.objects.latest("id")
        assert (entry.action, entry.reason) == ("read", name)


def test_a_side_is_corrected_with_the_reason(here: Client) -> None:
    hurt = builders.injury()
    answer = here.post(reverse("injury-correct", args=[hurt.pk]), injury())
    assert answer.url == reverse("patient", args=[hurt.patient.key])
    assert Injury.objects.get().side == "right"


def test_a_correction_without_a_reason_is_refused(here: Client) -> None:
    hurt = builders.injury()
    here.post(reverse("injury-correct", args=[hurt.pk]), injury(reason=""))
    assert Injury.objects.get().side == "left"


def test_an_injury_changed_meanwhile_is_shown_beside_mine(here: Client) -> None:
    hurt = builders.injury()
    where = reverse("injury-correct", args=[hurt.pk])
    here.post(where, injury(energy="high", bmi_kg_m2="24.5"))
    answer = here.post(where, injury(energy="low", injury_date="2026-06"))
    page = answer.content.decode()
    assert answer.status_code == 409
    for words in ("<td>High</td><td>Low</td>", "<td>2026-06-01</td><td>2026-06</td>", "24.5"):
        assert words in page
    assert Injury.objects.get().energy == "high"


def test_a_new_opinion_on_the_class_supersedes(here: Client) -> None:
    hurt = builders.injury(classes={"neer": "IIB"})
    where = reverse("injury-classify", args=[hurt.pk])
    refused = here.post(where, {"system": "neer", "code": "15.3A"})
    assert "Neer has no class 15.3A" in refused.content.decode()
    here.post(where, {"system": "neer", "code": "V"})
    assert Classification.objects.get(superseded=False).code == "V"


@pytest.mark.usefixtures("defaults")
def test_a_corrected_operation_date_moves_the_open_reviews(here: Client) -> None:
    row = builders.procedure(performed_on=date(2026, 6, 5))
    here.post(reverse("procedure-correct", args=[row.pk]), operation())
    assert Procedure.objects.get().performed_on == date(2026, 6, 8)
    assert row.reviews.get(step__code="6w").due_on == date(2026, 7, 20)


def test_an_operation_before_the_injury_is_refused_by_its_field(here: Client) -> None:
    row = builders.procedure()
    where = reverse("procedure-correct", args=[row.pk])
    page = here.post(where, operation(performed_on="2026-05-01")).content.decode()
    assert "is before the injury" in page


def test_an_operation_changed_meanwhile_is_shown_beside_mine(here: Client) -> None:
    row = builders.procedure()
    where = reverse("procedure-correct", args=[row.pk])
    here.post(where, operation(performed_on="2026-06-09"))
    answer = here.post(where, operation(performed_on="2026-06-10"))
    assert answer.status_code == 409
    assert "2026-06-09" in answer.content.decode()
    assert Procedure.objects.get().performed_on == date(2026, 6, 9)


def test_a_corrected_construct_keeps_missing_kinds_and_departures(here: Client) -> None:
    row = builders.procedure()
    sent = construct(
        lateral_screw_count="4", lateral_screws_locking="yes", plate_holes_why="unknown"
    )
    sent["reason-lateral-screws"] = "small fragment"
    here.post(reverse("construct-correct", args=[row.pk]), sent)
    fresh = Construct.objects.get()
    assert fresh.missing == {"plate_holes": "unknown"}
    assert fresh.departures.get().reason == "small fragment"


def test_the_reasons_that_were_given_stay_in_the_form(here: Client) -> None:
    row = builders.procedure()
    where = reverse("construct-correct", args=[row.pk])
    sent = construct(lateral_screw_count="4", lateral_screws_locking="yes")
    here.post(where, {**sent, "reason-lateral-screws": "small fragment"})
    page = here.get(where).content.decode()
    assert 'value="small fragment"' in page


def test_a_construct_changed_meanwhile_is_shown_beside_mine(here: Client) -> None:
    row = builders.procedure()
    where = reverse("construct-correct", args=[row.pk])
    here.post(where, construct(plate_holes="5"))
    answer = here.post(where, construct(plate_holes="7"))
    assert answer.status_code == 409
    assert "<td>5</td><td>7</td>" in answer.content.decode()
    assert Construct.objects.get().plate_holes == 5


def test_a_part_is_added_later(here: Client) -> None:
    row = builders.procedure()
    where = reverse("part-add", args=[row.pk])
    assert "Say what kind of part" in here.post(where, {"kind": ""}).content.decode()
    here.post(where, {"kind": "plate", "description": "lateral plate", "batch": "B-9"})
    assert row.construct.parts.get().batch == "B-9"


def test_a_typed_identifier_with_a_wrong_check_digit_is_refused_by_its_field(
    here: Client,
) -> None:
    row = builders.procedure()
    sent = {"kind": "plate", "description": "plate", "device_identifier": "09506000134353"}
    shown = here.post(reverse("part-add", args=[row.pk]), sent).content.decode()
    assert "its check digit is 2" in shown
    assert not row.construct.parts.exists()


def test_what_is_told_of_a_typed_part_is_told_at_once(here: Client) -> None:
    row = builders.procedure()
    sent = {"kind": "graft", "description": "graft", "batch": "B", "expires_on": "2026-06-01"}
    answer = here.post(reverse("part-add", args=[row.pk]), sent, follow=True)
    assert "Expired on 2026-06-01, 4 days before the operation" in answer.content.decode()


def test_a_wrong_row_is_voided_with_its_reason(here: Client) -> None:
    hurt = builders.injury()
    where = reverse("void", args=["injury", hurt.pk])
    here.post(where, {"version": "1", "reason": ""})
    assert Injury.objects.exists()
    answer = here.post(where, {"version": "1", "reason": "entered twice"})
    assert answer.url == reverse("patient", args=[hurt.patient.key])
    assert not Injury.objects.exists()


def test_voiding_a_patient_leads_back_to_the_search(here: Client) -> None:
    patient = builders.patient()
    where = reverse("void", args=["patient", patient.pk])
    answer = here.post(where, {"version": "1", "reason": "entered twice"})
    assert answer.url == reverse("patients")
    assert not Patient.objects.exists()


def test_what_still_carries_something_is_not_voided(here: Client) -> None:
    row = builders.procedure()
    where = reverse("void", args=["injury", row.injury_id])
    page = here.post(where, {"version": "1", "reason": "wrong"}).content.decode()
    assert "still stands on this" in page
    stale = reverse("void", args=["procedure", row.pk])
    assert (
        "changed by somebody else"
        in here.post(stale, {"version": "9", "reason": "wrong"}).content.decode()
    )


def test_a_kind_that_cannot_be_voided_is_not_there(here: Client) -> None:
    assert here.get(reverse("void", args=["site", builders.site().pk])).status_code == 404


def test_another_sites_rows_are_not_there(client: Client, outsider: Person) -> None:
    row = builders.procedure()
    client.force_login(outsider)
    for where in (
        reverse("injury-correct", args=[row.injury_id]),
        reverse("injury-classify", args=[row.injury_id]),
        reverse("procedure-correct", args=[row.pk]),
        reverse("construct-correct", args=[row.pk]),
        reverse("part-add", args=[row.pk]),
        reverse("void", args=["procedure", row.pk]),
    ):
        assert client.get(where).status_code == 404
