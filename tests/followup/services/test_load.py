"""Moving waiting reviews inside their windows, one by hand or many by a proposal."""

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from followup.models import Clinic, ClosedDay, LoadLine, LoadProposal, Review
from followup.selectors.clinic_room import room_of
from followup.services import load, planning, sweeping
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from registry.services import procedures
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.waiting import TUESDAY, waiting

pytestmark = pytest.mark.django_db
LATER = TUESDAY + timedelta(weeks=1)


def move(review: Review, to_on: date, **values: Any) -> Review:
    given = {"expected_version": review.version, "by": review.recorded_by, "now": NOW}
    return load.move_review(review=review, to_on=to_on, today=TODAY, **{**given, **values})


def propose(by: Person, today: date = TODAY) -> LoadProposal:
    return load.propose(site=builders.site(), by=by, now=NOW, today=today)


def apply(
    proposal: LoadProposal, by: Person, today: date = TODAY, version: int = 1
) -> load.Applied:
    return load.apply(proposal=proposal, expected_version=version, by=by, now=NOW, today=today)


def crowd(number: int = 5, slots: int = 3) -> tuple[Clinic, list[Review]]:
    """Have so many wait for a Tuesday of so few slots, with the next Tuesday in their window."""
    clinic = builders.clinic(slots=slots)
    return clinic, [waiting() for _ in range(number)]


def waits() -> dict[date, int]:
    return dict(Counter(Review.objects.values_list("proposed_on", flat=True)))


def test_a_review_moves_to_another_clinic_day_of_its_window() -> None:
    builders.clinic()
    review = waiting()
    moved = move(review, LATER)
    assert Review.objects.get(pk=review.pk).proposed_on == LATER == moved.proposed_on
    assert moved.version == 2
    entry = AuditEntry.objects.filter(table="followup_review", action="update").latest("id")
    assert entry.reason == "to level the load of the clinics"


@pytest.mark.parametrize(
    ("to_on", "words"),
    [
        (TUESDAY + timedelta(weeks=3), "outside the window, which goes from 24 Nov 2026"),
        (date(9999, 12, 28), "outside the window"),
        (TODAY - timedelta(days=1), "has passed"),
        (TUESDAY + timedelta(days=1), "No clinic is held on Wed 02 Dec 2026"),
    ],
)
def test_a_day_that_cannot_be_is_refused_in_words(to_on: date, words: str) -> None:
    builders.clinic()
    review = waiting()
    with pytest.raises(BadInput, match=words):
        move(review, to_on)
    assert Review.objects.get(pk=review.pk).proposed_on == TUESDAY


def test_a_full_day_and_a_closed_one_are_refused() -> None:
    builders.clinic(slots=1)
    review, _ = waiting(), waiting(LATER)
    with pytest.raises(BadInput, match="Tue 08 Dec 2026 is full"):
        move(review, LATER)
    ClosedDay.objects.create(site=review.site, on=TUESDAY + timedelta(weeks=2), reason="shut")
    with pytest.raises(BadInput, match="No clinic is held on Tue 15 Dec 2026"):
        move(review, TUESDAY + timedelta(weeks=2))


def test_a_day_that_already_counts_a_passed_proposal_takes_it() -> None:
    builders.clinic(slots=1)
    review = waiting(TODAY - timedelta(days=2), after=20)
    assert move(review, TUESDAY).proposed_on == TUESDAY


def test_a_booked_review_and_an_old_version_are_refused() -> None:
    clinic = builders.clinic()
    review, other = waiting(), waiting()
    with pytest.raises(StaleVersion):
        move(review, LATER, expected_version=7)
    booked(other, where=clinic)
    other.refresh_from_db()
    with pytest.raises(BadInput, match="The review is booked; only one that waits for a slot"):
        move(other, LATER)


def test_the_planner_leaves_a_moved_proposal_where_a_person_put_it(defaults: None) -> None:
    builders.clinic()
    operation = builders.procedure()
    review = operation.reviews.get(step__code="6m")
    planning.move_proposals(site_id=review.site_id, by=review.recorded_by, now=NOW, today=TODAY)
    review.refresh_from_db()
    day = date(2026, 12, 22)
    assert review.proposed_on != day
    move(review, day)
    sweeping.sweep(now=NOW, today=TODAY)
    planning.plan_injury(procedure=operation, by=review.recorded_by, now=NOW, today=TODAY)
    assert Review.objects.get(pk=review.pk).proposed_on == day
    # A day that is closed gives way, and so does a window that moves.
    ClosedDay.objects.create(site=review.site, on=day, reason="shut")
    sweeping.sweep(now=NOW, today=TODAY)
    assert Review.objects.get(pk=review.pk).proposed_on != day


def test_a_corrected_operation_moves_a_moved_proposal_with_its_window(defaults: None) -> None:
    builders.clinic()
    operation = builders.procedure()
    review = operation.reviews.get(step__code="6m")
    move(review, date(2026, 12, 22))
    procedures.correct_procedure(
        procedure=operation,
        values={"performed_on": date(2026, 6, 12)},
        reason="typed wrongly",
        expected_version=operation.version,
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )
    after = Review.objects.get(pk=review.pk)
    assert after.due_on == date(2026, 12, 12)
    assert abs((after.proposed_on - after.due_on).days) <= 3


def test_a_proposal_moves_as_few_as_need_be_and_changes_nothing_yet(coordinator: Person) -> None:
    crowd(5, slots=3)
    proposal = propose(coordinator)
    lines = list(proposal.lines.all())
    assert (proposal.considered, proposal.state, len(lines)) == (5, "proposed", 2)
    assert {(line.from_on, line.to_on, line.outcome) for line in lines} == {
        (TUESDAY, LATER, "open")
    }
    assert waits() == {TUESDAY: 5}


def test_applying_levels_every_day_inside_windows_and_slots(coordinator: Person) -> None:
    clinic, reviews = crowd(8, slots=3)
    booked(reviews[0], where=clinic)
    late = waiting(TODAY - timedelta(days=2), after=30)
    done = apply(propose(coordinator), coordinator)
    assert (done.moved, done.left_alone) == (6, ())
    room = room_of(builders.site().pk, TODAY, date(2027, 1, 31))
    assert {day: room.waits(day) for day in room.days() if room.waits(day)} == {
        TUESDAY: 2,
        LATER: 3,
        TUESDAY + timedelta(weeks=2): 3,
    }
    for review in Review.objects.filter(state="planned"):
        assert review.opens_on <= review.proposed_on <= review.closes_on
    late.refresh_from_db()
    assert late.proposed_on >= TODAY
    assert propose(coordinator).lines.count() == 0


def test_who_cannot_be_placed_is_kept_with_what_is_short(coordinator: Person) -> None:
    builders.clinic(slots=1)
    for _ in range(3):
        waiting(after=8)
    proposal = propose(coordinator)
    assert Counter(proposal.lines.values_list("outcome", flat=True)) == {"open": 1, "no_room": 1}
    assert proposal.shortages == [[["2026-12-01", "2026-12-08"], 2, 3]]
    assert apply(proposal, coordinator).moved == 1
    assert waits() == {TUESDAY: 2, LATER: 1}


def test_a_day_after_the_eight_weeks_takes_only_what_it_has_left(coordinator: Person) -> None:
    builders.clinic(slots=1)
    last = date(2027, 1, 12)
    waiting(last, before=3, after=14)
    waiting(last, before=3, after=14)
    waiting(last + timedelta(weeks=1))
    proposal = propose(coordinator)
    assert proposal.considered == 2
    assert [line.to_on for line in proposal.lines.all()] == [date(2027, 1, 26)]


def test_another_site_is_left_alone(coordinator: Person) -> None:
    crowd(3, slots=3)
    south = builders.site("south")
    builders.clinic(south, slots=1)
    waiting(at=south)
    waiting(at=south)
    assert propose(coordinator).considered == 3
    assert propose(coordinator).lines.count() == 0


def test_a_review_changed_since_is_left_alone_and_named(coordinator: Person) -> None:
    crowd(5, slots=3)
    proposal = propose(coordinator)
    first, second = (line.review for line in proposal.lines.order_by("id"))
    Review.objects.filter(pk=first.pk).update(version=9)
    done = apply(proposal, coordinator)
    assert done.moved == 1
    assert [(line.review, line.because) for line in done.left_alone] == [
        (first, "changed since the proposal was made")
    ]
    kept = LoadLine.objects.get(review=first)
    assert (kept.outcome, kept.because) == ("left_alone", "changed since the proposal was made")
    assert Review.objects.get(pk=first.pk).proposed_on == TUESDAY
    assert Review.objects.get(pk=second.pk).proposed_on == LATER


def test_one_whose_new_day_has_filled_up_is_left_alone(coordinator: Person) -> None:
    clinic, _ = crowd(5, slots=3)
    proposal = propose(coordinator)
    for minute in (0, 10):
        at = clinic.starts_at.replace(minute=minute)
        booked(waiting(LATER), on=LATER, at=at, where=clinic)
    done = apply(proposal, coordinator)
    assert done.moved == 1
    assert [line.because for line in done.left_alone] == ["08 Dec 2026 has filled up meanwhile"]
    room = room_of(builders.site().pk, TODAY, date(2027, 1, 31))
    assert (room.waits(LATER), room.free(LATER)) == (1, 1)


def test_a_proposal_is_decided_on_once(coordinator: Person) -> None:
    crowd()
    proposal = propose(coordinator)
    seen = LoadProposal.objects.get(pk=proposal.pk)
    apply(proposal, coordinator)
    before = waits()
    with pytest.raises(BadInput, match="was applied by Connie already"):
        apply(seen, builders.person("corin", north="coordinator"))
    with pytest.raises(BadInput, match="was applied by Connie already"):
        load.discard(proposal=seen, expected_version=1, by=coordinator, now=NOW)
    assert waits() == before
    assert (proposal.state, proposal.decided_by, proposal.version) == ("applied", coordinator, 2)


def test_another_version_than_the_one_seen_is_refused(coordinator: Person) -> None:
    crowd()
    proposal = propose(coordinator)
    with pytest.raises(StaleVersion):
        apply(proposal, coordinator, version=3)
    assert waits() == {TUESDAY: 5}


def test_a_discarded_proposal_moves_nobody(coordinator: Person) -> None:
    crowd()
    proposal = propose(coordinator)
    load.discard(proposal=proposal, expected_version=1, by=coordinator, now=NOW)
    assert (proposal.state, waits()) == ("discarded", {TUESDAY: 5})


def test_a_new_proposal_takes_the_place_of_the_open_one(coordinator: Person) -> None:
    crowd()
    first, second = propose(coordinator), propose(coordinator)
    first.refresh_from_db()
    assert (first.state, second.state) == ("discarded", "proposed")


def test_a_proposal_expires_when_the_day_or_the_calendar_moves_on(coordinator: Person) -> None:
    clinic, _ = crowd()
    proposal = propose(coordinator)
    assert load.expired_because(proposal, TODAY) == ""
    with pytest.raises(BadInput, match=r"was made on 25 Nov 2026, and days have passed.*again"):
        apply(proposal, coordinator, today=TODAY + timedelta(days=1))
    Clinic.objects.filter(pk=clinic.pk).update(slots=9)
    with pytest.raises(BadInput, match="clinics or the closed days have changed"):
        apply(proposal, coordinator)
    Clinic.objects.filter(pk=clinic.pk).update(slots=3)
    ClosedDay.objects.create(site=clinic.site, on=LATER, reason="shut")
    assert load.expired_because(proposal, TODAY).startswith("The clinics or the closed days")
    assert waits() == {TUESDAY: 5}
    load.discard(proposal=proposal, expected_version=1, by=coordinator, now=NOW)
    assert load.expired_because(proposal, TODAY + timedelta(days=9)) == ""


def test_nothing_of_a_proposal_is_half_applied(coordinator: Person) -> None:
    crowd()
    proposal = propose(coordinator)
    # A line that no computation makes: the database holds every proposed day to its window.
    last = proposal.lines.latest("id")
    LoadLine.objects.filter(pk=last.pk).update(to_on=TUESDAY + timedelta(weeks=9))
    with pytest.raises(BadInput):
        apply(proposal, coordinator)
    assert waits() == {TUESDAY: 5}
    assert LoadProposal.objects.get(pk=proposal.pk).state == "proposed"


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_of_people_who_apply_at_once_one_does_and_the_rest_are_told() -> None:
    connie = builders.person("connie", north="coordinator")
    crowd(8, slots=3)
    proposal = propose(connie)
    at_once = 6
    line = Barrier(at_once)

    def one(_: int) -> str:
        seen = LoadProposal.objects.get(pk=proposal.pk)
        line.wait(timeout=300)
        try:
            return f"{apply(seen, connie).moved} moved"
        except BadInput as fault:
            return str(fault)
        finally:
            connection.close()

    with ThreadPoolExecutor(at_once) as pool:
        said = Counter(pool.map(one, range(at_once)))
    assert said == {"5 moved": 1, "This proposal was applied by Connie already.": at_once - 1}
    assert waits() == {TUESDAY: 3, LATER: 3, TUESDAY + timedelta(weeks=2): 2}
    assert set(Review.objects.values_list("version", flat=True)) == {1, 2}


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_of_people_who_compute_at_once_one_proposal_stays_open() -> None:
    connie = builders.person("connie", north="coordinator")
    crowd(5, slots=3)
    at_once = 4
    line = Barrier(at_once)

    def one(_: int) -> str:
        line.wait(timeout=300)
        try:
            return propose(connie).state
        except BadInput as fault:
            return str(fault)
        finally:
            connection.close()

    with ThreadPoolExecutor(at_once) as pool:
        said = Counter(pool.map(one, range(at_once)))
    assert LoadProposal.objects.filter(state="proposed").count() == 1
    assert said["proposed"] >= 1
    assert all("Somebody else computed" in words for words in said if words != "proposed")
