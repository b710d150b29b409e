"""Which second and third readings wait for whom, and what a film is compared with."""

from datetime import date
from typing import Any

import pytest

from followup.models import WantedReading
from followup.selectors import second_readings as selector
from followup.services import second_readings as service
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.twice import film, policy, read, readers

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_queue_has_ones_own_first_and_nothing_that_another_took() -> None:
    policy()
    one, two, three = readers()
    for shown in [film() for _ in range(3)]:
        read(shown, one)
    first, second, third = WantedReading.objects.order_by("id")
    service.take(wanted=third, by=two, now=NOW, expected_version=1)
    assert list(selector.wanted_for(two, 2)) == [third, first, second]
    assert list(selector.wanted_for(three, 2)) == [first, second]
    assert list(selector.wanted_for(one, 2)) == []
    assert selector.numbers_waiting(two) == {2: 3, 3: 0}


def test_of_another_site_nothing_waits(outsider: Person) -> None:
    policy()
    read(film(), readers(1)[0])
    row = WantedReading.objects.get()
    assert not selector.wanted_for(outsider, 2).exists()
    assert selector.wanted_reading(outsider, row.pk) is None
    assert selector.wanted_reading(readers(1)[0], row.pk) == row


def test_blind_is_who_took_a_drawn_one_and_who_may_not_open_the_course() -> None:
    policy()
    one, two, three = readers()
    shown = film()
    assert selector.hidden_from(one, shown, None, course=False) is None
    first = read(shown, one)
    assert selector.hidden_from(one, shown, first, course=False) is None
    outside = selector.hidden_from(three, shown, None, course=False)
    assert outside is not None
    assert (outside.turn, outside.number, outside.wanted) == (2, shown.pk, None)
    assert outside.words == f"Film number {shown.pk}"
    assert not outside.may_give_back
    assert selector.hidden_from(two, shown, None, course=True) is None
    row = WantedReading.objects.get()
    service.take(wanted=row, by=two, now=NOW, expected_version=1)
    taken = selector.hidden_from(two, shown, None, course=True)
    assert taken is not None
    assert (taken.turn, taken.number, taken.may_give_back) == (2, row.pk, True)
    second = read(shown, two)
    done = selector.hidden_from(two, shown, second, course=True)
    assert done is not None
    assert not done.may_give_back
    openly = read(shown, three, blind=False)
    assert selector.hidden_from(three, shown, openly, course=True) is None


def test_readings_come_in_the_order_of_their_turns_and_only_the_present_ones() -> None:
    one, two, _ = readers()
    shown = film()
    read(shown, one)
    second = read(shown, two)
    first = read(shown, one, "11.0")
    assert selector.read_so_far([shown.pk])[shown.pk] == [first, second]
    assert selector.lengths_of(first).ccd_mm == 11.0
    assert selector.lengths_of(first).ratio_pct == pytest.approx(10)


def test_a_film_is_compared_with_the_first_after_the_last_fixation(
    django_assert_num_queries: Any,
) -> None:
    one, two, _ = readers()
    hurt = builders.procedure(performed_on=date(2026, 6, 5)).injury
    before = film(hurt, date(2026, 6, 3))
    first = film(hurt, date(2026, 6, 8))
    second = film(hurt, date(2026, 6, 20))
    late = film(hurt, date(2026, 8, 1))
    for shown, length in ((before, "20"), (first, "9.0"), (second, "9.9"), (late, "12.0")):
        read(shown, one, length)
    read(first, two, "30")
    with django_assert_num_queries(2):
        found = selector.baselines_of([before, first, second, late])
    assert found == {second.pk: 9.0, late.pk: 9.0}
