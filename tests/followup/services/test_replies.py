"""What patients answer: taken once, an end to messages at once, all else to a person."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import Message, Reply, Task
from followup.models.messages import MessageState
from followup.services import replies as service
from registry.errors import BadInput, IllegalTransition
from registry.models import AuditEntry, Patient, Person
from registry.models.identities import Identity
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY
from tests.outbox import after, policy, reminder

pytestmark = pytest.mark.usefixtures("defaults")
NUMBER, ABROAD = "0555 010 200", "+44 555 010200"


def taken(text: str = "STOP", sender: str = ABROAD, key: str = "m-1", **values: Any) -> Reply:
    given: dict[str, Any] = {
        "site": builders.site(),
        "key": key,
        "means": "text",
        "sender": sender,
        "text": text,
        "received_at": NOW,
        "now": NOW,
        "today": TODAY,
        **values,
    }
    return service.take_reply(**given)


def refused(patient: Patient) -> list[str]:
    found: list[str] = Identity.objects.get(patient=patient).refused_means
    return found


@pytest.fixture
def of_britain(defaults: None) -> None:
    policy(country_code="44")


def texted(**identity: Any) -> Message:
    """Put a message into the outbox that would go as a text."""
    return reminder(**{"phone": NUMBER, "email": "", "preferred_means": "text", **identity})


@pytest.mark.usefixtures("of_britain")
def test_stop_blocks_the_message_that_waits() -> None:
    message = texted()
    reply = taken("Stop!")
    assert (reply.fate, reply.because) == ("stopped", "No more text messages to this patient")
    assert list(reply.patients.all()) == [message.patient]
    assert refused(message.patient) == ["text"]
    assert after(message).state == MessageState.STOPPED
    assert "refused" in message.stopped_because
    assert not Task.objects.exists()


@pytest.mark.usefixtures("of_britain")
def test_only_the_means_of_the_answer_ends() -> None:
    message = texted(email="ada@example.invalid")
    taken()
    assert (after(message).state, message.means) == ("sent", "email")


@pytest.mark.usefixtures("of_britain")
def test_the_trail_says_why_and_does_not_hold_the_text() -> None:
    patient = texted().patient
    taken("STOP")
    entry = AuditEntry.objects.filter(table="registry_identity").latest("pk")
    assert entry.reason == "an answer to a message"
    assert not AuditEntry.objects.filter(table="followup_reply").exists()
    assert Identity.objects.get(patient=patient).version == 2


@pytest.mark.usefixtures("of_britain")
def test_the_same_answer_is_taken_once() -> None:
    texted()
    first, second = taken("I am late"), taken("I am late")
    assert first == second
    assert (Reply.objects.count(), Task.objects.count()) == (1, 1)
    with pytest.raises(IllegalTransition, match="with another sender or text"):
        taken("STOP")
    assert taken("I am late", site=builders.site("south")) != first


@pytest.mark.usefixtures("of_britain")
def test_two_patients_with_one_number_are_both_left_alone_and_asked() -> None:
    mother, son = texted().patient, texted(phone="+44 (0)555 010 200").patient
    elsewhere = texted(site="south").patient
    reply = taken()
    assert refused(mother) == refused(son) == ["text"]
    assert refused(elsewhere) == []
    assert reply.because.startswith("2 patients have this number: no more text messages to any")
    tasks = Task.objects.order_by("patient")
    assert [task.patient for task in tasks] == [mother, son]
    assert "from a number that 2 patients have" in tasks[0].words
    assert tasks[0].due_on == TODAY


@pytest.mark.usefixtures("of_britain")
def test_an_answer_that_is_no_stop_is_a_task_of_its_patient_today() -> None:
    message = texted()
    reply = taken("My wound is wet, do I stop the exercises?")
    assert (reply.fate, refused(message.patient)) == ("task", [])
    task = Task.objects.get()
    assert (task.patient, task.kind, task.due_on) == (message.patient, "contact", TODAY)
    assert task.words == "Wrote back by text message; read it and answer"
    assert task.reply_id == reply.pk


@pytest.mark.usefixtures("of_britain")
def test_what_several_could_have_written_stands_in_nobodys_record() -> None:
    texted()
    texted()
    reply = taken("I moved house")
    assert (reply.fate, reply.because) == (
        "waiting",
        "2 patients have this number: ask whose it is",
    )
    assert (reply.patients.count(), Task.objects.count()) == (2, 0)


@pytest.mark.parametrize(
    ("text", "says"),
    [("STOP", "Wants no more text messages, but no patient"), ("hello", "No patient of the site")],
)
def test_what_belongs_to_nobody_waits_for_a_person(text: str, says: str) -> None:
    policy(country_code="44")
    texted()
    reply = taken(text, sender="+44 555 010 999")
    assert reply.fate == "waiting"
    assert reply.because.startswith(says)


def test_without_a_country_code_no_number_is_taken_for_another() -> None:
    patient = texted().patient
    assert taken().fate == "waiting"
    assert refused(patient) == []
    assert taken(sender="0555-010-200", key="m-2").fate == "stopped"


def test_a_site_has_its_own_words() -> None:
    policy(stop_words=["nein"])
    patient = texted().patient
    assert taken("STOP", sender=NUMBER).fate == "task"
    assert taken("Nein.", sender=NUMBER, key="m-2").fate == "stopped"
    assert refused(patient) == ["text"]


def test_an_email_ends_emails_by_its_first_line() -> None:
    patient = reminder(email="Ada@Example.invalid").patient
    mail = {"means": "email", "sender": "ada@example.invalid"}
    assert taken("Stopp\n\n> your visit is on Tuesday", **mail).fate == "stopped"
    assert refused(patient) == ["email"]


def test_who_moved_the_clock_ahead_is_taken_all_the_same() -> None:
    assert taken(received_at=NOW + timedelta(hours=1)).received_at == NOW


def test_a_very_long_answer_is_kept_as_far_as_it_goes() -> None:
    assert len(taken("x" * 9000).text) == service.LONGEST_TEXT


@pytest.mark.parametrize(
    ("values", "field"),
    [({"key": " "}, "key"), ({"sender": ""}, "from"), ({"means": "fax"}, "means")],
)
def test_what_cannot_be_kept_is_refused_by_its_field(values: dict[str, str], field: str) -> None:
    with pytest.raises(BadInput) as refusal:
        taken(**values)
    assert set(refusal.value.faults) == {field}
    assert not Reply.objects.exists()


def test_a_person_sees_to_what_waits_once(coordinator: Person) -> None:
    reply = taken()
    seen = {"reply": reply, "by": coordinator, "now": NOW}
    with pytest.raises(BadInput):
        service.see_to(note="  ", **seen)
    service.see_to(note="It was Ada", **seen)
    assert (reply.fate, reply.seen_by, reply.seen_note) == ("seen", coordinator, "It was Ada")
    with pytest.raises(IllegalTransition):
        service.see_to(note="again", **seen)


@pytest.mark.usefixtures("of_britain")
def test_number_and_text_go_with_an_erased_patient(administrator: Person) -> None:
    patient = texted().patient
    taken("It is me, Ada")
    given = {"by": administrator, "now": NOW, "today": TODAY}
    erasure.erase_patient(patient=patient, reason="asked by letter", **given)
    reply = Reply.objects.get()
    assert (reply.sender, reply.text, reply.fate) == ("", "", "task")
    assert taken("It is me, Ada") == reply
    assert not AuditEntry.objects.filter(after__icontains="It is me, Ada").exists()
