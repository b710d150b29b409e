"""Enrolling a patient in the browser, step by step."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from followup.services import protocols
from registry.models import Construct, Identity, Injury, Patient, Person, Procedure, TwoPeople
from registry.services import enrolment
from tests import builders

pytestmark = pytest.mark.usefixtures("defaults")

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
WHO = {
    "family_name": "Invented",
    "given_name": "Iris",
    "birth_date": "1984-03-12",
    "sex": "female",
    "preferred_means": "phone",
    "language": "en",
    "number_1_system": "hospital number",
    "number_1_value": "N-77",
}
INJURY = {
    "kind": "lateral_clavicle",
    "side": "left",
    "injury_date": "2026-06",
    "mechanism": "bicycle",
    "energy": "high",
    "skin": "closed",
    "dominant_arm": "right",
    "other_shoulder": "uninjured",
    "smoking": "never",
    "diabetes": "no",
    "bmi_kg_m2": "",
    "bmi_kg_m2_why": "not_done",
    "steroid_use": "no",
    "osteoporosis": "no",
    "work_demand": "low",
    "sport_demand": "none",
    "neer": "IIB",
}
OPERATION = {
    "kind": "fixation",
    "performed_on": "2026-07-03",
    "operator_grade": "consultant",
    "assistant_grade": "trainee",
    "position": "beach_chair",
    "approach": "transverse",
    "provisional_fixation": "yes",
    "reduction_quality": "anatomical",
    "intraoperative_film": "yes",
    "duration_minutes": "75",
}
CODED = {
    "lateral_screws_locking": "unknown",
    "first_two_screws": "unknown",
    "guide_wire_clear": "unknown",
    "shorter_screw_chosen": "unknown",
    "knot": "unknown",
    "graft": "unknown",
}
NO_PARTS = {"part-TOTAL_FORMS": "0", "part-INITIAL_FORMS": "0"}


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def who(**changes: Any) -> dict[str, Any]:
    return {**WHO, "site": builders.site().pk, **changes}


def injury(**changes: Any) -> dict[str, Any]:
    return {**INJURY, "site": builders.site().pk, **changes}


def construct(code: str, **changes: Any) -> dict[str, Any]:
    kind = builders.construct_type(code)
    return {**CODED, **NO_PARTS, "construct_type": kind.pk, **changes}


def test_a_patient_is_enrolled_from_name_to_planned_reviews(here: Client) -> None:
    first = here.post(reverse("enrol"), who())
    patient = Patient.objects.get()
    assert first.url == reverse("enrol-injury", args=[patient.key])
    second = here.post(first.url, injury())
    hurt = Injury.objects.get()
    assert second.url == reverse("enrol-procedure", args=[hurt.pk])
    third = here.post(second.url, OPERATION)
    operation = Procedure.objects.get()
    assert third.url == reverse("enrol-construct", args=[operation.pk])
    last = here.post(third.url, construct("HP"))
    assert last.url == reverse("enrol-plan", args=[operation.pk])
    shown = here.get(last.url)
    assert shown.status_code == 200
    assert operation.reviews.count() == 7
    assert Construct.objects.get().procedure == operation


def test_the_reviews_follow_the_protocol_of_the_construct_once_it_is_known(here: Client) -> None:
    shipped = json.loads((FIXTURES / "protocols.json").read_text())[0]
    builders.construct_type("HP")
    protocols.load_protocols([{**shipped, "construct_type": "HP"}], now=builders.NOW)
    operation = bare_operation()
    assert operation.reviews.first().step.version.protocol.construct_type is None
    here.post(reverse("enrol-construct", args=[operation.pk]), construct("HP"))
    pinned = {review.step.version.protocol.construct_type for review in operation.reviews.all()}
    assert {kind.code for kind in pinned} == {"HP"}
    assert operation.reviews.count() == 7


def test_a_partial_date_is_kept_as_its_bounds_and_the_missing_with_its_kind(here: Client) -> None:
    patient = builders.patient()
    here.post(reverse("enrol-injury", args=[patient.key]), injury())
    hurt = Injury.objects.get()
    assert (str(hurt.injured_earliest), str(hurt.injured_latest)) == ("2026-06-01", "2026-06-30")
    assert hurt.bmi_kg_m2 is None
    assert hurt.missing == {"bmi_kg_m2": "not_done"}


def test_a_value_that_is_also_marked_missing_is_refused(here: Client) -> None:
    patient = builders.patient()
    answer = here.post(reverse("enrol-injury", args=[patient.key]), injury(bmi_kg_m2="24"))
    assert "has a value and is marked not done" in answer.content.decode()
    assert not Injury.objects.exists()


def test_an_error_stands_by_its_field_and_nothing_typed_is_lost(here: Client) -> None:
    answer = here.post(reverse("enrol"), who(birth_date="12/03/84"))
    page = answer.content.decode()
    assert "can be read in two ways" in page
    assert 'value="Invented"' in page
    assert 'value="12/03/84"' in page
    assert not Patient.objects.exists()


def test_an_unlikely_value_is_asked_about_once_and_kept_with_a_flag(here: Client) -> None:
    patient = builders.patient()
    where = reverse("enrol-injury", args=[patient.key])
    unlikely = injury(bmi_kg_m2="58", bmi_kg_m2_why="")
    asked = here.post(where, unlikely)
    assert "is unusual" in asked.content.decode()
    assert not Injury.objects.exists()
    here.post(where, {**unlikely, "checked": "on"})
    assert Injury.objects.get().flags == ["bmi_kg_m2"]


def test_an_impossible_value_is_refused_even_when_checked(here: Client) -> None:
    patient = builders.patient()
    where = reverse("enrol-injury", args=[patient.key])
    answer = here.post(where, injury(bmi_kg_m2="99", bmi_kg_m2_why="", checked="on"))
    assert "is not possible" in answer.content.decode()
    assert not Injury.objects.exists()


def test_what_was_injured_is_chosen_and_never_presumed(here: Client) -> None:
    where = reverse("enrol-injury", args=[builders.patient().key])
    kind = here.get(where).content.decode().split('name="kind"')[1].split("</select>")[0]
    assert '<option value="" selected>choose</option>' in kind
    here.post(where, {**injury(), "kind": ""})
    assert not Injury.objects.exists()


def test_an_operation_before_the_injury_is_refused_by_its_field(here: Client) -> None:
    hurt = builders.injury()
    where = reverse("enrol-procedure", args=[hurt.pk])
    answer = here.post(where, {**OPERATION, "performed_on": "2026-05-01"})
    assert "is before the injury" in answer.content.decode()
    assert not Procedure.objects.exists()


def test_a_late_first_operation_is_asked_about_where_its_date_stands(here: Client) -> None:
    hurt = builders.injury()
    where = reverse("enrol-procedure", args=[hurt.pk])
    late = {**OPERATION, "performed_on": "2026-10-01"}
    asked = here.post(where, late)
    assert "122 days is unusual" in asked.content.decode()
    here.post(where, {**late, "checked": "on"})
    assert Procedure.objects.get().flags == ["days_from_injury"]


def test_a_possible_duplicate_is_shown_before_anything_is_saved(here: Client) -> None:
    there = builders.patient(family_name="Invented", given_name="Iris", sex="female")
    answer = here.post(reverse("enrol"), who(birth_date="1980-05-17"))
    page = answer.content.decode()
    assert "Is this patient here already?" in page
    assert reverse("enrol-injury", args=[there.key]) in page
    assert Patient.objects.count() == 1


def test_somebody_else_is_saved_and_the_two_are_not_offered_again(here: Client) -> None:
    there = builders.patient(family_name="Invented", given_name="Iris", sex="female")
    sent = who(birth_date="1980-05-17", somebody_else="yes", shown=[there.key])
    here.post(reverse("enrol"), sent)
    assert Patient.objects.count() == 2
    assert TwoPeople.objects.get().first == there


def test_only_those_who_were_shown_are_taken_as_somebody_else(here: Client) -> None:
    builders.patient(family_name="Invented", given_name="Iris", sex="female")
    sent = who(birth_date="1980-05-17", somebody_else="yes", shown=["OTHERKEY"])
    answer = here.post(reverse("enrol"), sent)
    assert "Is this patient here already?" in answer.content.decode()
    assert Patient.objects.count() == 1


def test_patients_of_other_sites_are_never_named_as_duplicates(here: Client) -> None:
    builders.patient(at=builders.site("south"), family_name="Invented", given_name="Iris")
    here.post(reverse("enrol"), who(birth_date="1980-05-17"))
    assert Identity.objects.filter(family_name="Invented").count() == 2


def test_a_number_that_is_somebodys_already_offers_that_patient(here: Client) -> None:
    there = builders.patient()
    number = there.identifiers.get().value
    answer = here.post(reverse("enrol"), who(number_1_value=number))
    assert "the same number" in answer.content.decode()
    again = here.post(
        reverse("enrol"), who(number_1_value=number, somebody_else="yes", shown=[there.key])
    )
    assert "already belongs to a patient here" in again.content.decode()
    assert Patient.objects.count() == 1


def test_what_was_left_halfway_is_offered_for_going_on(here: Client) -> None:
    patient = builders.patient()
    hurt = builders.injury()
    page = here.get(reverse("enrol")).content.decode()
    assert reverse("enrol-injury", args=[patient.key]) in page
    assert reverse("enrol-procedure", args=[hurt.pk]) in page


def test_the_checks_answer_while_typing(here: Client) -> None:
    operation = bare_operation()
    where = reverse("construct-checks", args=[operation.pk])
    sent = construct("LP", lateral_screw_count="4", lateral_screws_locking="yes")
    page = here.post(where, sent, headers={"HX-Request": "true"}).content.decode()
    assert "departs" in page
    assert "4 lateral screws" in page
    assert 'name="reason-lateral-screws"' in page
    assert not Construct.objects.exists()


def test_a_departure_is_asked_for_its_reason_once_and_never_blocks(here: Client) -> None:
    operation = bare_operation()
    where = reverse("enrol-construct", args=[operation.pk])
    sent = construct("LP", lateral_screw_count="4", lateral_screws_locking="yes")
    asked = here.post(where, sent)
    assert "why does it depart?" in asked.content.decode()
    assert not Construct.objects.exists()
    here.post(where, {**sent, "reasons_asked": "yes"})
    departure = Construct.objects.get().departures.get(check_id="lateral-screws")
    assert (departure.check_version, departure.found, departure.reason) == (
        1,
        "4 lateral screws",
        "",
    )


def test_a_reason_given_beside_the_check_is_kept(here: Client) -> None:
    operation = bare_operation()
    sent = construct("LP", lateral_screw_count="4", lateral_screws_locking="yes")
    sent["reason-lateral-screws"] = "small fragment"
    here.post(reverse("enrol-construct", args=[operation.pk]), sent)
    assert Construct.objects.get().departures.get().reason == "small fragment"


def test_parts_are_saved_with_the_construct(here: Client) -> None:
    operation = bare_operation()
    parts = {
        "part-TOTAL_FORMS": "2",
        "part-INITIAL_FORMS": "0",
        "part-0-kind": "screw",
        "part-0-description": "2.3 mm locking screw",
        "part-0-quantity": "6",
        "part-0-batch": "B-1",
    }
    here.post(reverse("enrol-construct", args=[operation.pk]), {**construct("HP"), **parts})
    part = Construct.objects.get().parts.get()
    assert (part.quantity, part.batch, str(part.implant_model)) == (
        6,
        "B-1",
        "2.3 mm locking screw",
    )


def test_a_faulty_part_keeps_the_construct_from_being_saved_alone(here: Client) -> None:
    operation = bare_operation()
    parts = {"part-TOTAL_FORMS": "1", "part-INITIAL_FORMS": "0", "part-0-batch": "B-1"}
    answer = here.post(
        reverse("enrol-construct", args=[operation.pk]), {**construct("HP"), **parts}
    )
    assert "Say what kind of part this is." in answer.content.decode()
    assert not Construct.objects.exists()


def test_scanned_parts_are_saved_with_the_construct_or_keep_it_from_being_saved(
    here: Client,
) -> None:
    operation = bare_operation()
    where = reverse("enrol-construct", args=[operation.pk])
    scanned = {"line-0-text": "(10)B7", "line-0-quantity": "1"}
    refused = here.post(where, {**construct("HP"), **scanned}).content.decode()
    assert "names no article" in refused
    assert not Construct.objects.exists()
    scanned["line-0-text"] = "(01)09506000134352\n(10)B7"
    assert here.post(where, {**construct("HP"), **scanned}).status_code == 302
    part = Construct.objects.get().parts.get()
    assert (part.batch, part.implant_model.device_identifier) == ("B7", "09506000134352")


def test_counts_that_the_parts_do_not_bear_out_are_shown_while_typing(here: Client) -> None:
    operation = bare_operation()
    anchor = {"line-0-text": "(01)09506000134352(10)B7", "line-0-quantity": "1"}
    sent = {**construct("LP+A", anchor_count="2"), **anchor, "line-0-kind": "anchor"}
    shown = here.post(reverse("construct-checks", args=[operation.pk]), sent).content.decode()
    assert "2 anchors typed, 1 among the parts" in shown
    sent["line-0-quantity"] = "2"
    shown = here.post(reverse("construct-checks", args=[operation.pk]), sent).content.decode()
    assert "among the parts" not in shown


def test_a_removal_names_what_it_removes(here: Client) -> None:
    first = builders.procedure()
    where = reverse("enrol-procedure", args=[first.injury_id])
    removal = {**OPERATION, "kind": "implant_removal", "performed_on": "2026-09-25"}
    refused = here.post(where, removal)
    assert "Name the earlier operation" in refused.content.decode()
    answer = here.post(where, {**removal, "revises": first.pk, "planned_removal": "on"})
    saved = Procedure.objects.get(kind="implant_removal")
    assert answer.url == reverse("enrol-plan", args=[saved.pk])
    assert saved.planned_removal
    assert saved.revises == first


def test_a_washout_revises_nothing_though_the_fixation_is_offered(here: Client) -> None:
    first = builders.procedure()
    washout = {**OPERATION, "kind": "washout", "performed_on": "2026-06-20", "revises": first.pk}
    here.post(reverse("enrol-procedure", args=[first.injury_id]), washout)
    assert Procedure.objects.get(kind="washout").revises is None


def test_a_second_fixation_of_one_injury_is_not_offered(here: Client) -> None:
    first = builders.procedure()
    where = reverse("enrol-procedure", args=[first.injury_id])
    here.post(where, {**OPERATION, "performed_on": "2026-08-01"})
    assert Procedure.objects.count() == 1


def test_another_sites_patient_looks_like_nobody(here: Client) -> None:
    foreign = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    for where in (
        reverse("enrol-injury", args=[foreign.injury.patient.key]),
        reverse("enrol-procedure", args=[foreign.injury_id]),
        reverse("enrol-construct", args=[foreign.pk]),
    ):
        assert here.get(where).status_code == 404


def test_somebody_who_may_not_enrol_is_told_so(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    assert client.get(reverse("enrol")).status_code == 403


def bare_operation() -> Procedure:
    """Return an operation of which the construct is not recorded yet."""
    hurt = builders.injury()
    return enrolment.record_procedure(
        injury=hurt,
        values={"kind": "fixation", "performed_on": date(2026, 6, 5)},
        by=hurt.recorded_by,
        now=builders.NOW,
        today=builders.TODAY,
    )
