"""A patient, the injury, the operation and its construct."""

from datetime import date
from typing import Any

import pytest

from registry import notices
from registry.errors import BadInput
from registry.models import (
    Classification,
    Construct,
    Identity,
    Injury,
    Patient,
    PatientSite,
    Procedure,
)
from registry.services import enrolment, patients
from registry.services.implants import PartGiven
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def enrol(**changes: Any) -> Patient:
    given: dict[str, Any] = {
        "site": builders.site(),
        "identity": {
            "family_name": "Invented",
            "given_name": "Iris",
            "birth_earliest": date(1984, 1, 1),
            "birth_latest": date(1984, 12, 31),
        },
        "identifiers": [],
        "by": builders.person("recorder", north="coordinator+surgeon"),
        "now": NOW,
        "today": TODAY,
    }
    return enrolment.enrol_patient(**{**given, **changes})


def test_a_patient_is_known_at_the_site_that_enrols() -> None:
    patient = enrol()
    assert patient.at_sites.get().site == builders.site()
    assert patient.identity.sort_name == "invented iris"
    assert len(patient.key) == 8


def test_consents_keep_their_date_and_basis() -> None:
    given = enrolment.ConsentGiven("registry", "opted_out", date(2026, 6, 2), "letter")
    patient = enrol(consents=[given])
    kept = patient.consents.get()
    assert (kept.decision, kept.decided_on, kept.basis) == (
        "opted_out",
        date(2026, 6, 2),
        "letter",
    )


def test_a_birth_in_the_future_is_refused() -> None:
    born = {"birth_earliest": date(2027, 1, 1), "birth_latest": date(2027, 1, 1)}
    identity = {"family_name": "Invented", "given_name": "Iris", **born}
    with pytest.raises(BadInput, match="in the future"):
        enrol(identity=identity)


def test_a_number_that_is_taken_at_the_site_is_refused_and_nothing_is_saved() -> None:
    number = enrolment.IdentifierGiven("hospital number", "N-1")
    enrol(identifiers=[number])
    with pytest.raises(BadInput, match="already belongs to a patient here"):
        enrol(identifiers=[number])
    assert Patient.objects.count() == 1


def test_the_same_number_may_be_issued_at_another_site() -> None:
    number = enrolment.IdentifierGiven("hospital number", "N-1")
    enrol(identifiers=[number])
    enrol(identifiers=[number], site=builders.site("south"))
    assert Patient.objects.count() == 2


def test_a_faulty_address_is_refused_and_leaves_no_patient() -> None:
    identity = {
        "family_name": "Invented",
        "given_name": "Iris",
        "birth_earliest": date(1984, 1, 1),
        "birth_latest": date(1984, 1, 1),
        "email": "not an address",
    }
    with pytest.raises(BadInput) as refusal:
        enrol(identity=identity)
    assert "email" in refusal.value.faults
    assert not Patient.everything.exists()
    assert not Identity.objects.exists()


def test_age_and_sex_at_injury_are_taken_from_the_identity() -> None:
    hurt = builders.injury(injured_earliest=date(2026, 5, 16), injured_latest=date(2026, 5, 16))
    assert (hurt.age_years, hurt.sex) == (45, "female")


def test_an_injury_at_another_site_makes_the_patient_known_there() -> None:
    patient = builders.patient()
    builders.injury(patient, site=builders.site("south"))
    assert set(PatientSite.objects.values_list("site__code", flat=True)) == {"north", "south"}


@pytest.mark.parametrize(
    ("day", "words"),
    [(date(2026, 11, 26), "in the future"), (date(1979, 1, 1), "before the patient's birth")],
)
def test_an_impossible_injury_date_is_refused(day: date, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        builders.injury(injured_earliest=day, injured_latest=day)
    assert not Injury.everything.exists()


def test_a_new_opinion_supersedes_the_earlier_one_of_its_system() -> None:
    hurt = builders.injury(classes={"neer": "IIB", "rockwood": "V"})
    by = hurt.recorded_by
    enrolment.classify(injury=hurt, system="neer", code="V", opinion_of=by, by=by, now=NOW)
    typed = Classification.objects.get(system="rockwood")
    given = Classification.objects.get(system="neer", superseded=False)
    assert (typed.classified_by, typed.classified_on) == (None, None)
    assert (given.classified_by, given.classified_on) == (by, TODAY)
    now = dict(Classification.objects.filter(superseded=False).values_list("system", "code"))
    assert now == {"neer": "V", "rockwood": "V"}
    assert Classification.objects.filter(system="neer").count() == 2


def test_a_code_of_another_system_is_refused() -> None:
    hurt = builders.injury(classes={})
    with pytest.raises(BadInput):
        enrolment.classify(
            injury=hurt,
            system="ao_ota",
            code="IIB",
            opinion_of=None,
            by=hurt.recorded_by,
            now=NOW,
        )


def test_recording_an_operation_is_announced_once_with_it() -> None:
    heard: list[Procedure] = []

    def hear(sender: object, procedure: Procedure, **kwargs: Any) -> None:
        heard.append(procedure)

    notices.procedure_recorded.connect(hear)
    try:
        operation = builders.procedure()
    finally:
        notices.procedure_recorded.disconnect(hear)
    assert heard == [operation]


def test_a_hearer_that_fails_undoes_the_operation() -> None:
    def fail(sender: object, **kwargs: Any) -> None:
        raise BadInput("no")

    hurt = builders.injury()
    notices.procedure_recorded.connect(fail)
    try:
        with pytest.raises(BadInput):
            builders.procedure(hurt)
    finally:
        notices.procedure_recorded.disconnect(fail)
    assert not Procedure.everything.exists()
    assert not Construct.everything.exists()


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"performed_on": date(2026, 11, 26)}, "in the future"),
        ({"performed_on": date(2026, 5, 31)}, "before the injury"),
        ({"kind": "revision_fixation"}, "Name the earlier operation"),
        ({"kind": "implant_removal"}, "Name the earlier operation"),
    ],
)
def test_an_impossible_operation_is_refused(values: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        builders.procedure(**values)


def test_an_operation_after_the_death_is_refused_and_one_on_its_day_is_not() -> None:
    hurt = builders.injury()
    patients.change_status(
        patient=hurt.patient,
        status="died",
        on=date(2026, 6, 5),
        note="",
        expected_version=1,
        by=hurt.recorded_by,
        now=NOW,
        today=TODAY,
    )
    with pytest.raises(BadInput, match="is after the death \\(2026-06-05\\)"):
        builders.procedure(hurt, performed_on=date(2026, 6, 6))
    assert builders.procedure(hurt, performed_on=date(2026, 6, 5)).pk


def test_a_second_fixation_of_an_injury_is_refused() -> None:
    first = builders.procedure()
    with pytest.raises(BadInput, match="already has its fixation"):
        builders.procedure(first.injury)


def test_a_revision_before_what_it_revises_is_refused() -> None:
    first = builders.procedure()
    with pytest.raises(BadInput, match="before the operation that it revises"):
        builders.procedure(
            first.injury,
            kind="revision_fixation",
            revises=first,
            performed_on=date(2026, 6, 3),
        )


def test_an_operation_on_another_injury_cannot_be_revised() -> None:
    first, other = builders.procedure(), builders.injury()
    with pytest.raises(BadInput, match="belongs to another injury"):
        builders.procedure(other, kind="implant_removal", revises=first)


def test_completing_an_operation_saves_construct_departures_and_parts_together() -> None:
    operation = bare_operation()
    construct = enrolment.complete_procedure(
        procedure=operation,
        values={
            "construct_type": builders.construct_type("LP"),
            "lateral_screw_count": 4,
            "lateral_screws_locking": "yes",
        },
        departure_reasons={"lateral-screws": "small fragment"},
        parts=[PartGiven("screw", "2.3 mm locking screw", quantity=4)],
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert construct.departures.get().reason == "small fragment"
    assert construct.parts.get().quantity == 4


def test_an_operation_is_completed_once() -> None:
    operation = builders.procedure()
    with pytest.raises(BadInput, match="has its construct already"):
        enrolment.complete_procedure(
            procedure=operation,
            values={"construct_type": builders.construct_type("LP")},
            departure_reasons={},
            parts=[],
            by=operation.recorded_by,
            now=NOW,
            today=TODAY,
        )


def test_a_part_that_is_refused_leaves_no_construct() -> None:
    operation = bare_operation()
    with pytest.raises(BadInput):
        enrolment.complete_procedure(
            procedure=operation,
            values={"construct_type": builders.construct_type("LP")},
            departure_reasons={},
            parts=[PartGiven("screw", "screw", quantity=0)],
            by=operation.recorded_by,
            now=NOW,
            today=TODAY,
        )
    assert not Construct.everything.exists()


def bare_operation() -> Procedure:
    """Return an operation of which the construct is not recorded yet."""
    hurt = builders.injury()
    return enrolment.record_procedure(
        injury=hurt,
        values={"kind": "fixation", "performed_on": date(2026, 6, 5)},
        by=hurt.recorded_by,
        now=NOW,
        today=TODAY,
    )
