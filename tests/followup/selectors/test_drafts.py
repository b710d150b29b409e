from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from followup.selectors import drafts
from followup.services import drafts as service
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_those_who_are_there_are_told_the_longest_first_in_one_query(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    review = builders.procedure().reviews.get(step__code="6m")
    for number in range(3):
        somebody = builders.person(f"second{number}", north="surgeon")
        at = NOW - timedelta(seconds=number)
        service.mark_present(review=review, by=somebody, now=at)
    with counted() as queries:
        found = [one.person.username for one in drafts.others_at(surgeon, review, NOW)]
    assert found == ["second2", "second1", "second0"]
    assert len(queries) == 1


def test_another_visits_page_does_not_count(surgeon: Person) -> None:
    one, other = builders.procedure().reviews.all()[:2]
    somebody = builders.person("second", north="surgeon")
    service.mark_present(review=one, by=somebody, now=NOW)
    assert drafts.others_at(surgeon, other, NOW) == []
    assert drafts.draft_of(somebody, other) is None
