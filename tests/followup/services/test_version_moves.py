"""Patients follow another version only deliberately, and what has happened stays."""

from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Appointment, Protocol, ProtocolVersion, Review, VersionMove
from followup.selectors.sums import review_sums
from followup.services import planning, protocols, version_moves
from registry.errors import BadInput
from registry.models import AuditEntry, Person, Procedure
from registry.services import procedures
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

OPERATED = date(2026, 9, 1)
LATER = NOW + timedelta(hours=1)


def step(code: str, weeks: int, **values: Any) -> dict[str, Any]:
    return {
        "code": code,
        "name": f"{weeks} weeks",
        "offset_value": weeks,
        "offset_unit": "weeks",
        "window_before_days": 7,
        "window_after_days": 7,
        **values,
    }


def first() -> ProtocolVersion:
    row: ProtocolVersion = ProtocolVersion.objects.get(protocol__name="After fixation", number=1)
    return row


def second(by: Person, *steps: dict[str, Any]) -> ProtocolVersion:
    """Return a version that keeps 2 weeks, moves 3 and 6 months, adds 9, and drops the rest."""
    given = steps or (step("2w", 2), step("3m", 14), step("6m", 24), step("9m", 40))
    return protocols.add_version(
        protocol=first().protocol,
        effective_from=TODAY,
        source_note="our policy",
        steps=given,
        by=by,
        now=NOW,
    )


def operated(**values: Any) -> Procedure:
    """Return an operation whose first reviews have happened: one attended, one lapsed."""
    row: Procedure = builders.procedure(performed_on=OPERATED, **values)
    row.reviews.filter(step__code="2w").update(state="attended", attended_on=date(2026, 9, 15))
    row.reviews.filter(step__code__in=["baseline", "6w"]).update(state="lapsed")
    return row


def seen(version: ProtocolVersion, sites: list[int] | None = None) -> version_moves.Preview:
    return version_moves.preview(
        version=first(),
        protocol=version.protocol,
        steps=list(version.steps.all()),
        sites=sites or [builders.site().pk],
        today=TODAY,
    )


def moved(target: ProtocolVersion, by: Person, **values: Any) -> version_moves.Done:
    given = {
        "version": first(),
        "target": target,
        "sites": [builders.site().pk],
        "reason": "the surgeons' meeting of May",
        "seen_at": NOW,
        "by": by,
        "now": LATER,
        "today": TODAY,
        **values,
    }
    return version_moves.move(**given)


def states(row: Procedure) -> dict[str, tuple[str, str, int]]:
    return {
        review.step.code: (review.state, review.ended_because, review.step.version.number)
        for review in row.reviews.select_related("step__version")
    }


def test_a_preview_counts_by_step_and_saves_nothing(administrator: Person) -> None:
    target = second(administrator)
    operated()
    booked(operated().reviews.get(step__code="12m"))
    before = AuditEntry.objects.count()
    found = seen(target)
    assert AuditEntry.objects.count() == before
    assert (found.operations, found.examined, found.slots) == (2, 2, 1)
    counts = {one.code: one for one in found.steps}
    assert counts["2w"] == version_moves.StepCounts("2w", "2 weeks", happened=2)
    assert counts["6w"].happened == counts["baseline"].happened == 2
    assert (counts["3m"].moved, counts["6m"].moved) == (2, 2)
    assert (counts["9m"].created, counts["12m"].closed, counts["24m"].closed) == (2, 2, 2)
    assert found.open_moved == 8
    assert found.total.happened == 6


def test_a_review_that_keeps_its_days_is_not_counted_as_moved(administrator: Person) -> None:
    same = next(one for one in first().steps.values() if one["code"] == "3m")
    kept = {name: same[name] for name in step("3m", 1)}
    target = second(administrator, {**kept, "motion": True, "film_views": ["ap"]})
    row = operated()
    counts = {one.code: one for one in seen(target).steps}
    assert (counts["3m"].kept, counts["3m"].moved) == (1, 0)
    moved(target, administrator)
    assert row.reviews.get(step__code="3m").step.film_views == ["ap"]


def test_patients_stay_until_they_are_moved_and_then_follow_the_other_version(
    administrator: Person, coordinator: Person
) -> None:
    row = operated()
    slot = booked(row.reviews.get(step__code="12m"))
    before = {one.step.code: one for one in row.reviews.select_related("step")}
    target = second(administrator)
    planning.plan_reviews(procedure=row, by=administrator, now=NOW, today=TODAY)
    assert set(row.reviews.values_list("step__version__number", flat=True)) == {1}
    preview = seen(target)
    done = moved(target, administrator)
    assert (done.moved, done.skipped, done.remaining) == (1, (), 0)
    assert states(row) == {
        "baseline": ("lapsed", "", 1),
        "2w": ("attended", "", 1),
        "6w": ("lapsed", "", 1),
        "3m": ("planned", "", 2),
        "6m": ("planned", "", 2),
        "9m": ("planned", "", 2),
        "12m": ("not_needed", "protocol", 1),
        "24m": ("not_needed", "protocol", 1),
    }
    for code in ("baseline", "2w", "6w"):
        assert row.reviews.get(step__code=code).version == before[code].version
    assert row.reviews.get(step__code="3m").due_on == OPERATED + timedelta(weeks=14)
    assert Appointment.objects.get(pk=slot.pk).state == "cancelled"
    assert preview.open_moved == 4
    sums = review_sums(coordinator)
    assert (sums.difference, dict(sums.ways)["closed by a change of protocol"]) == (0, 2)
    entry = AuditEntry.objects.filter(table="followup_versionmove").get()
    assert entry.reason == f"moved to {target}: the surgeons' meeting of May"
    assert entry.person_id == administrator.pk


def test_planning_after_a_move_changes_nothing_and_follows_a_corrected_day(
    administrator: Person,
) -> None:
    row, target = operated(), second(administrator)
    moved(target, administrator)
    again = planning.plan_reviews(procedure=row, by=administrator, now=LATER, today=TODAY)
    assert again.is_empty
    row.refresh_from_db()
    procedures.correct_procedure(
        procedure=row,
        values={"performed_on": OPERATED + timedelta(days=7)},
        expected_version=row.version,
        reason="typed wrongly",
        by=administrator,
        now=LATER,
        today=TODAY,
    )
    assert row.reviews.get(step__code="9m").due_on == OPERATED + timedelta(weeks=41)


def test_moving_back_brings_back_what_is_still_possible(administrator: Person) -> None:
    row, target = operated(), second(administrator)
    moved(target, administrator)
    back = moved(first(), administrator, version=target, seen_at=LATER)
    assert back.moved == 1
    found = states(row)
    assert (found["12m"], found["24m"]) == (("planned", "", 1), ("planned", "", 1))
    assert found["9m"] == ("not_needed", "protocol", 2)
    assert VersionMove.objects.count() == 2


def test_an_operation_that_changed_after_the_look_is_skipped_and_named(
    administrator: Person,
) -> None:
    row, other, target = operated(), operated(), second(administrator)
    Review.objects.filter(procedure=row, step__code="3m").update(changed_at=LATER)
    done = moved(target, administrator)
    assert (done.moved, done.remaining) == (1, 1)
    (skipped,) = done.skipped
    assert skipped.procedure == row
    assert skipped.why == "one of its reviews was changed after you looked"
    assert {number for *_, number in states(row).values()} == {1}
    assert states(other)["9m"] == ("planned", "", 2)


def test_a_dead_patients_closed_reviews_stay_closed_by_the_death(administrator: Person) -> None:
    row, target = operated(), second(administrator)
    patient = row.injury.patient
    patient.status, patient.status_on = "died", date(2026, 10, 30)
    patient.save()
    planning.plan_reviews(procedure=row, by=administrator, now=NOW, today=TODAY)
    counts = seen(target).total
    assert (counts.moved, counts.created, counts.closed) == (0, 0, 0)
    moved(target, administrator)
    ended = {because for state, because, _ in states(row).values() if state == "not_needed"}
    assert ended == {"death"}
    assert "9m" not in states(row)


def test_only_so_many_are_moved_at_once_and_the_rest_is_told(administrator: Person) -> None:
    target = second(administrator)
    for _ in range(3):
        operated()
    done = moved(target, administrator, most=2)
    assert (done.moved, done.remaining) == (2, 1)
    assert moved(target, administrator, most=2) == version_moves.Done(1, (), 0)


def test_another_sites_patients_are_left_alone(administrator: Person) -> None:
    there = builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    target = second(administrator)
    operated()
    assert moved(target, administrator).moved == 1
    assert {number for *_, number in states(there).values()} == {1}


def test_a_protocol_of_one_construct_type_takes_only_its_own(administrator: Person) -> None:
    operated()
    anchored = operated(construct={"construct_type": "LP+A1"})
    version = protocols.add_protocol(
        protocol=Protocol(
            name="With anchors",
            purpose="fixation",
            site=builders.site(),
            construct_type=builders.construct_type("LP+A1"),
        ),
        effective_from=TODAY,
        source_note="our policy",
        steps=[step("3m", 13)],
        by=administrator,
        now=NOW,
    )
    assert seen(version).operations == 1
    assert moved(version, administrator).moved == 1
    assert states(anchored)["3m"] == ("planned", "", 1)
    assert anchored.reviews.get(step__code="3m").step.version == version


@pytest.mark.parametrize("reason", ["", "  "])
def test_a_move_needs_a_reason(administrator: Person, reason: str) -> None:
    with pytest.raises(BadInput, match="Say why these patients"):
        moved(second(administrator), administrator, reason=reason)


def test_a_version_of_another_purpose_or_the_same_one_is_no_target(administrator: Person) -> None:
    removal = ProtocolVersion.objects.get(protocol__purpose="removal", protocol__site=None)
    for target, words in ((removal, "another kind of operation"), (first(), "follow .* already")):
        with pytest.raises(BadInput, match=words):
            moved(target, administrator)


def test_looking_costs_the_same_for_few_and_for_many(administrator: Person, counted: Any) -> None:
    target, cost = second(administrator), []
    for more in (1, 12):
        for _ in range(more):
            operated()
        with counted() as queries:
            seen(target)
        cost.append(len(queries))
    assert cost[0] == cost[1]


def test_a_preview_stops_at_its_most_and_says_so(administrator: Person) -> None:
    target = second(administrator)
    for _ in range(3):
        operated()
    found = version_moves.preview(
        version=first(),
        protocol=target.protocol,
        steps=list(target.steps.all()),
        sites=[builders.site().pk],
        today=TODAY,
        most=2,
    )
    assert (found.operations, found.examined, found.total.created) == (3, 2, 2)
