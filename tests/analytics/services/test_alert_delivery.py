import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.conf import settings
from django.core import mail as post
from django.db import connection
from django.urls import reverse

from analytics.models import AlertMail, LossAlert
from analytics.services import alert_delivery, alert_mails
from followup.exchange.parcels import Answer, Outcome
from followup.models import MessagePolicy
from followup.rules import retry
from registry.models import Person
from tests import builders
from tests.analytics.losses import alerted
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
WORKERS = 6
LEASE = timedelta(seconds=settings.DELIVERY_LEASE_SECONDS + 1)


@pytest.fixture
def told(surgeon: Person) -> LossAlert:
    """Return an alert whose e-mail waits."""
    Person.objects.filter(pk=surgeon.pk).update(email="selma@staff.invalid")
    alert = alerted(surgeon=surgeon)
    alert_mails.put_mails(now=NOW)
    return alert


def run(moment: object = NOW) -> dict[str, int]:
    return alert_delivery.deliver(now=moment, chance=lambda: 0.5)  # type: ignore[arg-type]


def state() -> tuple[str, str]:
    row = AlertMail.objects.get()
    return row.state, row.because


def test_it_goes_once_says_where_to_look_and_names_no_patient(told: LossAlert) -> None:
    assert run()["sent"] == 1
    assert run()["sent"] == 0
    (letter,) = post.outbox
    assert letter.to == ["selma@staff.invalid"]
    assert letter.subject == "Holdfast: A reduction may be lost"
    assert reverse("films-lost") in letter.body
    patient = told.procedure.injury.patient
    names = patient.identity
    number = patient.identifiers.get().value
    for word in (names.family_name, names.given_name, patient.key, number):
        assert word not in letter.body + letter.subject
    row = AlertMail.objects.get()
    assert (row.state, row.sent_at, row.tries) == ("sent", NOW, 1)


def test_what_is_planned_before_it_goes_is_not_sent(told: LossAlert) -> None:
    LossAlert.objects.update(state="planned", plan="observe", due_on=TODAY)
    assert run()["stopped"] == 1
    assert state() == ("stopped", alert_delivery.NOTHING_LEFT)
    assert post.outbox == []


def test_of_several_those_that_still_wait_are_counted(surgeon: Person) -> None:
    Person.objects.filter(pk=surgeon.pk).update(email="selma@staff.invalid")
    alert_mails.choose(person=surgeon, choice="digest", expected_version=0)
    planned = alerted(surgeon=surgeon)
    alerted(surgeon=surgeon)
    alerted("11.0", surgeon=surgeon)
    late = NOW.replace(hour=17)
    alert_mails.put_mails(now=late)
    LossAlert.objects.filter(pk=planned.pk).update(state="planned", plan="revise", due_on=TODAY)
    assert run(late)["sent"] == 1
    (letter,) = post.outbox
    assert letter.subject == "Holdfast: 2 reductions to look at"
    assert "- 1 lost by the definition of the site" in letter.body
    assert "- 1 within measurement error of being lost" in letter.body


def test_at_night_it_waits_for_the_end_of_the_quiet_hours(told: LossAlert) -> None:
    MessagePolicy.objects.create(site=told.site)
    night = NOW.replace(hour=22)
    assert run(night)["waiting"] == 1
    row = AlertMail.objects.get()
    assert (row.state, row.claim, row.tries) == ("waiting", None, 0)
    assert row.wanted_at == (NOW + timedelta(days=1)).replace(hour=8)
    assert run(row.wanted_at - timedelta(minutes=1))["sent"] == 0
    assert run(row.wanted_at)["sent"] == 1


@pytest.mark.parametrize(
    ("values", "because"),
    [
        ({"is_active": False}, "no active surgeon"),
        ({"email": ""}, "has no e-mail address"),
    ],
)
def test_who_cannot_be_told_is_not(
    values: dict[str, object], because: str, told: LossAlert
) -> None:
    assert told.surgeon is not None
    Person.objects.filter(pk=told.surgeon.pk).update(**values)
    assert run()["stopped"] == 1
    assert because in state()[1]


def test_who_wants_no_e_mail_any_more_gets_none(told: LossAlert) -> None:
    assert told.surgeon is not None
    alert_mails.choose(person=told.surgeon, choice="none", expected_version=0)
    assert run()["stopped"] == 1
    assert post.outbox == []


def test_a_worker_that_dies_before_handing_it_over_loses_nothing(told: LossAlert) -> None:
    alert_delivery.take_up(claim=uuid.uuid4(), now=NOW)
    assert run()["sent"] == 0
    assert run(NOW + LEASE)["sent"] == 1
    assert len(post.outbox) == 1


def test_one_that_dies_while_handing_it_over_sends_nothing_twice(told: LossAlert) -> None:
    (mail,) = alert_delivery.take_up(claim=uuid.uuid4(), now=NOW)
    begun = alert_delivery.begin(mail=mail, now=NOW)
    assert isinstance(begun, alert_delivery.Begun)
    for hours in (1, 24):
        run(NOW + timedelta(hours=hours))
    assert state() == ("unknown", alert_delivery.MAY_HAVE_GONE)
    assert post.outbox == []


def test_what_was_not_taken_is_tried_again_until_it_has_been_enough(told: LossAlert) -> None:
    moment = NOW
    for number in range(1, retry.MOST_TRIES + 1):
        (mail,) = alert_delivery.take_up(claim=uuid.uuid4(), now=moment)
        assert not isinstance(alert_delivery.begin(mail=mail, now=NOW), str)
        later = Answer(Outcome.RETRY, "the mail server is away")
        became = alert_delivery.settle(mail=mail, answer=later, now=moment, chance=1.0)
        assert became == ("failed" if number == retry.MOST_TRIES else "waiting")
        moment += timedelta(hours=7)
    assert run(moment)["sent"] == 0
    assert state() == ("failed", "the mail server is away")


@pytest.mark.parametrize(
    ("outcome", "became"), [(Outcome.REFUSED, "failed"), (Outcome.UNKNOWN, "unknown")]
)
def test_what_is_refused_or_not_known_is_not_sent_again(
    outcome: Outcome, became: str, told: LossAlert
) -> None:
    (mail,) = alert_delivery.take_up(claim=uuid.uuid4(), now=NOW)
    alert_delivery.begin(mail=mail, now=NOW)
    answer = Answer(outcome, "as the server said")
    assert alert_delivery.settle(mail=mail, answer=answer, now=NOW, chance=0) == became
    assert run(NOW + timedelta(days=2))["sent"] == 0


def test_whoever_lost_the_e_mail_to_another_writes_nothing(told: LossAlert) -> None:
    (mail,) = alert_delivery.take_up(claim=uuid.uuid4(), now=NOW)
    alert_delivery.free_stuck(now=NOW + LEASE)
    (other,) = alert_delivery.take_up(claim=uuid.uuid4(), now=NOW + LEASE)
    assert other.pk == mail.pk
    assert alert_delivery.begin(mail=mail, now=NOW + LEASE) == "waiting"
    accepted = Answer(Outcome.ACCEPTED)
    assert alert_delivery.settle(mail=mail, answer=accepted, now=NOW + LEASE, chance=0) == ""
    assert AlertMail.objects.get().state == "sending"


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_workers_at_the_same_moment_send_each_once() -> None:
    builders.load_defaults()
    who = builders.person("selma", north="surgeon")
    Person.objects.filter(pk=who.pk).update(email="selma@staff.invalid")
    for _ in range(4):
        alerted(surgeon=who)
    line = Barrier(WORKERS)

    def one(_: int) -> None:
        line.wait(timeout=300)
        try:
            alert_mails.put_mails(now=NOW)
            run()
        finally:
            connection.close()

    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(one, range(WORKERS)))
    alert_mails.put_mails(now=NOW)
    run()
    assert AlertMail.objects.count() == 4
    assert set(AlertMail.objects.values_list("state", flat=True)) == {"sent"}
    assert len(post.outbox) == 4
