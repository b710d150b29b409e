"""What lies in the windows of many reviews costs as much as what lies in one."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Film, Review, Score
from followup.selectors.collected import collected_for
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def film(review: Review, on: date, **values: Any) -> None:
    by = review.recorded_by
    Film.objects.create(
        injury=review.procedure.injury,
        site=review.site,
        taken_on=on,
        view="zanca",
        recorded_at=NOW,
        recorded_by=by,
        changed_at=NOW,
        changed_by=by,
        **values,
    )


def test_a_window_holds_what_was_taken_from_its_first_day_to_its_last() -> None:
    review = builders.procedure().reviews.get(step__code="6w")
    for day in (review.opens_on - timedelta(days=1), review.closes_on + timedelta(days=1)):
        film(review, day)
    assert collected_for([review])[review.pk].film_views == frozenset()
    film(review, review.closes_on, shows_both_sides=True)
    found = collected_for([review])[review.pk]
    assert found.film_views == found.other_side_views == {"zanca"}
    assert (found.motion, found.scores) == (False, frozenset())


def test_up_to_a_late_visit_what_came_after_the_window_counts() -> None:
    review = builders.procedure().reviews.get(step__code="6w")
    late = review.closes_on + timedelta(days=5)
    film(review, late)
    review.attended_on = late
    assert collected_for([review])[review.pk].film_views == {"zanca"}


def test_nobody_elses_findings_are_taken_for_theirs(counted: Callable[[], Any]) -> None:
    ours, theirs = (builders.procedure().reviews.get(step__code="6w") for _ in range(2))
    film(theirs, theirs.due_on)
    many = list(Review.objects.select_related("procedure"))
    with counted() as one:
        collected_for([ours])
    with counted() as all_of_them:
        found = collected_for(many)
    assert len(one) == len(all_of_them) == 4
    assert found[ours.pk].film_views == frozenset()
    assert found[theirs.pk].film_views == {"zanca"}
    assert not Score.objects.exists()
