"""Each message of the hospital's system kept once, with what became of it."""

from datetime import timedelta
from typing import Any

import pytest

from registry.errors import BadInput, IllegalTransition
from registry.models import AuditEntry, HospitalMessage, HospitalRecord, Patient, Person
from registry.models.identities import Identity
from registry.services import erasure, hospital_messages, hospital_people
from tests import builders, hospital
from tests.builders import NOW, TODAY
from tests.hospital import taken

pytestmark = pytest.mark.django_db


def known() -> tuple[Patient, str]:
    patient = builders.patient(family_name="Testfamily")
    return patient, hospital.number_of(patient)


def somebody() -> Person:
    return builders.person("connie", north="coordinator")


def test_the_same_message_twice_is_one_row_and_one_effect() -> None:
    patient, number = known()
    content = hospital.adt("A08", number, phone="0555 1")
    first = taken(content)
    before = Identity.objects.get(patient=patient).version
    again = taken(content + b"\r\n")
    assert (first.pk, again.fate, again.answer) == (again.pk, "taken", "AA")
    assert Identity.objects.get(patient=patient).version == before
    assert HospitalMessage.objects.get().times == 2


def test_a_message_is_kept_with_what_it_is_and_when_it_was_said() -> None:
    _, number = known()
    row = taken(hospital.adt("A08", number, control_id="M5"))
    assert (row.event, row.control_id, row.way) == ("A08", "M5", "line")
    assert row.said_at is not None
    assert row.said_at.isoformat() == "2026-11-25T08:00:00+00:00"


def test_no_text_of_a_message_is_in_the_trail() -> None:
    _, number = known()
    taken(hospital.adt("A08", number))
    assert not AuditEntry.objects.filter(table="registry_hospitalmessage").exists()


@pytest.mark.parametrize(
    ("content", "answer"),
    [
        (b"nonsense", "AE"),
        (b"", "AE"),
        (hospital.adt("A60", "7"), "AR"),
        (hospital.adt("A08", "7", head={"facility": "ELSE"}), "AR"),
        (hospital.adt("A08", "7", family="M\x00").replace(b"|P|", b"|T|"), "AE"),
        (b"x" * (hospital_messages.LONGEST + 1), "AE"),
    ],
)
def test_what_cannot_be_used_is_kept_and_answered_so(content: bytes, answer: str) -> None:
    hospital.door(facility="HOSP")
    row = taken(content)
    assert (row.fate, row.answer) == ("refused", answer)
    assert row.because
    assert HospitalMessage.objects.count() == 1


def test_what_cannot_be_used_is_known_by_what_its_header_says() -> None:
    row = taken(hospital.adt("A60", "7", control_id="M9"))
    assert (row.fate, row.event, row.control_id) == ("refused", "A60", "M9")


def test_a_message_in_another_character_set_is_read_and_kept() -> None:
    patient, number = known()
    content = hospital.adt("A08", number, address="Müllergasse 1", head={"charset": "8859/1"})
    taken(content.decode().encode("latin-1"))
    assert Identity.objects.get(patient=patient).address == "Müllergasse 1"


def test_a_site_whose_door_is_shut_takes_nothing() -> None:
    with pytest.raises(BadInput, match="open the door"):
        hospital_messages.take(site=builders.site(), content=b"x", way="line", now=NOW)
    hospital.door(is_open=False)
    with pytest.raises(BadInput, match="open the door"):
        taken(b"x")
    assert HospitalMessage.objects.count() == 0


def test_a_fault_of_ours_undoes_what_was_done_and_keeps_the_message(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    patient, number = known()

    def broken(**_: Any) -> None:
        Patient.objects.filter(pk=patient.pk).update(status_note="half")
        raise ZeroDivisionError("Secretname")

    monkeypatch.setattr(hospital_people, "apply_person", broken)
    row = taken(hospital.adt("A08", number))
    assert (row.fate, row.answer) == ("refused", "AE")
    assert "ZeroDivisionError" in row.because
    assert "Secretname" not in row.because
    patient.refresh_from_db()
    assert patient.status_note == ""


def test_a_person_chooses_whom_a_message_is_about_and_its_number_becomes_theirs() -> None:
    patient, _ = known()
    row = taken(hospital.adt("A08", "909090", phone="0555 3"))
    done = hospital_messages.take_again(message=row, patient=patient, by=somebody(), now=NOW)
    assert (done.fate, done.patient, done.settled_by) == ("taken", patient, somebody())
    assert patient.identifiers.filter(value="909090").exists()
    assert Identity.objects.get(patient=patient).phone == "0555 3"
    assert taken(hospital.adt("A08", "909090", control_id="next")).patient == patient


def test_a_message_whose_number_is_somebody_elses_is_not_taken_for_whom_was_chosen() -> None:
    patient, number = known()
    other = builders.patient()
    row = taken(hospital.adt("A08", number, family="Other", given="Bo", born="19710101"))
    done = hospital_messages.take_again(message=row, patient=other, by=somebody(), now=NOW)
    assert done.fate == "waiting"
    assert patient.key in done.because


def test_a_message_is_taken_again_when_what_stood_in_its_way_is_gone() -> None:
    _, number = known()
    row = taken(hospital.adt("A08", number).replace(b"^^^HOSP", b"^^^ELSE"))
    door = hospital.door()
    door.number_systems["ELSE"] = "hospital number"
    door.save()
    done = hospital_messages.take_again(message=row, patient=None, by=somebody(), now=NOW)
    assert done.fate == "nothing"


def test_a_settled_message_is_not_settled_again() -> None:
    _, number = known()
    row = taken(hospital.adt("A08", number))
    with pytest.raises(IllegalTransition, match="changed nothing"):
        hospital_messages.take_again(message=row, patient=None, by=somebody(), now=NOW)
    with pytest.raises(IllegalTransition, match="changed nothing"):
        hospital_messages.set_aside(message=row, note="x", by=somebody(), now=NOW)


def test_a_message_is_set_aside_with_a_reason() -> None:
    known()
    row = taken(hospital.adt("A08", "909090"))
    with pytest.raises(BadInput, match="Say why"):
        hospital_messages.set_aside(message=row, note=" ", by=somebody(), now=NOW)
    done = hospital_messages.set_aside(message=row, note="a namesake", by=somebody(), now=NOW)
    assert (done.fate, done.settled_note) == ("set_aside", "a namesake")


def test_settled_texts_go_after_the_days_of_the_site_and_waiting_ones_stay() -> None:
    _, number = known()
    settled, waits = taken(hospital.adt("A08", number)), taken(hospital.adt("A08", "909090"))
    for days, left in ((89, 2), (91, 1)):
        hospital_messages.forget_old(now=NOW + timedelta(days=days))
        assert HospitalMessage.objects.exclude(text="").count() == left
    settled.refresh_from_db()
    waits.refresh_from_db()
    assert (settled.text, settled.fate, waits.fate) == ("", "nothing", "waiting")
    assert taken(hospital.adt("A08", number)).pk == settled.pk


def test_the_days_of_a_text_begin_when_it_was_settled() -> None:
    known()
    rows = [taken(hospital.adt("A08", one)) for one in ("909090", "909091")]
    later = NOW + timedelta(days=100)
    hospital_messages.set_aside(message=rows[0], note="a namesake", by=somebody(), now=later)
    hospital_messages.tell_fate(message_id=rows[1].pk, fate="taken", because="found", now=later)
    for days, left in ((89, 2), (91, 0)):
        hospital_messages.forget_old(now=later + timedelta(days=days))
        assert HospitalMessage.objects.exclude(text="").count() == left


def test_what_could_not_be_used_is_kept_until_somebody_settles_it() -> None:
    refused = taken(hospital.adt("A60", "7"))
    later = NOW + timedelta(days=400)
    assert hospital_messages.forget_old(now=later).texts_forgotten == 0
    hospital_messages.set_aside(message=refused, note="not for us", by=somebody(), now=later)
    assert hospital_messages.forget_old(now=later).texts_forgotten == 0
    assert hospital_messages.forget_old(now=later + timedelta(days=91)).texts_forgotten == 1


def test_what_waits_again_is_not_settled_any_more() -> None:
    known()
    row = taken(hospital.adt("A08", "909090"))
    for fate, settled in (("taken", NOW), ("waiting", None)):
        hospital_messages.tell_fate(message_id=row.pk, fate=fate, because="x", now=NOW)
        row.refresh_from_db()
        assert row.settled_at == settled


def test_notes_about_nobody_of_ours_go_after_a_week() -> None:
    taken(hospital.adt("A08", "909090", family="Stranger"))
    assert hospital_messages.forget_old(now=NOW + timedelta(days=6)).notes_deleted == 0
    assert hospital_messages.forget_old(now=NOW + timedelta(days=8)).notes_deleted == 1


def test_an_erasure_takes_every_message_along_that_names_the_patient() -> None:
    patient, number = known()
    taken(hospital.adt("A08", number, phone="0555 1"))
    by_name = taken(hospital.adt("A08", "909090"))
    assert by_name.fate == "waiting"
    other = builders.patient(family_name="Otherfamily")
    stays = taken(hospital.adt("A08", hospital.number_of(other), family="Otherfamily"))
    erasure.erase_patient(
        patient=patient, reason="asked", by=patient.recorded_by, now=NOW, today=TODAY
    )
    assert list(HospitalMessage.objects.exclude(text="")) == [stays]
    by_name.refresh_from_db()
    assert (by_name.fate, by_name.because) == ("set_aside", "erased on request")
    assert not HospitalRecord.objects.filter(patient=patient).exists()


def test_what_became_of_a_message_later_is_noted_unless_a_person_set_it_aside() -> None:
    known()
    row = taken(hospital.adt("A08", "909090"))
    hospital_messages.tell_fate(message_id=row.pk, fate="taken", because="found", now=NOW)
    row.refresh_from_db()
    assert (row.fate, row.because) == ("taken", "found")
    HospitalMessage.objects.update(fate="set_aside", settled_note="x")
    hospital_messages.tell_fate(message_id=row.pk, fate="taken", because="found", now=NOW)
    row.refresh_from_db()
    assert row.fate == "set_aside"


def test_a_message_about_nobody_of_ours_counts_when_it_is_sent_again_once_they_are_ours() -> None:
    content = hospital.adt("A08", "909090", family="Stranger", phone="0555 9")
    first = taken(content)
    assert (first.fate, taken(content).fate) == ("not_ours", "not_ours")
    patient = builders.patient(family_name="Stranger")
    patient.identifiers.filter(issuing_system="hospital number").update(value="909090")
    again = taken(content, now=NOW + timedelta(days=1))
    assert (again.pk, again.fate, again.patient) == (first.pk, "taken", patient)
    assert Identity.objects.get(patient=patient).phone == "0555 9"
    row = HospitalMessage.objects.get()
    assert (row.times, row.received_at) == (3, NOW + timedelta(days=1))
    assert row.text
    assert taken(content).fate == "taken"
    assert HospitalMessage.objects.get().times == 4
