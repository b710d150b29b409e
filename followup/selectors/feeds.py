"""Calendar addresses: whose they are, whether they still work, and what they show."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F, Q, QuerySet

from followup.models.calendars import Clinic
from followup.models.feeds import CalendarFeed, CalendarPolicy
from followup.models.reviews import Appointment, AppointmentState
from followup.rules import calendar_events
from followup.rules.calendar_events import CANCELLED_DAYS, PAST_DAYS, Event, Slot
from followup.selectors.visible import visible
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import site_ids

# What its owner must be allowed to do at the site, for a clinic and for a surgeon's own list.
CLINIC_NEEDS, OWN_NEEDS = "see_clinic", "record_visit"
# A slot is shown a little longer than the rule says, which then leaves it out by the minute.
MARGIN_DAYS = 1
# Stands for the version of an identity that was erased, which no identity reaches.
ERASED = 1_000_000


@dataclass(frozen=True)
class FeedLine:
    """One calendar that a person may have, and the address that they made for it, if any."""

    site: Site
    clinic: Clinic | None
    feed: CalendarFeed | None

    @property
    def name(self) -> str:
        """What the calendar is called."""
        return str(self.clinic) if self.clinic is not None else f"My own appointments, {self.site}"


def hash_of(token: str) -> str:
    """Return what is kept of a token: its SHA-256. A token has 256 random bits and needs no salt."""
    return hashlib.sha256(token.encode()).hexdigest()


def feed_of(token: str, today: date) -> CalendarFeed | None:
    """Return the feed of a token that still works: not revoked, and its owner still let in there."""
    feed = (
        CalendarFeed.objects.filter(token_hash=hash_of(token), revoked_at__isnull=True)
        .select_related("site", "owner", "clinic")
        .first()
    )
    if feed is None:
        return None
    needs = OWN_NEEDS if feed.clinic_id is None else CLINIC_NEEDS
    return feed if feed.site_id in site_ids(feed.owner, needs, today) else None


def shows_names(site: Site) -> bool:
    """Say whether a site lets patients' names into calendars."""
    return _names(site)[0]


def _names(site: Site) -> tuple[bool, int]:
    """Say whether a site lets patients' names into calendars, and how often that was decided."""
    rows = CalendarPolicy.objects.filter(site=site)
    found: tuple[bool, int] | None = rows.values_list("shows_names", "version").first()
    return found or (False, 0)


def events_of(feed: CalendarFeed, now: datetime) -> list[Event]:
    """Return what a feed shows now, in two queries; no name is read where the site allows none."""
    named, decided = _names(feed.site)
    today = now.date()
    mine = _mine(feed)
    near = Q(on__gte=today - timedelta(days=PAST_DAYS + MARGIN_DAYS)) | Q(
        changed_at__gte=now - timedelta(days=CANCELLED_DAYS + MARGIN_DAYS)
    )
    reviews = Appointment.everything.filter(mine, near).order_by().values("review_id")
    rows = (
        Appointment.everything.filter(review_id__in=reviews)
        .select_related("clinic", "review__step", "review__procedure__injury__patient")
        .annotate(renamed=F("review__procedure__injury__patient__identity__version"))
    )
    if named:
        rows = rows.select_related("review__procedure__injury__patient__identity")
    zone = ZoneInfo(feed.site.time_zone)
    slots = [_slot(row, feed, zone, named, decided) for row in rows]
    return calendar_events.events_of(slots, now)


def _mine(feed: CalendarFeed) -> Q:
    if feed.clinic_id is not None:
        return Q(clinic_id=feed.clinic_id)
    return Q(surgeon_id=feed.owner_id, site_id=feed.site_id)


def _slot(row: Any, feed: CalendarFeed, zone: ZoneInfo, named: bool, decided: int) -> Slot:
    patient = row.review.procedure.injury.patient
    void = row.voided_at is not None or row.review.voided_at is not None
    here = (
        row.clinic_id == feed.clinic_id
        if feed.clinic_id is not None
        else (row.surgeon_id, row.site_id) == (feed.owner_id, feed.site_id)
    )
    identity = getattr(patient, "identity", None) if named else None
    return Slot(
        id=row.pk,
        review=row.review_id,
        starts=calendar_events.starts_at(row.on, row.at.hour, row.at.minute, zone),
        minutes=row.clinic.slot_minutes,
        state=AppointmentState.CANCELLED if void else row.state,
        changes=_changes(row, feed, decided),
        changed_at=max(row.changed_at, row.review.voided_at or row.changed_at),
        here=here,
        summary=calendar_events.summary(
            row.review.step.name,
            film_first=row.film_first,
            key=patient.key,
            name=str(identity) if identity is not None else "",
        ),
        location=f"{row.clinic.name}, {feed.site.name}",
        named=patient.key if identity is not None else "",
    )


def _changes(row: Any, feed: CalendarFeed, decided: int) -> int:
    """Return a number that rises with whatever a slot shows, and never falls.

    Each part only ever rises. Whose name it is counts where no names are shown too: else the number
    would fall when a site takes them out again.
    """
    renamed = ERASED if row.renamed is None else row.renamed - 1
    shown = row.version + row.clinic.version + row.review.version + feed.site.version - 4
    return int(shown + decided + renamed)


def lines_for(user: Person) -> list[FeedLine]:
    """Return the calendars that a person may have, their own first, in four queries."""
    sites = list(visible(user, Site, CLINIC_NEEDS))
    own = set(site_ids(user, OWN_NEEDS))
    clinics = (
        visible(user, Clinic, CLINIC_NEEDS)
        .filter(is_active=True)
        .select_related("site")
        .order_by("site__name", "weekday", "starts_at", "name")
    )
    rows = CalendarFeed.objects.filter(owner=user, revoked_at__isnull=True)
    feeds = {(feed.site_id, feed.clinic_id): feed for feed in rows}
    return [
        *(FeedLine(site, None, feeds.get((site.pk, None))) for site in sites if site.pk in own),
        *(FeedLine(one.site, one, feeds.get((one.site_id, one.pk))) for one in clinics),
    ]


def live_feeds(user: Person) -> "QuerySet[Any]":
    """Return the addresses that work at the sites that a person sets up."""
    return (
        visible(user, CalendarFeed, "set_up")
        .filter(revoked_at__isnull=True)
        .select_related("site", "owner", "clinic")
        .order_by("site__name", "owner__shown_name", "id")
    )


def policies(user: Person) -> Sequence[tuple[Site, bool]]:
    """Return the sites that a person sets up, each with whether its calendars show names."""
    allowed = set(
        visible(user, CalendarPolicy, "set_up")
        .filter(shows_names=True)
        .values_list("site_id", flat=True)
    )
    return [(site, site.pk in allowed) for site in visible(user, Site, "set_up")]
