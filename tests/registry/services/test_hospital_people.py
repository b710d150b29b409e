"""What the hospital's system says of people: the newest word counts, whatever order it comes in."""

from datetime import date
from typing import Any

import pytest

from followup.models import Review
from registry.models import AuditEntry, HospitalMessage, HospitalRecord, Patient, PatientMerge
from registry.models.identities import Identifier, Identity
from registry.services import merges, patients
from tests import builders, hospital
from tests.builders import NOW, TODAY
from tests.hospital import taken

pytestmark = pytest.mark.django_db


def known(**values: Any) -> tuple[Patient, str]:
    patient = builders.patient(family_name="Testfamily", **values)
    return patient, hospital.number_of(patient)


def identity(patient: Patient) -> Identity:
    return Identity.objects.get(patient=patient)


def test_a_new_address_and_telephone_number_are_taken_over_and_named_in_the_trail() -> None:
    patient, number = known()
    message = taken(
        hospital.adt("A08", number, address="1 High Street^^Town^^AB1 2CD", phone="0555 7")
    )
    row = identity(patient)
    assert (row.address, row.phone) == ("1 High Street, Town, AB1 2CD", "0555 7")
    assert (message.fate, message.because) == ("taken", "Changed: address, phone")
    assert (message.answer, message.patient) == ("AA", patient)
    entry = AuditEntry.objects.filter(table="registry_identity", action="update").latest("id")
    assert entry.reason == "from the hospital's system"


def test_a_field_that_is_left_out_stays_and_one_that_is_emptied_goes() -> None:
    patient, number = known(phone="0555 1", address="Old Lane")
    taken(hospital.adt("A31", number, phone='""'))
    row = identity(patient)
    assert (row.phone, row.address) == ("", "Old Lane")


def test_a_message_that_says_what_is_known_changes_nothing() -> None:
    patient, number = known()
    before = identity(patient).version
    assert taken(hospital.adt("A04", number)).fate == "nothing"
    assert identity(patient).version == before


def test_an_older_message_after_a_newer_one_does_not_overwrite_it() -> None:
    patient, number = known()
    taken(hospital.adt("A08", number, at="20261120120000", phone="0555 2"))
    late = taken(hospital.adt("A08", number, at="20261120110000", phone="0555 1"))
    assert identity(patient).phone == "0555 2"
    assert late.fate == "overtaken"


def test_an_older_message_still_tells_what_no_newer_one_spoke_of() -> None:
    patient, number = known()
    taken(hospital.adt("A08", number, at="20261120120000", phone="0555 2"))
    taken(hospital.adt("A08", number, at="20261120110000", phone="0555 1", address="Old Lane"))
    assert (identity(patient).phone, identity(patient).address) == ("0555 2", "Old Lane")


def test_a_correction_made_here_stands_until_the_hospital_says_something_else() -> None:
    patient, number = known()
    taken(hospital.adt("A08", number, at="20261120110000", phone="0555 1"))
    row = identity(patient)
    patients.correct_identity(
        identity=row,
        values={"phone": "0555 9"},
        expected_version=row.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    taken(hospital.adt("A08", number, at="20261121110000", phone="0555 1"))
    assert identity(patient).phone == "0555 9"
    taken(hospital.adt("A08", number, at="20261122110000", phone="0555 3"))
    assert identity(patient).phone == "0555 3"


def test_a_birth_date_known_by_the_year_alone_does_not_replace_a_whole_one() -> None:
    patient, number = known()
    taken(hospital.adt("A08", number, born="1980"))
    assert identity(patient).birth_earliest == date(1980, 5, 17)


def test_a_further_number_of_a_known_authority_is_added() -> None:
    patient, number = known()
    message = taken(hospital.adt("A08", f"{number}~777"))
    assert message.because == "Changed: number"
    assert patient.identifiers.filter(value="777").exists()


def test_a_stranger_is_not_ours_and_nothing_of_the_message_is_kept() -> None:
    known()
    message = taken(hospital.adt("A04", "909090", family="Stranger", given="Bo", born="19710101"))
    assert (message.fate, message.text, message.patient) == ("not_ours", "", None)
    assert message.answer == "AA"
    assert "909090" not in str(HospitalMessage.objects.values().get())
    assert Patient.objects.count() == 1


def test_somebody_like_a_patient_with_an_unknown_number_waits() -> None:
    patient, _ = known()
    message = taken(hospital.adt("A08", "909090"))
    assert message.fate == "waiting"
    assert patient.key in message.because
    assert message.text


def test_a_number_under_which_somebody_else_is_named_waits() -> None:
    patient, number = known()
    message = taken(hospital.adt("A08", number, family="Other", given="Bo", born="19710101"))
    assert message.fate == "waiting"
    assert "somebody else's" in message.because
    assert identity(patient).family_name == "Testfamily"


def test_numbers_of_two_patients_in_one_message_wait() -> None:
    (_, one), (_, other) = known(), known(given_name="Bea", birth_earliest=date(1980, 5, 17))
    assert "belong to 2 patients" in taken(hospital.adt("A08", f"{one}~{other}")).because


def test_a_message_without_a_number_of_a_known_authority_cannot_be_used() -> None:
    _, number = known()
    content = hospital.adt("A08", number).replace(b"^^^HOSP", b"^^^ELSE")
    message = taken(content)
    assert (message.fate, message.answer) == ("refused", "AE")


@pytest.mark.usefixtures("defaults")
def test_a_death_closes_the_follow_up() -> None:
    patient, number = known()
    builders.procedure(builders.injury(patient))
    message = taken(hospital.adt("A08", number, died="202611200830", dead="Y"))
    patient.refresh_from_db()
    assert message.because == "Changed: death"
    assert (patient.status, patient.status_on) == ("died", date(2026, 11, 20))
    assert set(Review.objects.filter(due_on__gt=TODAY).values_list("ended_because", flat=True)) == {
        "death"
    }


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"dead": "Y"}, "not when"),
        ({"dead": "Y", "died": "20261201"}, "in the future"),
        ({"dead": "Y", "died": "19700101"}, "before the patient's birth"),
    ],
)
def test_a_death_that_cannot_be_waits_and_nothing_else_of_the_message_counts(
    said: dict[str, str], why: str
) -> None:
    patient, number = known()
    message = taken(hospital.adt("A08", number, phone="0555 5", **said))
    assert message.fate == "waiting"
    assert why in message.because
    patient.refresh_from_db()
    assert (patient.status, identity(patient).phone) == ("active", "")


def test_a_patient_who_died_and_is_said_to_live_waits() -> None:
    _, number = known()
    taken(hospital.adt("A08", number, at="20261121080000", died="20261120", dead="Y"))
    assert "lives" in taken(hospital.adt("A08", number, at="20261122080000", dead="N")).because
    older = taken(hospital.adt("A08", number, at="20261119080000", dead="N"))
    assert older.fate == "overtaken"


def test_a_discharge_tells_a_death_by_its_fields_and_by_nothing_else() -> None:
    patient, number = known()
    taken(
        hospital.adt(
            "A03", number, at="20261121080000", more="PV1|1|I|||||||||||||||||||||||||||||||||20"
        )
    )
    patient.refresh_from_db()
    assert patient.status == "active"
    taken(hospital.adt("A03", number, at="20261122080000", died="20261120", dead="Y"))
    patient.refresh_from_db()
    assert patient.status == "died"


def two() -> tuple[Patient, str, Patient, str]:
    """Return two entries of one person, with their numbers."""
    (one, first), (other, second) = known(), known()
    return one, first, other, second


def test_the_number_in_pid_survives_and_the_one_in_mrg_is_absorbed() -> None:
    kept, survives, lost, absorbed = two()
    message = taken(hospital.merge(survives, absorbed))
    lost.refresh_from_db()
    assert lost.merged_into == kept
    assert {row.value for row in kept.identifiers.all()} == {survives, absorbed}
    assert (message.fate, message.patient) == ("taken", kept)
    assert PatientMerge.objects.get().reason == "from the hospital's system"


@pytest.mark.parametrize("structure", ["ADT_A39", "ADT_A40", "ADT_A30", ""])
@pytest.mark.parametrize("event", ["A34", "A40", "A30"])
def test_a_merge_is_taken_whatever_structure_its_sender_names(event: str, structure: str) -> None:
    kept, survives, lost, absorbed = two()
    content = hospital.merge(survives, absorbed)
    taken(content.replace(b"ADT^A40^ADT_A39", f"ADT^{event}^{structure}".encode().rstrip(b"^")))
    lost.refresh_from_db()
    assert lost.merged_into == kept


def test_the_worked_example_of_a_merge() -> None:
    """An invented message in the form of HL7 v2.5.1, chapter 3.3.40 (A40, whose structure is ADT_A39)."""
    survivor, absorbed = known(), known()
    for (patient, _), value in zip((survivor, absorbed), ("222222", "111111"), strict=True):
        Identifier.objects.filter(patient=patient).update(value=value)
        Identity.objects.filter(patient=patient).update(
            family_name="Example", birth_earliest=date(1980, 2, 29), birth_latest=date(1980, 2, 29)
        )
    message = taken(
        b"MSH|^~\\&|PAS|HOSP|REGISTRY|HOSP|20261125090000||ADT^A40^ADT_A39|MSG0001|P|2.5.1\r"
        b"EVN||20261125090000\r"
        b"PID|1||222222^^^HOSP^MR||Example^Ada||19800229|F\r"
        b"MRG|111111^^^HOSP^MR\r"
    )
    assert message.fate == "taken"
    assert Patient.objects.get(merged_into__isnull=False) == absorbed[0]


def test_where_only_the_absorbed_number_is_ours_the_patient_gets_the_new_one() -> None:
    patient, number = known()
    taken(
        hospital.adt("A08", "8000", at="20261124080000", family="Else", given="Bo", born="19700101")
    )
    message = taken(hospital.merge("8000", number))
    assert {row.value for row in patient.identifiers.all()} == {number, "8000"}
    assert "have them sent again" in message.because
    assert taken(hospital.adt("A08", "8000", phone="0555 4", control_id="later")).patient == patient


def test_where_neither_number_is_ours_the_merge_is_not_either() -> None:
    assert taken(hospital.merge("1", "2")).fate == "not_ours"


def test_a_repeated_merge_changes_nothing() -> None:
    _, survives, _, absorbed = two()
    taken(hospital.merge(survives, absorbed))
    again = taken(hospital.merge(survives, absorbed, control_id="other"))
    assert again.fate in {"nothing", "overtaken"}
    assert PatientMerge.objects.count() == 1


def test_entries_in_different_states_wait_for_a_person() -> None:
    _, survives, lost, absorbed = two()
    patients.change_status(
        patient=lost,
        status="died",
        on=date(2026, 11, 10),
        note="",
        expected_version=lost.version,
        by=lost.recorded_by,
        now=NOW,
        today=TODAY,
    )
    message = taken(hospital.merge(survives, absorbed))
    assert message.fate == "waiting"
    assert "is 'died'" in message.because


def test_entries_that_look_like_two_people_wait_for_a_person() -> None:
    _, survives = known()
    _, absorbed = known(
        given_name="Bo", birth_earliest=date(1950, 1, 1), birth_latest=date(1950, 1, 1)
    )
    Identity.objects.filter(given_name="Bo").update(family_name="Quite Other")
    assert "other names or birth dates" in taken(hospital.merge(survives, absorbed)).because


def test_a_merge_that_was_undone_here_is_not_made_again_by_a_machine() -> None:
    _, survives, _, absorbed = two()
    taken(hospital.merge(survives, absorbed))
    merges.unmerge_patients(
        merge=PatientMerge.objects.get(), by=builders.person("recorder"), now=NOW
    )
    again = taken(hospital.merge(survives, absorbed, control_id="other"))
    assert "are two people" in again.because


def test_what_is_said_of_an_absorbed_number_is_overtaken_or_asked_about() -> None:
    kept, survives, _, absorbed = two()
    taken(hospital.merge(survives, absorbed, at="20261124080000"))
    early = taken(hospital.adt("A08", absorbed, at="20261123080000", phone="0555 8"))
    late = taken(hospital.adt("A08", absorbed, at="20261125070000", phone="0555 8"))
    assert (early.fate, late.fate) == ("overtaken", "waiting")
    assert identity(kept).phone == ""


def test_several_pairs_of_one_message_are_merged_together_or_not_at_all() -> None:
    (_, a, _, b), (_, c, lost, d) = two(), two()
    content = hospital.merge(a, b) + f"{hospital.pid(c)}\rMRG|{d}^^^HOSP\r".encode()
    assert taken(content).fate == "taken"
    lost.refresh_from_db()
    assert lost.merged_into is not None
    assert PatientMerge.objects.count() == 2


def test_what_was_last_said_holds_digests_and_no_names() -> None:
    _, number = known()
    taken(hospital.adt("A08", number, phone="0555 123"))
    said = str(HospitalRecord.objects.get().said)
    assert "phone" in said
    assert "0555" not in said
