from datetime import date

import pytest

from followup.models import Review
from registry.exchange.fhir import standing
from registry.models import (
    Construct,
    ForeignNumber,
    Injury,
    Part,
    Patient,
    Person,
    Procedure,
)
from registry.rules.fhir.outcomes import Refused
from registry.services import fhir_intake, records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir_bodies import (
    BASE,
    CONDITION,
    DEVICE,
    HOSPITAL,
    PATIENT,
    PROCEDURE,
    Json,
    entry,
    number,
    ours,
    transaction,
)

pytestmark = pytest.mark.django_db
MODELS = (Patient, Injury, Procedure, Construct, Part, ForeignNumber)


@pytest.fixture(autouse=True)
def shipped(defaults: None) -> None:
    """Construct types and protocols as a service starts with."""


@pytest.fixture
def connie(coordinator: Person) -> Person:
    return coordinator


def taken(bundle: Json, by: Person) -> list[fhir_intake.Landed]:
    return fhir_intake.take_in(bundle, by=by, now=NOW, today=TODAY)


def refused(bundle: Json, by: Person) -> dict[str, str]:
    """Return the words of a refusal by their places; nothing may have been saved."""
    before = [model.objects.count() for model in MODELS]
    with pytest.raises(Refused) as fault:
        taken(bundle, by)
    assert [model.objects.count() for model in MODELS] == before
    return {one.expression: one.words for one in fault.value.issues}


def test_a_patient_with_injury_operation_and_part_lands_whole(connie: Person) -> None:
    landed = taken(transaction(), connie)
    assert [(one.entry.kind, one.created) for one in landed] == [
        ("Patient", True),
        ("Condition", True),
        ("Procedure", True),
        ("Device", True),
    ]
    part = Part.objects.get()
    operation = part.construct.procedure
    injury, patient = operation.injury, operation.injury.patient
    who = patient.identity
    assert (who.family_name, who.given_name, who.phone) == (
        "Ferncastle",
        "Mary Ann",
        "0555 010 9813",
    )
    assert (who.birth_earliest, who.birth_latest) == (date(1975, 8, 1), date(1975, 8, 31))
    assert (injury.side, injury.kind, injury.sex) == ("left", "lateral_clavicle", "female")
    assert injury.classifications.get().code == "IIB"
    assert (operation.kind, operation.performed_on) == ("fixation", date(2026, 3, 2))
    assert operation.construct.construct_type.code == "LP"
    assert (part.batch, part.serial, part.expires_on) == ("LOT42A", "SN0042", date(2027, 1, 31))
    assert part.implant_model.device_identifier == "09506000134352"
    assert Review.objects.filter(procedure=operation).exists()


def test_the_same_sent_twice_changes_nothing(connie: Person) -> None:
    first = taken(transaction(), connie)
    before = [list(model.objects.values()) for model in MODELS]
    again = taken(transaction(), connie)
    assert [list(model.objects.values()) for model in MODELS] == before
    assert [one.row.pk for one in again] == [one.row.pk for one in first]
    assert not [one for one in again if one.created or one.corrected]


def test_the_order_of_the_entries_is_of_no_matter(connie: Person) -> None:
    bundle = transaction(DEVICE, PROCEDURE, CONDITION, PATIENT)
    landed = taken(bundle, connie)
    assert [one.entry.kind for one in landed] == ["Device", "Procedure", "Condition", "Patient"]


def test_one_wrong_entry_keeps_all_others_out(connie: Person) -> None:
    told = refused(transaction(procedure={"performedDateTime": "2026-01-01"}), connie)
    assert "before the injury" in told["Bundle.entry[2].resource.performedDateTime"]
    # What stands on it is not told to be wrong as well.
    assert len(told) == 1


def test_all_that_is_wrong_is_told_at_once(connie: Person) -> None:
    told = refused(
        transaction(
            patient={"birthDate": "2030"},
            device={"lotNumber": "OTHER"},
            condition={"onsetDateTime": "2026-02-30"},
        ),
        connie,
    )
    assert set(told) == {
        "Bundle.entry[1].resource.onsetDateTime",
        "Bundle.entry[3].resource.lotNumber",
    }
    told = refused(transaction(patient={"birthDate": "2030"}), connie)
    assert "in the future" in told["Bundle.entry[0].resource.birthDate"]


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"patient": {"name": [{"family": "Only"}]}}, "entry[0].resource.name[0].given", "given"),
        ({"patient": {"birthDate": None}}, "entry[0].resource.birthDate", "birth date"),
        ({"patient": {"identifier": None}}, "entry[0].resource.identifier", "number"),
        ({"condition": {"bodySite": None}}, "entry[1].resource.bodySite[0].coding", "left, right"),
        (
            {"condition": {"code": {"coding": [{"system": "http://snomed.info/sct", "code": "1"}]}}},
            "entry[1].resource.code.coding",
            "injury-kind",
        ),
        (
            {"condition": {"code": ours("injury-kind", "hip")}},
            "entry[1].resource.code.coding[0].code",
            "'hip' is none of",
        ),
        ({"condition": {"onsetDateTime": None}}, "entry[1].resource.onsetDateTime", "date"),
        (
            {"condition": {"subject": {"reference": "Patient/NOBODY"}}},
            "entry[1].resource.subject",
            "leads to no Patient",
        ),
        (
            {"procedure": {"bodySite": [ours("side", "right")]}},
            "entry[2].resource.bodySite[0]",
            "left side",
        ),
        (
            {"procedure": {"usedCode": [ours("construct-type", "ZZ")]}},
            "entry[2].resource.usedCode[0]",
            "no construct type in use; there are",
        ),
        ({"procedure": {"status": "not-done"}}, "entry[2].resource.status", "completed"),
        ({"procedure": {"performedDateTime": "2026-03"}}, "entry[2].resource.performedDateTime", "lacks the day"),
        (
            {"procedure": {"performer": [{"actor": {"identifier": {"system": f"{BASE}/identifier/person", "value": "nobody"}}}]}},
            "entry[2].resource.performer[0].actor",
            "no surgeon of this site",
        ),
        ({"procedure": {"focalDevice": None}}, "entry[3].resource", "focalDevice"),
        ({"device": {"type": ours("part-kind", "pill")}}, "entry[3].resource.type.coding[0].code", "none of plate"),
        ({"device": {"deviceName": None}}, "entry[3].resource.deviceName", "generic words"),
    ],
)  # fmt: skip
def test_each_check_of_a_form_names_its_element(
    connie: Person, changes: dict[str, Json], place: str, words: str
) -> None:
    told = refused(transaction(**changes), connie)
    assert words in told[f"Bundle.{place}"]


def test_unusual_values_are_asked_about_once_and_kept_with_a_flag(connie: Person) -> None:
    late = {"procedure": {"performedDateTime": "2026-08-02"}}
    told = refused(transaction(**late), connie)
    assert "please check it" in told["Bundle.entry[2].resource.performedDateTime"]
    tag = {"meta": {"tag": [{"system": f"{BASE}/CodeSystem/intake", "code": "checked"}]}}
    taken(transaction(procedure={**late["procedure"], **tag}), connie)
    assert Procedure.objects.get().flags == ["days_from_injury"]


def test_an_expired_part_is_recorded_and_told(connie: Person) -> None:
    old = {"expirationDate": "2026-01-31", "udiCarrier": None}
    landed = taken(transaction(device=old), connie)
    (told,) = landed[3].entry.warnings
    assert "expire" in told.words.lower()
    assert told.expression == "Bundle.entry[3].resource"


def test_somebody_alike_is_told_and_may_be_said_to_be_another(connie: Person) -> None:
    other = builders.patient(
        by=connie,
        family_name="Ferncastle",
        given_name="Mary Ann",
        birth_earliest=date(1975, 8, 3),
        birth_latest=date(1975, 8, 3),
    )
    whole = {"birthDate": "1975-08-03"}
    told = refused(transaction(patient=whole), connie)
    assert other.key in told["Bundle.entry[0].resource"]
    said = {
        "url": f"{BASE}/StructureDefinition/different-from",
        "valueReference": {"reference": f"Patient/{other.key}"},
    }
    landed = taken(transaction(patient={**whole, "extension": [said]}), connie)
    assert landed[0].created


def test_a_later_transaction_stands_on_what_is_here(connie: Person) -> None:
    patient = taken(transaction(PATIENT), connie)[0].row
    for reference in (f"Patient/{patient.key}", f"Patient?identifier={HOSPITAL}|P-1"):
        code = reference[:12]
        row = {"subject": {"reference": reference}, "identifier": number(code)}
        injury = taken(transaction(CONDITION, condition=row), connie)[0].row
        assert injury.patient_id == patient.pk


def test_what_is_known_and_differs_is_left_as_it_is_and_told(connie: Person) -> None:
    taken(transaction(), connie)
    landed = taken(transaction(patient={"gender": "male"}), connie)
    assert "differs in sex" in landed[0].entry.warnings[0].words
    assert landed[0].row.identity.sex == "female"


def put(resource: Json, **request: str) -> Json:
    made = entry(resource, method="PUT", **request)
    return {"resourceType": "Bundle", "type": "transaction", "entry": [made]}


def test_a_correction_needs_the_version_that_was_seen(connie: Person) -> None:
    taken(transaction(), connie)
    corrected = {
        **CONDITION,
        "subject": {"reference": f"Patient?identifier={HOSPITAL}|P-1"},
        "onsetDateTime": "2026-02-25",
    }
    assert "as ifMatch" in refused(put(corrected), connie)["Bundle.entry[0].resource"]
    told = refused(put(corrected, ifMatch='W/"7"'), connie)
    assert "it is 1 now" in told["Bundle.entry[0].resource"]
    (landed,) = taken(put(corrected, ifMatch='W/"1"'), connie)
    assert landed.corrected
    assert Injury.objects.get().injured_earliest == date(2026, 2, 25)
    (again,) = taken(put(corrected, ifMatch='W/"1"'), connie)
    assert not again.corrected


AT_PATIENT = {"reference": f"Patient?identifier={HOSPITAL}|P-1"}
AT_INJURY = [{"reference": f"Condition?identifier={HOSPITAL}|C-1"}]
OTHER: Json = {
    "identifier": number("P-2"),
    "name": [{"family": "Other", "given": ["Else"]}],
    "birthDate": "1950",
}


def test_what_is_known_is_not_taken_for_another_patients(connie: Person) -> None:
    taken(transaction(), connie)
    other = {"patient": OTHER}
    told = refused(transaction(PATIENT, CONDITION, **other), connie)
    assert "Condition of another patient" in told["Bundle.entry[1].resource.subject"]
    told = refused(
        transaction(PATIENT, PROCEDURE, **other, procedure={"reasonReference": AT_INJURY}), connie
    )
    assert "Procedure of another patient" in told["Bundle.entry[1].resource.subject"]
    told = refused(transaction(PATIENT, DEVICE, **other), connie)
    assert "Device of another patient" in told["Bundle.entry[1].resource.patient"]


def test_what_is_known_is_not_taken_for_another_injurys_or_operations(connie: Person) -> None:
    taken(transaction(), connie)
    second = {"condition": {"identifier": number("C-2"), "onsetDateTime": "2026-02-26"}}
    told = refused(transaction(PATIENT, CONDITION, PROCEDURE, **second), connie)
    assert "of another injury" in told["Bundle.entry[2].resource.reasonReference[0]"]
    again = {**second, "procedure": {"identifier": number("O-2")}}
    told = refused(transaction(**again), connie)
    assert "a part of operation" in told["Bundle.entry[3].resource.identifier"]
    told = refused(transaction(PATIENT, CONDITION, PROCEDURE, procedure=RIGHT), connie)
    assert "left side" in told["Bundle.entry[2].resource.bodySite[0]"]


RIGHT: Json = {"bodySite": [ours("side", "right")]}
HOLES = {
    "url": f"{BASE}/StructureDefinition/construct-facts",
    "extension": [{"url": "plate_holes", "valueInteger": 6}],
}


@pytest.mark.parametrize(
    ("resource", "changes", "column"),
    [
        (
            CONDITION,
            {"stage": [{"summary": ours("neer", "IIA"), "type": ours("class-system", "neer")}]},
            "class.neer",
        ),
        (PROCEDURE, {"usedCode": [ours("construct-type", "HP")]}, "construct.construct_type"),
        (PROCEDURE, {"extension": [HOLES]}, "construct.plate_holes"),
    ],
)
def test_classes_and_constructs_that_differ_are_told_and_not_put(
    connie: Person, resource: Json, changes: Json, column: str
) -> None:
    taken(transaction(), connie)
    outside = {"subject": AT_PATIENT}
    if resource is PROCEDURE:
        outside |= {"reasonReference": AT_INJURY}
    changed = {**resource, **outside, **changes}
    (landed,) = taken(transaction(changed), connie)
    assert f"differs in {column};" in landed.entry.warnings[0].words
    told = refused(put(changed, ifMatch='W/"1"'), connie)
    assert f"{column}: This is not corrected by FHIR" in told["Bundle.entry[0].resource"]


def test_another_surgeon_is_told_and_put_over_the_version_that_was_seen(
    connie: Person, surgeon: Person
) -> None:
    taken(transaction(), connie)
    actor = {"identifier": {"system": f"{BASE}/identifier/person", "value": surgeon.username}}
    changed = {
        **PROCEDURE,
        "subject": AT_PATIENT,
        "reasonReference": AT_INJURY,
        "performer": [{"actor": actor}],
    }
    (landed,) = taken(transaction(changed), connie)
    assert "differs in surgeon" in landed.entry.warnings[0].words
    (landed,) = taken(put(changed, ifMatch='W/"1"'), connie)
    assert landed.corrected
    assert Procedure.objects.get().surgeon == surgeon


def test_what_was_voided_here_does_not_come_back(connie: Person) -> None:
    landed = taken(transaction(), connie)
    injury = landed[1].row
    records.void(injury, by=connie, now=NOW, expected_version=1, reason="twice")
    told = refused(transaction(), connie)
    assert "voided here" in told["Bundle.entry[1].resource.identifier"]


def test_a_death_is_recorded_after_the_operation_and_closes_the_reviews(connie: Person) -> None:
    taken(transaction(patient={"deceasedDateTime": "2026-10-03"}), connie)
    assert Patient.objects.get().status == "died"
    told = refused(
        transaction(patient={"deceasedDateTime": "2026-10-04", "deceasedBoolean": True}), connie
    )
    assert told


def test_a_known_patients_death_is_told_and_put_over_the_version_that_was_seen(
    connie: Person,
) -> None:
    taken(transaction(), connie)
    died = {**PATIENT, "deceasedDateTime": "2026-10-03"}
    (landed,) = taken(transaction(died), connie)
    assert "differs in died_on; it was left as it is" in landed.entry.warnings[0].words
    assert Patient.objects.get().status == "active"
    assert "as ifMatch" in refused(put(died), connie)["Bundle.entry[0].resource"]
    seen = standing.version_of("Patient", Patient.objects.get(), connie)
    (landed,) = taken(put(died, ifMatch=f'W/"{seen}"'), connie)
    assert landed.corrected
    (landed,) = taken(transaction({**died, "deceasedDateTime": "2026-10-04"}), connie)
    assert "differs in died_on" in landed.entry.warnings[0].words
    row = Patient.objects.get()
    assert (row.status, row.status_on) == ("died", date(2026, 10, 3))
    (again,) = taken(transaction(died), connie)
    assert (again.corrected, again.entry.warnings) == (False, [])


def test_an_operation_cannot_follow_the_death_that_comes_with_it(connie: Person) -> None:
    told = refused(transaction(patient={"deceasedDateTime": "2026-03-01"}), connie)
    assert "before an operation" in told["Bundle.entry[0].resource.deceasedDateTime"]


def test_who_enrols_at_two_sites_names_one(connie: Person) -> None:
    both = builders.person("both", north="coordinator", south="coordinator")
    assert "name this one" in refused(transaction(), both)["Bundle.entry"]
    at = {"identifier": {"system": f"{BASE}/identifier/site", "value": "south"}}
    taken(transaction(patient={"managingOrganization": at}), both)
    assert Procedure.objects.get().site.code == "south"
    told = refused(transaction(patient={"managingOrganization": at}), connie)
    assert "no site 'south'" in told["Bundle.entry[0].resource.managingOrganization"]


def test_a_patient_of_another_site_is_not_reached_by_reference(connie: Person) -> None:
    theirs = builders.injury(builders.patient(builders.site("south")))
    told = refused(
        transaction(
            CONDITION, condition={"subject": {"reference": f"Patient/{theirs.patient.key}"}}
        ),
        connie,
    )
    assert "leads to no Patient" in told["Bundle.entry[0].resource.subject"]
    told = refused(
        transaction(
            PROCEDURE, procedure={"reasonReference": [{"reference": f"Condition/{theirs.pk}"}]}
        ),
        connie,
    )
    assert "leads to no Condition" in told["Bundle.entry[0].resource.reasonReference[0]"]


def test_two_numbers_of_two_patients_are_a_conflict(connie: Person) -> None:
    taken(transaction(PATIENT), connie)
    taken(transaction(PATIENT, patient=OTHER), connie)
    both = {"identifier": [*number("P-1"), *number("P-2")]}
    told = refused(transaction(PATIENT, patient=both), connie)
    assert "2 patients" in told["Bundle.entry[0].resource.identifier"]


def test_a_removal_names_what_it_takes_out(connie: Person) -> None:
    taken(transaction(), connie)
    removal = {
        **PROCEDURE,
        "identifier": number("O-2"),
        "code": ours("procedure-kind", "implant_removal"),
        "performedPeriod": {
            "start": "2026-09-01T09:00:00+01:00",
            "end": "2026-09-01T09:40:00+01:00",
        },
        "partOf": [{"reference": f"Procedure?identifier={HOSPITAL}|O-1"}],
        "reasonReference": [{"reference": f"Condition?identifier={HOSPITAL}|C-1"}],
        "subject": {"reference": f"Patient?identifier={HOSPITAL}|P-1"},
    }
    for name in ("performedDateTime", "usedCode", "focalDevice"):
        removal.pop(name)
    (landed,) = taken(transaction(removal), connie)
    assert landed.row.revises.kind == "fixation"
    assert (landed.row.performed_on, landed.row.duration_minutes) == (date(2026, 9, 1), 40)


def test_a_revision_that_names_nothing_is_refused(connie: Person) -> None:
    code = {
        "code": ours("procedure-kind", "implant_removal"),
        "usedCode": None,
        "focalDevice": None,
    }
    told = refused(transaction(PATIENT, CONDITION, PROCEDURE, procedure=code), connie)
    assert "Name the earlier operation" in told["Bundle.entry[2].resource.partOf"]


def test_who_does_not_enrol_takes_nothing_in(quality_lead: Person) -> None:
    from registry.errors import NotAllowed  # noqa: PLC0415 - for this one test

    with pytest.raises(NotAllowed):
        taken(transaction(), quality_lead)


def test_the_trail_says_who_and_how(connie: Person) -> None:
    from registry.models import AuditEntry  # noqa: PLC0415 - for this one test

    taken(transaction(), connie)
    entries = AuditEntry.objects.filter(reason="FHIR transaction")
    assert {one.person_id for one in entries} == {connie.pk}
    assert {"registry_patient", "registry_injury", "registry_procedure", "registry_part"} <= {
        one.table for one in entries
    }


def test_a_refusal_is_a_conflict_where_it_is_nothing_else(connie: Person) -> None:
    taken(transaction(PATIENT), connie)
    with pytest.raises(Refused) as fault:
        taken(put({**PATIENT, "gender": "male"}), connie)
    assert fault.value.status == 409
    with pytest.raises(Refused) as fault:
        taken(transaction(patient={"birthDate": "x"}), connie)
    assert fault.value.status == 400
