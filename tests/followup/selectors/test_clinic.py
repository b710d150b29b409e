"""The list of a clinic day, and what a visit shows of before."""

from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Film, Review
from followup.selectors import clinic as selector
from followup.services import films, motion, reviews, scores
from registry.models import Injury, Person, Procedure
from registry.services import erasure, patients
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

TUESDAY = date(2026, 12, 1)


def review_at(step: str = "6m") -> Review:
    found: Review = builders.procedure().reviews.get(step__code=step)
    return found


def given(injury: Injury) -> dict[str, Any]:
    return {"by": injury.recorded_by, "now": NOW, "today": TODAY}


def film(injury: Injury, on: date, mm: str = "", **values: Any) -> Film:
    facts = {"taken_on": on, "view": "zanca", "calibration": "marker", **values}
    taken = films.record_film(injury=injury, values=facts, **given(injury))
    if mm:
        read(taken, ccd_injured_mm=Decimal(mm))
    return taken


def read(taken: Film, reader: Person | None = None, **values: Any) -> None:
    by = reader or taken.recorded_by
    films.record_reading(film=taken, values=values, reader=by, by=by, now=NOW, today=TODAY)


def scored(injury: Injury, on: date, **values: Any) -> None:
    scores.record_score(injury=injury, taken_on=on, **values, **given(injury))


def examined(injury: Injury, on: date, **values: Any) -> None:
    facts = {"examined_on": on, "side": "left", "mode": "active", **values}
    motion.record_motion(injury=injury, values=facts, **given(injury))


def changes(injury: Injury) -> list[float | None]:
    return [line.change_mm for line in selector.earlier_of(injury).films]


def test_a_day_lists_its_visits_by_the_time_of_day(surgeon: Person) -> None:
    where = builders.clinic(surgeon=surgeon)
    late = booked(review_at(), at=time(9, 30), where=where)
    early = booked(review_at(), where=where)
    booked(review_at(), on=date(2026, 12, 8), where=where)
    assert list(selector.appointments_on(surgeon, TUESDAY, None)) == [early, late]


def test_a_surgeon_sees_their_own_visits_or_on_request_everybodys(surgeon: Person) -> None:
    mine = booked(review_at(), where=builders.clinic(surgeon=surgeon))
    other = booked(review_at(), at=time(9, 10))
    assert list(selector.appointments_on(surgeon, TUESDAY, surgeon)) == [mine]
    assert list(selector.appointments_on(surgeon, TUESDAY, None)) == [mine, other]


def test_another_site_sees_no_visit(outsider: Person) -> None:
    booked(review_at())
    assert list(selector.appointments_on(outsider, TUESDAY, None)) == []


def test_a_cancelled_slot_is_not_on_the_list(surgeon: Person) -> None:
    review = review_at()
    booked(review)
    reviews.cancel(review=review, expected_version=2, by=review.recorded_by, now=NOW)
    assert list(selector.appointments_on(surgeon, TUESDAY, None)) == []


@pytest.mark.parametrize(
    ("on", "there"), [(date(2026, 11, 4), False), (date(2026, 11, 5), True), (TODAY, True)]
)
def test_the_film_of_the_window_is_there_or_comes_first(
    surgeon: Person, on: date, *, there: bool
) -> None:
    slot = booked(review_at())
    film(slot.review.procedure.injury, on, shows_both_sides=True)
    (row,) = selector.appointments_on(surgeon, TUESDAY, None)
    assert (row.wants_film, row.film_first) == (not there, True)


def test_the_queries_of_a_list_do_not_grow_with_it(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    where = builders.clinic(slots=30)
    numbers = {}
    for minutes in ((0,), (10, 20, 30, 40)):
        for minute in minutes:
            booked(review_at(), at=time(9, minute), where=where)
        afresh = Person.objects.get(pk=surgeon.pk)
        with counted() as queries:
            rows = list(selector.appointments_on(afresh, TUESDAY, None))
            words = [str(row.review.procedure.injury.patient.identity) for row in rows]
        numbers[len(words)] = len(queries)
    assert sorted(numbers) == [1, 5]
    assert numbers[1] == numbers[5]


def test_the_change_is_counted_from_the_first_film_after_the_fixation() -> None:
    hurt = builders.procedure(performed_on=date(2026, 6, 5)).injury
    for on, mm in (
        (date(2026, 6, 2), "21.0"),
        (date(2026, 6, 8), "9.0"),
        (date(2026, 7, 17), "11.5"),
    ):
        film(hurt, on, mm)
    assert changes(hurt) == [None, 0.0, 2.5]


def test_films_of_different_views_are_not_compared() -> None:
    hurt = builders.procedure().injury
    film(hurt, date(2026, 6, 8), "9.0")
    film(hurt, date(2026, 7, 17), "14.0", view="ap")
    assert changes(hurt) == [0.0, 0.0]


def test_an_injury_without_an_operation_has_no_film_to_count_from() -> None:
    hurt = builders.injury()
    film(hurt, date(2026, 6, 8), "9.0")
    assert changes(hurt) == [None]


def test_two_readers_of_a_film_are_averaged_and_a_superseded_reading_is_not(
    surgeon: Person, film_reader: Person
) -> None:
    hurt = builders.procedure().injury
    film(hurt, date(2026, 6, 8), "9.0")
    later = film(hurt, date(2026, 7, 17), "30.0")
    read(later, ccd_injured_mm=Decimal("11.0"))
    read(later, film_reader, ccd_injured_mm=Decimal("12.0"))
    assert changes(hurt) == [0.0, 2.5]


@pytest.mark.parametrize(
    ("film_values", "reading", "ratio"),
    [
        (
            {"shows_both_sides": True},
            {"ccd_injured_mm": Decimal("12.0"), "ccd_other_mm": Decimal("8.0")},
            50.0,
        ),
        (
            {"shows_both_sides": True, "calibration": "none"},
            {"ccd_side_ratio_pct": Decimal("35.5")},
            35.5,
        ),
        ({}, {"ccd_injured_mm": Decimal("12.0")}, None),
    ],
    ids=["from millimetres", "as measured", "one side only"],
)
def test_the_ratio_against_the_other_side_comes_from_what_was_measured(
    film_values: dict[str, Any], reading: dict[str, Any], ratio: float | None
) -> None:
    hurt = builders.procedure().injury
    read(film(hurt, date(2026, 6, 8), **film_values), **reading)
    assert [line.ratio_pct for line in selector.earlier_of(hurt).films] == [ratio]


def test_what_was_found_before_is_gathered_oldest_first_and_scores_by_instrument() -> None:
    hurt = builders.procedure().injury
    for on, total in ((date(2026, 8, 17), 2), (date(2026, 7, 17), 5)):
        scored(hurt, on, instrument="pain_nrs", total=total)
        examined(hurt, on, flexion_deg=100 + total)
    earlier = selector.earlier_of(hurt)
    assert [exam.flexion_deg for exam in earlier.motion] == [105, 102]
    ((instrument, rows),) = earlier.scores
    assert (instrument.name, [row.value for row in rows]) == ("Pain, 0 to 10", [5, 2])
    assert [one.kind for one in earlier.procedures] == ["fixation"]


def test_another_injury_of_the_patient_is_another_course() -> None:
    operation = builders.procedure()
    other = builders.injury(operation.injury.patient, side="right")
    film(other, date(2026, 6, 8))
    assert selector.earlier_of(operation.injury).films == ()


def test_the_last_values_are_those_of_the_last_day_by_side_with_their_date() -> None:
    hurt = builders.procedure().injury
    examined(hurt, date(2026, 7, 17), flexion_deg=100, abduction_deg=90)
    examined(hurt, date(2026, 8, 17), flexion_deg=120)
    examined(hurt, date(2026, 8, 17), flexion_deg=170, side="right")
    examined(hurt, date(2026, 9, 17), flexion_deg=160, mode="passive")
    scored(hurt, date(2026, 8, 17), instrument="pain_nrs", total=2)
    film(hurt, date(2026, 7, 17), "9.4")
    last = selector.last_values(selector.earlier_of(hurt), "left")
    assert last == {
        "flexion_deg": "120 on 17 Aug 2026",
        "abduction_deg": "90 on 17 Jul 2026",
        "other_flexion_deg": "170 on 17 Aug 2026",
        "pain_nrs": "2 on 17 Aug 2026",
        "ccd_injured_mm": "9.4 on 17 Jul 2026",
        "union": "Cannot be judged on 17 Jul 2026",
    }


def test_a_score_that_could_not_be_computed_is_no_last_value() -> None:
    hurt = builders.procedure().injury
    scored(hurt, date(2026, 8, 17), instrument="quickdash", items={1: 2, 2: 3})
    assert selector.last_values(selector.earlier_of(hurt), "left") == {}


def test_the_queries_of_before_do_not_grow_with_the_course(
    counted: Callable[[], Any],
) -> None:
    hurt: Injury = builders.procedure().injury
    numbers = []
    for days in ((5,), (10, 15, 20, 25)):
        for day in days:
            film(hurt, date(2026, 7, day), "9.4")
            examined(hurt, date(2026, 7, day), flexion_deg=100)
        with counted() as queries:
            selector.last_values(selector.earlier_of(hurt), "left")
        numbers.append(len(queries))
    assert numbers == [9, 9]


def test_a_visit_opens_where_one_may_see_it(surgeon: Person, outsider: Person) -> None:
    review = review_at()
    assert selector.open_review(surgeon, review.pk) == review
    assert selector.open_review(outsider, review.pk) is None


def test_an_erased_patient_whose_facts_stay_has_no_visit_to_open(surgeon: Person) -> None:
    operation: Procedure = builders.procedure()
    patient = operation.injury.patient
    review = operation.reviews.get(step__code="6m")
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=ConsentGiven("registry", "given", TODAY, "asked on the ward"),
        **given(operation.injury),
    )
    erasure.erase_patient(patient=patient, reason="asked by letter", **given(operation.injury))
    assert Review.objects.filter(pk=review.pk).exists()
    assert selector.open_review(surgeon, review.pk) is None
