"""Calendar addresses: made, renewed and revoked; what a site lets them show."""

import secrets
from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import IntegrityError
from django.db.models import F, Max

from followup.models.calendars import Clinic
from followup.models.feeds import CalendarFeed, CalendarPolicy
from followup.models.reviews import Appointment
from followup.selectors import feeds
from registry.errors import BadInput
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup

TOKEN_BYTES = 32
SHOWN = 6
# A program polls all day; that it does is written down once an hour.
NOTED_EVERY = timedelta(hours=1)


def issue(*, site: Site, clinic: Clinic | None, by: Person, now: datetime) -> str:
    """Make a person's address of a calendar, or renew it: the earlier one works no more.

    Returns its token whole, for the only time: it is kept hashed. Raises BadInput for another site's
    clinic, and when the same person makes one at the same moment.
    """
    if clinic is not None and clinic.site_id != site.pk:
        raise BadInput({"clinic": f"{clinic} is not a clinic of {site}; choose one of its own."})
    token = secrets.token_urlsafe(TOKEN_BYTES)
    try:
        with records.change(by=by, reason="a calendar address was made"):
            earlier = CalendarFeed.objects.filter(owner=by, site=site, clinic=clinic)
            earlier.filter(revoked_at__isnull=True).update(revoked_at=now, revoked_by=by)
            CalendarFeed.objects.create(
                site=site,
                owner=by,
                clinic=clinic,
                token_hash=feeds.hash_of(token),
                begins=token[:SHOWN],
                made_at=now,
            )
    except IntegrityError as fault:
        raise BadInput(
            "An address of this calendar was made at this very moment; try once more."
        ) from fault
    return token


def revoke(*, feed: CalendarFeed, by: Person, now: datetime) -> None:
    """Let an address work no more; revoking twice changes nothing."""
    with records.change(by=by, reason="a calendar address was revoked"):
        CalendarFeed.objects.filter(pk=feed.pk, revoked_at__isnull=True).update(
            revoked_at=now, revoked_by=by
        )


def revoke_all(*, owner: Person, by: Person, now: datetime) -> int:
    """Let no address of a person work any more; return how many did."""
    live = CalendarFeed.objects.filter(owner=owner, revoked_at__isnull=True)
    with records.change(by=by, reason="its owner was shut out"):
        return live.update(revoked_at=now, revoked_by=by)


def note_use(*, feed: CalendarFeed, digest: str, now: datetime) -> datetime:
    """Write down that an address was read, and return since when its content is as it is now."""
    values: dict[str, object] = {}
    if feed.last_used_at is None or feed.last_used_at <= now - NOTED_EVERY:
        values["last_used_at"] = now
    if feed.digest != digest or feed.digest_at is None:
        feed.digest_at = now
        values |= {"digest": digest, "digest_at": now}
    if values:
        CalendarFeed.objects.filter(pk=feed.pk).update(**values)
    return feed.digest_at


def allow_names(
    *, site: Site, shows_names: bool, expected_version: int, by: Person
) -> CalendarPolicy:
    """Decide whether a site's calendars show patients' names.

    Raises StaleVersion when somebody decided first.
    """
    policy = CalendarPolicy.objects.filter(site=site).first() or CalendarPolicy(site=site)
    return setup.save_versioned(
        policy, {"shows_names": shows_names}, expected_version=expected_version, by=by
    )


def keep_rising(*, patients: Collection[Patient]) -> None:
    """Let no event's number fall when appointments go from one patient to another.

    An event counts the version of the identity whose name it may show; the other identity may have
    been corrected less often. No more than the higher of the two is lost by the change of hands.
    """
    rows = Patient.everything.filter(pk__in=[patient.pk for patient in patients])
    most = rows.aggregate(most=Max("identity__version"))["most"] or 0
    Appointment.everything.filter(review__procedure__injury__patient__in=patients).update(
        version=F("version") + most
    )
