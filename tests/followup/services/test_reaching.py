"""Who cannot be reached: by the policy, once, and back as soon as there is something new."""

from datetime import UTC, date, datetime, timedelta

import pytest

from followup.models import ContactPolicy, Review, Unreachable
from followup.services import contacts, reaching, reviews
from followup.services.reaching import Decided
from registry.errors import BadInput, StaleVersion
from registry.models import AlternativeContact, Identity, Patient
from registry.services import alternatives, patients
from tests import builders
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")
# Six tries in two weeks, by phone and by letter, the last one today.
TRIED = ((14, "phone"), (12, "phone"), (10, "phone"), (7, "letter"), (3, "letter"), (0, "letter"))


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 10, tzinfo=UTC)


def due(**identity: str) -> Review:
    given = {"phone": "0555 010 1", "address": "11 Saltgate", **identity}
    operation = builders.procedure(of=builders.injury(of=builders.patient(**given)))
    reviews.lapse_closed(by=operation.recorded_by, now=at(TODAY), today=TODAY)
    found: Review = operation.reviews.get(step__code="6m")
    return found


def tried(review: Review, days_ago: int, means: str = "phone", outcome: str = "no_answer") -> None:
    contacts.record_attempt(
        review=review,
        means=means,
        outcome=outcome,
        note="",
        by=review.recorded_by,
        now=at(TODAY - timedelta(days=days_ago)),
    )


def lost(**identity: str) -> Review:
    review = due(**identity)
    for days_ago, means in TRIED:
        tried(review, days_ago, means)
    return review


def decide_all(day: date = TODAY) -> Decided:
    return reaching.decide_all(by=builders.person("night"), now=at(day), today=day)


def whose(review: Review) -> Patient:
    patient: Patient = review.procedure.injury.patient
    return patient


def test_the_last_try_of_the_policy_decides_at_once_with_day_and_reason() -> None:
    review = due()
    for days_ago, means in TRIED[:-1]:
        tried(review, days_ago, means)
    assert not Unreachable.objects.exists()
    tried(review, *TRIED[-1])
    row = Unreachable.objects.get()
    assert (row.patient, row.site, row.since) == (whose(review), review.site, TODAY)
    assert row.reason == "6 tries in 14 days without an answer (phone call, letter)"
    assert row.recorded_by == review.recorded_by


def test_the_night_decides_the_same_and_the_next_one_nothing_more() -> None:
    lost()
    Unreachable.objects.all().delete()
    assert decide_all() == Decided(lost=1, back=0)
    assert decide_all() == Decided(lost=0, back=0)
    assert Unreachable.objects.count() == 1


def test_another_policy_decides_otherwise() -> None:
    review = due()
    for days_ago in (5, 3):
        tried(review, days_ago)
    assert decide_all() == Decided(0, 0)
    policy = ContactPolicy(site=review.site)
    values = {"attempts": 2, "means": 1, "over_days": 2, "days_between": 1}
    reaching.save_policy(
        policy=policy, values=values, expected_version=1, by=builders.person("ada")
    )
    assert decide_all() == Decided(1, 0)
    values = {**values, "attempts": 9}
    reaching.save_policy(
        policy=policy, values=values, expected_version=1, by=builders.person("ada")
    )
    assert decide_all() == Decided(0, 1)
    row = Unreachable.objects.get()
    assert row.ended_because == "the policy or the ways of contact are others now"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"attempts": 2, "means": 3, "over_days": 9, "days_between": 1}, "means"),
        ({"attempts": 2, "means": 1, "over_days": 1, "days_between": 2}, "over_days"),
    ],
)
def test_a_policy_that_makes_no_sense_is_refused(values: dict[str, int], field: str) -> None:
    policy = ContactPolicy(site=builders.site())
    with pytest.raises(BadInput) as refused:
        reaching.save_policy(
            policy=policy, values=values, expected_version=1, by=builders.person("ada")
        )
    assert set(refused.value.faults) == {field}
    assert not ContactPolicy.objects.exists()


def test_two_who_set_one_policy_do_not_overwrite_each_other() -> None:
    by = builders.person("ada")
    policy = ContactPolicy(site=builders.site())
    values = {"attempts": 2, "means": 1, "over_days": 9, "days_between": 1}
    reaching.save_policy(policy=policy, values=values, expected_version=1, by=by)
    mine, theirs = ContactPolicy.objects.get(), ContactPolicy.objects.get()
    reaching.save_policy(policy=theirs, values=values, expected_version=1, by=by)
    with pytest.raises(StaleVersion):
        reaching.save_policy(policy=mine, values=values, expected_version=1, by=by)


@pytest.mark.parametrize("field", ["phone", "email", "address"])
def test_a_new_number_or_address_brings_back_at_once_and_counts_anew(field: str) -> None:
    review = lost()
    identity = Identity.objects.get(patient=whose(review))
    patients.correct_identity(
        identity=identity,
        values={field: "new@mail.invalid" if field == "email" else "0555 010 2"},
        expected_version=identity.version,
        by=review.recorded_by,
        now=at(TODAY) + timedelta(hours=1),
        today=TODAY,
    )
    row = Unreachable.objects.get()
    assert (row.ended_on, row.ended_because) == (TODAY, "a new way of contact became known")
    assert decide_all() == Decided(0, 0)
    tried(review, -1)
    assert decide_all(TODAY + timedelta(days=1)) == Decided(0, 0)


def test_another_contact_brings_back_at_once() -> None:
    review = lost()
    alternatives.save_alternative(
        contact=AlternativeContact(patient=whose(review)),
        values={"name": "Imre", "phone": "0555 010 3"},
        expected_version=1,
        by=review.recorded_by,
        now=at(TODAY),
        today=TODAY,
    )
    assert Unreachable.objects.get().ended_on == TODAY


def test_who_answers_is_back() -> None:
    review = lost()
    tried(review, -1, outcome="reached")
    row = Unreachable.objects.get()
    assert row.ended_because == "heard of on 26 Nov 2026"


def test_who_comes_is_back_by_the_next_night() -> None:
    review = lost()
    Review.objects.filter(pk=review.pk).update(state="attended", attended_on=TODAY)
    assert decide_all(TODAY + timedelta(days=1)) == Decided(0, 1)
    assert Unreachable.objects.get().ended_because == "heard of on 25 Nov 2026"


def test_who_declined_has_answered_and_is_not_lost() -> None:
    review = due()
    for days_ago, means in TRIED[:-1]:
        tried(review, days_ago, means)
    tried(review, 0, outcome="declined")
    assert decide_all() == Decided(0, 0)
    assert not Unreachable.objects.exists()


def test_after_a_long_silence_somebody_is_tried_anew() -> None:
    lost()
    assert decide_all(TODAY + timedelta(days=90)) == Decided(0, 0)
    assert decide_all(TODAY + timedelta(days=91)) == Decided(0, 1)
    said = Unreachable.objects.get().ended_because
    assert said == "the last tries are long ago; to be tried anew"


def test_nobody_is_lost_for_a_number_that_was_never_recorded() -> None:
    due(phone="", address="")
    assert decide_all() == Decided(0, 0)


def test_each_site_decides_for_itself() -> None:
    review = lost()
    other = builders.site("south")
    reaching.decide(
        patient=whose(review), site=other, by=review.recorded_by, now=at(TODAY), today=TODAY
    )
    assert [row.site.code for row in Unreachable.objects.all()] == ["north"]
