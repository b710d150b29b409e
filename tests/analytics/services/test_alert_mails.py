from datetime import UTC, datetime, timedelta

import pytest

from analytics.models import AlertMail, AlertMailChoice, AlertTold, LossAlert
from analytics.services import alert_mails
from registry.errors import BadInput, StaleVersion
from registry.models import Membership, Person
from tests import builders
from tests.analytics.losses import alerted
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
# Four in the afternoon by the clock of the site, in winter.
LATE = datetime(2026, 11, 25, 16, 5, tzinfo=UTC)
NEXT = LATE + timedelta(days=1)


def keys() -> list[str]:
    return list(AlertMail.objects.order_by("id").values_list("key", flat=True))


def test_one_that_is_lost_is_told_at_once_and_once(surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    assert alert_mails.put_mails(now=NOW) == 1
    assert keys() == [f"lost:{alert.pk}:{surgeon.pk}"]
    for moment in (NOW, LATE, NEXT):
        assert alert_mails.put_mails(now=moment) == 0
    assert AlertTold.objects.count() == 1


def test_what_is_near_waits_for_the_one_e_mail_of_the_day(surgeon: Person) -> None:
    alerted("11.0", surgeon=surgeon)
    alerted("11.5", surgeon=surgeon)
    assert alert_mails.put_mails(now=NOW) == 0
    assert alert_mails.put_mails(now=LATE) == 1
    mail = AlertMail.objects.get()
    assert (mail.kind, mail.told.count()) == ("digest", 2)
    alerted("11.2", surgeon=surgeon)
    assert alert_mails.put_mails(now=LATE + timedelta(hours=1)) == 0
    assert alert_mails.put_mails(now=NEXT) == 1
    assert AlertMail.objects.latest("id").told.count() == 1
    assert alert_mails.put_mails(now=NEXT + timedelta(days=1)) == 0


def test_what_is_planned_or_taken_back_by_then_is_not_in_it(surgeon: Person) -> None:
    planned, wrong = alerted("11.0", surgeon=surgeon), alerted("11.0", surgeon=surgeon)
    LossAlert.objects.filter(pk=planned.pk).update(state="planned", plan="observe", due_on=TODAY)
    LossAlert.objects.filter(pk=wrong.pk).update(
        state="taken_back", closed_at=NOW, closed_because="read again"
    )
    assert alert_mails.put_mails(now=LATE) == 0


@pytest.mark.parametrize(("choice", "early", "late"), [("digest", 0, 1), ("none", 0, 0)])
def test_a_persons_choice_holds(choice: str, early: int, late: int, surgeon: Person) -> None:
    alert_mails.choose(person=surgeon, choice=choice, expected_version=0)
    alerted(surgeon=surgeon)
    assert alert_mails.put_mails(now=NOW) == early
    assert alert_mails.put_mails(now=LATE) == late


def test_where_who_operated_has_left_every_surgeon_of_the_site_is_told_once(
    surgeon: Person,
) -> None:
    colleague = builders.person("sven", north="surgeon")
    builders.person("connie", north="coordinator")
    leaver = builders.person("lars", north="surgeon")
    alert = alerted(surgeon=leaver)
    Membership.objects.filter(person=leaver).update(ends_on=TODAY - timedelta(days=1))
    everybody = Membership.objects.filter(role="surgeon", site=alert.site, ends_on=None)
    assert alert_mails.put_mails(now=NOW) == everybody.count()
    assert {surgeon.pk, colleague.pk} <= set(AlertTold.objects.values_list("person_id", flat=True))
    assert not AlertTold.objects.filter(person=leaver).exists()
    assert alert_mails.put_mails(now=LATE) == 0


def test_an_alert_that_another_run_told_of_meanwhile_is_not_told_again(surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    other = AlertMail.objects.create(
        site=alert.site, person=surgeon, kind="digest", key="another", wanted_at=NOW
    )
    AlertTold.objects.create(mail=other, alert=alert, person=surgeon)
    put = alert_mails._put(surgeon, alert.site, "notice", "lost:1:1", [alert], NOW)  # type: ignore[arg-type]
    assert put == 0
    assert keys() == ["another"]


def test_a_choice_is_saved_over_the_version_that_was_seen(surgeon: Person) -> None:
    assert alert_mails.choose(person=surgeon, choice="none", expected_version=0).version == 1
    found = alert_mails.choose(person=surgeon, choice="each", expected_version=1)
    assert (found.choice, found.version) == ("each", 2)
    for version in (0, 1):
        with pytest.raises(StaleVersion):
            alert_mails.choose(person=surgeon, choice="none", expected_version=version)
    with pytest.raises(BadInput, match="Choose how often"):
        alert_mails.choose(person=surgeon, choice="often", expected_version=2)
    assert AlertMailChoice.objects.get().choice == "each"
