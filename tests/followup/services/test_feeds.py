"""Calendar addresses: made, renewed, revoked."""

from datetime import timedelta

import pytest

from followup.models import CalendarFeed, CalendarPolicy
from followup.selectors.feeds import feed_of, shows_names
from followup.services import feeds
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from registry.services import sessions
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=5)


def issue(by: Person) -> str:
    clinic = builders.site().clinics.first() or builders.clinic()
    return feeds.issue(site=builders.site(), clinic=clinic, by=by, now=NOW)


def test_a_token_is_handed_out_once_and_kept_as_a_hash(coordinator: Person) -> None:
    token = issue(coordinator)
    assert len(token) >= 43
    row = CalendarFeed.objects.get()
    values = [str(value) for value in CalendarFeed.objects.values().get().values()]
    assert token not in values
    assert token.startswith(row.begins)
    assert len(row.token_hash) == 64
    trail = AuditEntry.objects.filter(table="followup_calendarfeed").latest("id")
    assert trail.after is not None
    assert not {"token_hash", "last_used_at", "digest"} & set(trail.after)


def test_renewing_makes_another_and_the_earlier_works_no_more(coordinator: Person) -> None:
    first, second = issue(coordinator), issue(coordinator)
    assert first != second
    assert feed_of(first, TODAY) is None
    assert feed_of(second, TODAY) is not None


def test_two_people_have_their_own_addresses_of_one_clinic(
    coordinator: Person, surgeon: Person
) -> None:
    one, two = issue(coordinator), issue(surgeon)
    assert feed_of(one, TODAY) is not None
    assert feed_of(two, TODAY) is not None


def test_a_revoked_address_stays_revoked(coordinator: Person, administrator: Person) -> None:
    token = issue(coordinator)
    row = CalendarFeed.objects.get()
    feeds.revoke(feed=row, by=administrator, now=NOW)
    feeds.revoke(feed=row, by=coordinator, now=LATER)
    row.refresh_from_db()
    assert (row.revoked_by, row.revoked_at) == (administrator, NOW)
    assert feed_of(token, TODAY) is None


def test_another_sites_clinic_is_refused(coordinator: Person) -> None:
    with pytest.raises(BadInput, match="is not a clinic of North Hospital"):
        feeds.issue(
            site=builders.site(),
            clinic=builders.clinic(builders.site("south")),
            by=coordinator,
            now=NOW,
        )
    assert not CalendarFeed.objects.exists()


def test_use_is_noted_once_an_hour_and_content_when_it_changes(coordinator: Person) -> None:
    issue(coordinator)
    row = CalendarFeed.objects.get()
    assert feeds.note_use(feed=row, digest="a", now=NOW) == NOW
    row.refresh_from_db()
    assert feeds.note_use(feed=row, digest="a", now=LATER) == NOW
    row.refresh_from_db()
    assert row.last_used_at == NOW
    assert feeds.note_use(feed=row, digest="b", now=LATER) == LATER
    row.refresh_from_db()
    assert (row.digest, row.digest_at, row.last_used_at) == ("b", LATER, NOW)
    feeds.note_use(feed=row, digest="b", now=NOW + timedelta(hours=1))
    row.refresh_from_db()
    assert row.last_used_at == NOW + timedelta(hours=1)


def test_reading_a_calendar_fills_no_trail(coordinator: Person) -> None:
    issue(coordinator)
    before = AuditEntry.objects.count()
    feeds.note_use(feed=CalendarFeed.objects.get(), digest="a", now=LATER)
    assert AuditEntry.objects.count() == before


def test_names_are_off_until_somebody_decides(administrator: Person) -> None:
    site = builders.site()
    assert not shows_names(site)
    feeds.allow_names(site=site, shows_names=True, expected_version=1, by=administrator)
    assert shows_names(site)
    with pytest.raises(StaleVersion):
        feeds.allow_names(site=site, shows_names=True, expected_version=9, by=administrator)
    feeds.allow_names(site=site, shows_names=False, expected_version=1, by=administrator)
    assert not shows_names(site)
    assert CalendarPolicy.objects.get().version == 2


def test_whoever_is_shut_out_has_no_address_left(
    coordinator: Person, surgeon: Person, administrator: Person
) -> None:
    theirs, anothers = issue(coordinator), issue(surgeon)
    sessions.shut_out(person=coordinator, by=administrator, now=LATER)
    assert feed_of(theirs, TODAY) is None
    assert feed_of(anothers, TODAY) is not None
    row = CalendarFeed.objects.get(owner=coordinator)
    assert (row.revoked_at, row.revoked_by) == (LATER, administrator)
    entry = AuditEntry.objects.filter(table="followup_calendarfeed").latest("id")
    assert (entry.person_id, entry.reason) == (administrator.pk, "its owner was shut out")
    # An earlier withdrawal stays as it was.
    sessions.shut_out(person=coordinator, by=surgeon, now=LATER + timedelta(days=1))
    row.refresh_from_db()
    assert (row.revoked_at, row.revoked_by) == (LATER, administrator)
