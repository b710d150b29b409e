"""Which calendar addresses work, and what they show."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from followup.models import Appointment, CalendarFeed, Clinic, Review
from followup.selectors import feeds as selector
from followup.services import feeds, reviews
from registry.models import Membership, Person, Site
from registry.models.identities import Identity
from registry.services import merges, patients, records
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.waiting import TUESDAY, waiting

pytestmark = pytest.mark.django_db
LATER = TUESDAY + timedelta(weeks=1)


def feed(by: Person, clinic: Clinic | None = None) -> CalendarFeed:
    feeds.issue(site=builders.site(), clinic=clinic, by=by, now=NOW)
    found: CalendarFeed = CalendarFeed.objects.get(owner=by, clinic=clinic, revoked_at=None)
    return found


def shown(of: CalendarFeed, now: datetime = NOW) -> list[tuple[Any, ...]]:
    return [(one.first_slot, one.sequence, one.cancelled) for one in selector.events_of(of, now)]


def rebook(review: Review, clinic: Clinic, on: date, **values: Any) -> Appointment:
    review.refresh_from_db()
    return booked(review, on=on, where=clinic, **values)


def test_a_feed_of_a_clinic_shows_its_appointments_without_names(coordinator: Person) -> None:
    clinic, other = builders.clinic(name="Tuesdays"), builders.clinic(name="Others")
    review = waiting()
    slot = booked(review, where=clinic)
    booked(waiting(), where=other)
    (event,) = selector.events_of(feed(coordinator, clinic), NOW)
    patient = review.procedure.injury.patient
    assert event.summary == f"6 weeks, film first ({patient.key})"
    assert event.location == "Tuesdays, North Hospital"
    assert (event.first_slot, event.minutes) == (slot.pk, 10)
    assert event.starts.isoformat() == "2026-12-01T09:00:00+00:00"


def test_names_are_shown_only_where_the_site_allows_them(
    coordinator: Person, administrator: Person, counted: Callable[[], Any]
) -> None:
    clinic, review = builders.clinic(), waiting()
    booked(review, where=clinic)
    mine = feed(coordinator, clinic)
    with counted() as queries:
        selector.events_of(mine, NOW)
    assert not [query for query in queries if "family_name" in query["sql"]]
    feeds.allow_names(site=mine.site, shows_names=True, expected_version=1, by=administrator)
    (event,) = selector.events_of(mine, NOW)
    patient = review.procedure.injury.patient
    assert event.summary == f"6 weeks, film first: {patient.identity} ({patient.key})"


def test_a_move_keeps_the_event_and_raises_its_number(coordinator: Person) -> None:
    clinic, review = builders.clinic(), waiting()
    slot = booked(review, where=clinic)
    mine = feed(coordinator, clinic)
    ((name, first, _),) = shown(mine)
    assert name == slot.pk
    rebook(review, clinic, LATER)
    ((same, second, cancelled),) = shown(mine)
    assert (same, cancelled) == (name, False)
    assert second > first
    review.refresh_from_db()
    reviews.cancel(review=review, expected_version=review.version, by=review.recorded_by, now=NOW)
    ((same, third, cancelled),) = shown(mine)
    assert (same, cancelled) == (name, True)
    assert third > second
    rebook(review, clinic, LATER + timedelta(weeks=1))
    ((same, fourth, cancelled),) = shown(mine)
    assert (same, cancelled) == (name, False)
    assert fourth > third


def test_a_move_to_another_clinic_cancels_it_here_and_shows_it_there(coordinator: Person) -> None:
    one, two, review = builders.clinic(), builders.clinic(), waiting()
    slot = booked(review, where=one)
    rebook(review, two, LATER)
    ((name, here, cancelled),) = shown(feed(coordinator, one))
    assert (name, cancelled) == (slot.pk, True)
    assert shown(feed(coordinator, two)) == [(slot.pk, here, False)]


@pytest.mark.parametrize("what", ["clinic", "site"])
def test_what_else_the_event_shows_raises_its_number_too(coordinator: Person, what: str) -> None:
    clinic = builders.clinic()
    booked(waiting(), where=clinic)
    mine = feed(coordinator, clinic)
    ((_, before, _),) = shown(mine)
    if what == "clinic":
        Clinic.objects.filter(pk=clinic.pk).update(slot_minutes=20, version=2)
    else:
        Site.objects.filter(pk=clinic.site_id).update(time_zone="Europe/Berlin", version=2)
        mine.site.refresh_from_db()
    ((_, after, _),) = shown(mine)
    assert after > before


def test_whose_name_it_is_raises_the_number_and_nothing_lowers_it(
    coordinator: Person, administrator: Person
) -> None:
    clinic, review = builders.clinic(), waiting()
    booked(review, where=clinic)
    mine, patient = feed(coordinator, clinic), review.procedure.injury.patient
    numbers = [shown(mine)[0][1]]

    def look() -> None:
        numbers.append(shown(mine)[0][1])

    for version, (seen, named) in enumerate(((1, True), (1, False), (2, True)), 1):
        feeds.allow_names(
            site=mine.site, shows_names=named, expected_version=seen, by=administrator
        )
        look()
        patients.correct_identity(
            identity=patient.identity,
            values={"family_name": f"Quill-{version}"},
            expected_version=version,
            by=administrator,
            now=NOW,
            today=TODAY,
        )
        look()
    Identity.objects.filter(patient=patient).delete()
    look()
    assert numbers == sorted(set(numbers))


def test_a_merge_and_its_undoing_raise_the_number(coordinator: Person) -> None:
    clinic, review, kept = builders.clinic(), waiting(), builders.patient()
    booked(review, where=clinic)
    mine, merged = feed(coordinator, clinic), review.procedure.injury.patient
    Identity.objects.filter(patient=merged).update(version=9)
    ((_, before, _),) = shown(mine)
    merge = merges.merge_patients(
        kept=kept,
        merged=merged,
        reason="the same passport",
        kept_version=kept.version,
        merged_version=merged.version,
        by=kept.recorded_by,
        now=NOW,
    )
    ((_, while_merged, _),) = shown(mine)
    Identity.objects.filter(patient=kept).update(version=30)
    ((_, corrected, _),) = shown(mine)
    merges.unmerge_patients(merge=merge, by=kept.recorded_by, now=NOW)
    ((_, after, _),) = shown(mine)
    assert before < while_merged < corrected < after


def test_a_voided_slot_or_review_is_cancelled(coordinator: Person) -> None:
    clinic, review = builders.clinic(), waiting()
    slot, kept = booked(review, where=clinic), waiting()
    rebook(kept, clinic, LATER)
    mine = feed(coordinator, clinic)
    ((_, before, _), _) = shown(mine)
    records.void(
        slot, by=coordinator, now=NOW, expected_version=slot.version, reason="another patient's"
    )
    (name, after, cancelled), (_, _, stays) = shown(mine)
    assert (name, cancelled, stays) == (slot.pk, True, False)
    assert after > before
    kept.refresh_from_db()
    records.void(kept, by=coordinator, now=NOW, expected_version=kept.version, reason="twice")
    assert [cancelled for _, _, cancelled in shown(mine)] == [True, True]


def test_a_cancelled_one_stays_for_a_while(coordinator: Person) -> None:
    clinic, review = builders.clinic(), waiting()
    booked(review, where=clinic)
    review.refresh_from_db()
    reviews.cancel(review=review, expected_version=review.version, by=coordinator, now=NOW)
    mine = feed(coordinator, clinic)
    assert [gone for _, _, gone in shown(mine, NOW + timedelta(days=59))] == [True]
    assert shown(mine, NOW + timedelta(days=61)) == []


def test_a_surgeons_feed_shows_their_own_of_this_site(surgeon: Person) -> None:
    mine, other = builders.clinic(surgeon=surgeon), builders.clinic()
    builders.person("selma", south="surgeon")
    south = builders.clinic(builders.site("south"), surgeon=surgeon)
    slot = booked(waiting(), where=mine)
    booked(waiting(), where=other)
    booked(waiting(at=builders.site("south")), where=south)
    assert [name for name, _, _ in shown(feed(surgeon))] == [slot.pk]


def test_an_address_works_while_its_owner_may_see_the_clinic(surgeon: Person) -> None:
    clinic = builders.clinic(surgeon=surgeon)
    for whose in (None, clinic):
        token = feeds.issue(site=builders.site(), clinic=whose, by=surgeon, now=NOW)
        assert selector.feed_of(token, TODAY) == feed_by(token)
        assert selector.feed_of(token + "x", TODAY) is None
        Person.objects.filter(pk=surgeon.pk).update(is_active=False)
        assert selector.feed_of(token, TODAY) is None
        Person.objects.filter(pk=surgeon.pk).update(is_active=True)
        Membership.objects.filter(person=surgeon).update(ends_on=TODAY)
        assert selector.feed_of(token, TODAY) is not None
        assert selector.feed_of(token, TODAY + timedelta(days=1)) is None
        Membership.objects.filter(person=surgeon).update(ends_on=None)


def feed_by(token: str) -> CalendarFeed:
    return CalendarFeed.objects.get(token_hash=selector.hash_of(token))


def test_a_surgeon_who_stays_as_coordinator_keeps_only_the_clinics(surgeon: Person) -> None:
    clinic = builders.clinic()
    own = feeds.issue(site=builders.site(), clinic=None, by=surgeon, now=NOW)
    whole = feeds.issue(site=builders.site(), clinic=clinic, by=surgeon, now=NOW)
    Membership.objects.filter(person=surgeon).update(role="coordinator")
    assert selector.feed_of(own, TODAY) is None
    assert selector.feed_of(whole, TODAY) is not None


def test_everybody_is_offered_the_calendars_of_their_sites(
    surgeon: Person, coordinator: Person
) -> None:
    clinic = builders.clinic(name="Tuesdays")
    builders.clinic(builders.site("south"))
    builders.clinic(is_active=False)
    mine = feed(surgeon, clinic)
    lines = selector.lines_for(surgeon)
    assert [(line.name, line.feed) for line in lines] == [
        ("My own appointments, North Hospital", None),
        ("Tuesdays", mine),
    ]
    assert [(line.name, line.feed) for line in selector.lines_for(coordinator)] == [
        ("Tuesdays", None)
    ]


def test_an_administrator_sees_the_addresses_that_work(
    administrator: Person, coordinator: Person
) -> None:
    one, two = feed(coordinator, builders.clinic()), feed(coordinator, builders.clinic())
    feeds.revoke(feed=two, by=administrator, now=NOW)
    assert list(selector.live_feeds(administrator)) == [one]
    assert list(selector.live_feeds(builders.person("other", south="administrator"))) == []
    assert selector.policies(administrator) == [(one.site, False)]


def test_a_feed_costs_the_same_for_few_appointments_and_for_many(
    coordinator: Person, counted: Callable[[], Any]
) -> None:
    clinic = builders.clinic(slots=30)
    mine = feed(coordinator, clinic)
    assert mine.site == clinic.site
    costs = []
    for number in (1, 6):
        for n in range(number):
            at = clinic.starts_at.replace(minute=10 * n % 60, hour=9 + number)
            Clinic.objects.filter(pk=clinic.pk).update(starts_at=at)
            booked(waiting(), at=at, where=Clinic.objects.get(pk=clinic.pk))
        with counted() as queries:
            assert len(selector.events_of(mine, NOW)) >= number
        costs.append(len(queries))
    assert costs == [2, 2]
