"""Putting e-mails about alerts into their outbox: each alert once for each person it is for."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils import timezone

from analytics.models.alert_mails import (
    AlertMail,
    AlertMailChoice,
    AlertTold,
    MailChoice,
    MailKind,
)
from analytics.models.alerts import AlertLevel, AlertState, LossAlert
from analytics.selectors.alert_mails import choices_of, surgeons_in_office
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import jobs, records

# After the day's films are read, and before people go home. Common practice, no source.
DIGEST_AT = time(16)
REASON = "alerts to be told of"


def put_mails(*, now: datetime) -> int:
    """Put into the outbox what is to be told by now; return how many e-mails. Twice equals once."""
    put = 0
    for site in Site.objects.filter(is_active=True).order_by("pk"):
        put += _of_site(site, now)
        jobs.beat()
    return put


def _of_site(site: Site, now: datetime) -> int:
    alerts = list(LossAlert.objects.filter(site=site, state=AlertState.OPEN).order_by("id"))
    if not alerts:
        return 0
    local = timezone.localtime(now, ZoneInfo(site.time_zone))
    people = surgeons_in_office(site, local.date())
    choices = choices_of(people)
    told = set(AlertTold.objects.filter(alert__in=alerts).values_list("alert_id", "person_id"))
    untold: dict[int, list[LossAlert]] = defaultdict(list)
    for alert in alerts:
        for person_id in _for_whom(alert, people):
            if (alert.pk, person_id) not in told:
                untold[person_id].append(alert)
    return sum(
        _to_person(people[person_id], choices[person_id], site, found, local)
        for person_id, found in untold.items()
    )


def _for_whom(alert: LossAlert, people: Mapping[int, Person]) -> list[int]:
    """Return whom an alert is for: who operated, or everybody where they have left."""
    operated = alert.surgeon_id
    return [operated] if operated is not None and operated in people else list(people)


def _to_person(
    person: Person, choice: str, site: Site, alerts: Sequence[LossAlert], local: datetime
) -> int:
    if choice == MailChoice.NONE:
        return 0
    at_once = [one for one in alerts if choice == MailChoice.EACH and one.level == AlertLevel.LOST]
    put = sum(
        _put(person, site, MailKind.NOTICE, f"lost:{one.pk}:{person.pk}", [one], local)
        for one in at_once
    )
    rest = [one for one in alerts if one not in at_once]
    if rest and local.time() >= DIGEST_AT:
        key = f"digest:{person.pk}:{site.pk}:{local.date().isoformat()}"
        put += _put(person, site, MailKind.DIGEST, key, rest, local)
    return put


def _put(
    person: Person,
    site: Site,
    kind: MailKind,
    key: str,
    alerts: Sequence[LossAlert],
    now: datetime,
) -> int:
    if AlertMail.objects.filter(key=key).exists():
        return 0
    try:
        with records.change(by=None, reason=REASON), transaction.atomic():
            mail = AlertMail.objects.create(
                site=site, person=person, kind=kind, key=key, wanted_at=now
            )
            AlertTold.objects.bulk_create(
                [AlertTold(mail=mail, alert=one, person=person) for one in alerts]
            )
    except IntegrityError:
        # Another run told of one of them at this moment; what is left is told by the next.
        return 0
    return 1


def choose(*, person: Person, choice: str, expected_version: int) -> AlertMailChoice:
    """Save how often a person wants to be told by e-mail, over the version that they saw (0: none).

    Raises BadInput for a choice that there is not, StaleVersion.
    """
    if choice not in MailChoice.values:
        raise BadInput({"choice": "Choose how often."})
    what = "Your choice"
    with records.change(by=person, reason="how often to be told by e-mail"):
        if expected_version == 0:
            found, new = AlertMailChoice.objects.get_or_create(
                person=person, defaults={"choice": choice}
            )
            if not new:
                raise StaleVersion(what, expected=0, current=found.version)
            return found
        rows = AlertMailChoice.objects.filter(person=person, version=expected_version)
        if not rows.update(choice=choice, version=expected_version + 1):
            current = AlertMailChoice.objects.filter(person=person).values_list(
                "version", flat=True
            )
            raise StaleVersion(what, expected=expected_version, current=current.first() or 0)
    return AlertMailChoice.objects.get(person=person)
