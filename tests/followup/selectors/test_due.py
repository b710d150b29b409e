"""Who is due, in which order, and why."""

from collections.abc import Callable
from datetime import date, time, timedelta
from typing import Any

import pytest

from followup.models import Clinic, Film, HardwareDecision
from followup.rules.urgency import Tier
from followup.rules.windows import Timing
from followup.selectors.due import DueFilter, due_reviews, with_details
from followup.selectors.due_lines import DueRow, lines
from followup.services import hardware, removal_tasks, reviews
from registry.models import ConstructDeparture, Person, Procedure
from registry.services import patients, records
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")

# Windows after an operation on 5 June 2026: baseline 5-12 June, 2w 15-26 June, 6w 3-31 July,
# 3m 15 August-26 September, 6m 5 November-3 February.
OPERATED = date(2026, 6, 5)


def due(user: Person, today: date, **wanted: Any) -> list[DueRow]:
    return lines(list(with_details(due_reviews(user, today, DueFilter(**wanted)))), today)


def lapse_before(operation: Procedure, day: date) -> None:
    """Let the reviews lapse whose windows are over, as every night does."""
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=day)


def only(user: Person, operation: Procedure, today: date) -> DueRow:
    lapse_before(operation, today)
    (row,) = due(user, today)
    return row


def kept(row: Any, operation: Procedure) -> None:
    records.create(row, by=operation.recorded_by, now=NOW)


def departure(operation: Procedure) -> None:
    kept(
        ConstructDeparture(
            construct=operation.construct,
            site=operation.site,
            check_id="lateral-screws",
            check_version=1,
            found="4 lateral screws",
        ),
        operation,
    )


def film(operation: Procedure, on: date, *, of_both: bool = True) -> None:
    row = Film(injury=operation.injury, site=operation.site, taken_on=on, view="zanca")
    row.shows_both_sides = of_both
    kept(row, operation)


def question(operation: Procedure, **values: Any) -> None:
    kept(
        HardwareDecision(
            procedure=operation,
            site=operation.site,
            raised_because="planned_removal",
            raised_on=date(2026, 8, 28),
            waiting_since=date(2026, 8, 28),
            **values,
        ),
        operation,
    )


def hook() -> Procedure:
    return builders.procedure(construct={"construct_type": "HP"}, performed_on=OPERATED)


@pytest.mark.parametrize(
    ("today", "step", "tier", "timing", "says"),
    [
        (
            date(2026, 7, 5),
            "6w",
            Tier.IN_WINDOW,
            Timing.IN_WINDOW,
            "In window, due in 12 days, not booked yet",
        ),
        (
            date(2026, 7, 20),
            "6w",
            Tier.LATE,
            Timing.LATE,
            "3 days late; the window closes in 11 days",
        ),
        (
            date(2026, 7, 24),
            "6w",
            Tier.FILM_WINDOW_CLOSING,
            Timing.ABOUT_TO_CLOSE,
            "A film is still missing; the window closes in 7 days",
        ),
        (
            date(2026, 8, 10),
            "3m",
            Tier.LATER,
            Timing.NOT_YET,
            "Window opens later, due in 26 days, not booked yet",
        ),
    ],
)
def test_each_place_has_its_reason(
    coordinator: Person, today: date, step: str, tier: Tier, timing: Timing, says: str
) -> None:
    row = only(coordinator, builders.procedure(performed_on=OPERATED), today)
    assert row.review.step.code == step
    assert (row.review.tier, row.timing, row.reason) == (tier, timing, says)
    assert row.act_now is (tier <= Tier.EARLY_AFTER_DEPARTURE)


def test_a_film_in_the_window_takes_the_hurry_out(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    film(operation, date(2026, 7, 20))
    rows = due(coordinator, date(2026, 7, 24))
    assert [row.review.tier for row in rows if row.review.step.code == "6w"] == [Tier.LATE]


def test_a_film_of_one_side_does_not_where_both_are_asked_for(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    film(operation, date(2026, 7, 20), of_both=False)
    row = only(coordinator, operation, date(2026, 7, 24))
    assert row.reason == "A film is still missing; the window closes in 7 days"


def test_a_film_of_another_window_does_not(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    film(operation, date(2026, 6, 8))
    assert only(coordinator, operation, date(2026, 7, 24)).review.tier == Tier.FILM_WINDOW_CLOSING


def test_a_step_without_films_is_never_first_for_want_of_one(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    row = only(coordinator, operation, date(2026, 6, 18))
    assert (row.review.step.code, row.review.tier) == ("2w", Tier.IN_WINDOW)


@pytest.mark.parametrize(
    ("today", "tier"),
    [(date(2026, 7, 5), Tier.EARLY_AFTER_DEPARTURE), (date(2026, 8, 20), Tier.IN_WINDOW)],
)
def test_a_departure_brings_only_the_early_reviews_forward(
    coordinator: Person, today: date, tier: Tier
) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    departure(operation)
    assert only(coordinator, operation, today).review.tier == tier


# Sixteen weeks after 5 June are 25 September; the 3-month window closes on the day after.
@pytest.mark.parametrize(
    ("today", "tier", "says"),
    [
        (
            date(2026, 9, 25),
            Tier.FILM_WINDOW_CLOSING,
            "A film is still missing; the window closes in 1 day",
        ),
        (
            date(2026, 9, 26),
            Tier.REMOVAL_OVERDUE,
            "Hardware that is meant to come out is 1 day past its time",
        ),
        (
            date(2026, 10, 1),
            Tier.REMOVAL_OVERDUE,
            "Hardware that is meant to come out is 6 days past its time",
        ),
    ],
)
def test_a_hook_plate_past_its_time_stands_first_even_between_windows(
    coordinator: Person, today: date, tier: Tier, says: str
) -> None:
    row = only(coordinator, hook(), today)
    assert (row.review.tier, row.reason) == (tier, says)


def test_a_hook_plate_that_is_out_is_not_past_its_time(coordinator: Person) -> None:
    operation = hook()
    builders.procedure(
        of=operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 9, 20),
    )
    today = date(2026, 11, 25)
    lapse_before(operation, today)
    assert Tier.REMOVAL_OVERDUE not in {row.review.tier for row in due(coordinator, today)}


@pytest.mark.parametrize(
    ("values", "first"),
    [
        ({"state": "raised"}, True),
        ({"state": "planned", "wish_on": date(2026, 12, 24)}, True),
        ({"state": "declined", "reason": "the patient keeps it"}, False),
        (
            {"state": "deferred", "reason": "ill", "deferred_until": date(2026, 11, 26)},
            False,
        ),
        (
            {"state": "deferred", "reason": "ill", "deferred_until": date(2026, 11, 25)},
            True,
        ),
    ],
    ids=["raised", "planned", "declined", "deferred", "deferral over"],
)
def test_a_signed_decision_to_keep_a_hook_plate_takes_it_from_the_top(
    coordinator: Person, values: dict[str, Any], *, first: bool
) -> None:
    operation = hook()
    question(operation, **values)
    row = only(coordinator, operation, date(2026, 11, 25))
    assert (row.review.tier == Tier.REMOVAL_OVERDUE) is first


@pytest.mark.parametrize(
    ("rests_until", "first"),
    [(None, True), (date(2026, 11, 26), False), (date(2026, 11, 25), True)],
    ids=["raised", "deferred", "deferral over"],
)
def test_a_new_question_after_a_refusal_brings_a_hook_plate_back_to_the_top(
    coordinator: Person, rests_until: date | None, *, first: bool
) -> None:
    operation = hook()
    today = date(2026, 11, 25)
    question(operation, state="declined", reason="the patient keeps it")
    at = {"by": operation.recorded_by, "now": NOW, "on": today}
    hardware.note_symptoms(procedure=operation, source="patient", words="hurts", **at)
    if rests_until is not None:
        newer = HardwareDecision.objects.filter(procedure=operation, state="raised")
        newer.update(state="deferred", deferred_until=rests_until)
    row = only(coordinator, operation, today)
    assert (row.review.tier == Tier.REMOVAL_OVERDUE) is first
    # What the list shows needs no task beside it.
    told = removal_tasks.open_for_ignored(by=operation.recorded_by, now=NOW, today=today)
    assert told == 0


def test_the_list_goes_by_place_and_then_by_the_day_due(coordinator: Person) -> None:
    today = date(2026, 9, 1)
    for days in (0, 20, 60):
        builders.procedure(performed_on=OPERATED + timedelta(days=days))
    long_ago = builders.injury(injured_earliest=date(2026, 2, 1), injured_latest=date(2026, 2, 1))
    late_hook = builders.procedure(
        of=long_ago, construct={"construct_type": "HP"}, performed_on=date(2026, 2, 2)
    )
    lapse_before(late_hook, today)
    rows = due(coordinator, today)
    places = [(row.review.tier, row.review.due_on) for row in rows]
    assert places == sorted(places)
    assert rows[0].review.procedure == late_hook
    assert len({tier for tier, _ in places}) > 2


def test_what_opens_within_two_weeks_is_in_sight(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    lapse_before(operation, date(2026, 8, 1))
    assert due(coordinator, date(2026, 7, 31)) == []
    assert [row.review.step.code for row in due(coordinator, date(2026, 8, 1))] == ["3m"]


def test_an_operation_of_long_ago_that_is_typed_in_today_brings_only_what_is_still_open(
    coordinator: Person,
) -> None:
    builders.procedure(performed_on=OPERATED)
    codes = [row.review.step.code for row in due(coordinator, date(2026, 9, 20))]
    assert codes == ["3m"]
    assert due(coordinator, date(2026, 9, 27)) == []


def test_a_closed_window_stays_in_sight_while_a_slot_is_booked(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    review = operation.reviews.get(step__code="3m")
    builders.booked(review, on=date(2026, 9, 29), today=date(2026, 9, 20))
    rows = due(coordinator, date(2026, 9, 27))
    assert [row.review.step.code for row in rows] == ["3m"]


@pytest.mark.parametrize(
    ("wanted", "steps"),
    [
        ({"show": "in_window"}, ["6w"]),
        ({"show": "late"}, ["6w"]),
        ({"show": "closing"}, ["6w"]),
        ({"show": "unbooked"}, ["6w"]),
        ({"show": "missed"}, []),
        ({"week_of": date(2026, 8, 24)}, ["3m"]),
        ({"week_of": date(2026, 8, 3)}, []),
        ({"surgeon_id": 0}, []),
        ({"clinic_id": 0}, []),
    ],
    ids=str,
)
def test_the_list_is_filtered(
    coordinator: Person, wanted: dict[str, Any], steps: list[str]
) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    lapse_before(operation, date(2026, 7, 28))
    rows = due(coordinator, date(2026, 7, 28), **wanted)
    assert [row.review.step.code for row in rows] == steps


def test_a_booked_review_names_its_slot(coordinator: Person) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    clinic = Clinic.objects.create(
        site=operation.site, name="Shoulder", weekday=1, starts_at=time(9, 0), slots=10
    )
    today = date(2026, 7, 7)
    review = only(coordinator, operation, today).review
    reviews.book(
        review=review,
        clinic=clinic,
        on=date(2026, 7, 14),
        at=time(9, 20),
        expected_version=review.version,
        by=coordinator,
        now=NOW,
        today=today,
    )
    (row,) = due(coordinator, today, clinic_id=clinic.pk)
    assert row.slot == "Tue 14 Jul 09:20, Shoulder"
    assert row.reason == "In window, due in 10 days, booked"
    assert due(coordinator, today, show="unbooked") == []


@pytest.mark.parametrize("status", ["died", "withdrawn", "moved"])
def test_nobody_is_due_whose_follow_up_has_ended(coordinator: Person, status: str) -> None:
    operation = builders.procedure(performed_on=OPERATED)
    patients.change_status(
        patient=operation.injury.patient,
        status=status,
        on=date(2026, 7, 10),
        note="",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
        today=date(2026, 7, 10),
    )
    assert due(coordinator, date(2026, 7, 10)) == []


def test_another_site_sees_nothing(outsider: Person) -> None:
    builders.procedure(performed_on=OPERATED)
    assert due(outsider, date(2026, 7, 10)) == []


def test_the_queries_do_not_grow_with_the_list(
    coordinator: Person, counted: Callable[[], Any]
) -> None:
    numbers = {}
    for more in (2, 18):
        for _ in range(more):
            builders.procedure(performed_on=OPERATED)
        afresh = Person.objects.get(pk=coordinator.pk)
        with counted() as queries:
            rows = due(afresh, date(2026, 7, 5), show="in_window")
        numbers[len(rows)] = len(queries)
    assert sorted(numbers) == [2, 20]
    assert numbers[2] == numbers[20]
