from datetime import timedelta
from typing import Any

import pytest

from analytics.models import LossAlert
from analytics.selectors import alerts as selector
from registry.models import Membership, Person
from tests import builders
from tests.analytics.losses import alerted
from tests.analytics.records import reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def waits(user: Person, **more: Any) -> list[LossAlert]:
    return list(selector.waiting(user, TODAY, **more))


def test_a_surgeon_has_the_own_cases_and_may_look_at_the_whole_site(surgeon: Person) -> None:
    colleague = builders.person("sven", north="surgeon")
    own, other = alerted(surgeon=surgeon), alerted(surgeon=colleague)
    alerted(site="south", surgeon=builders.person("sofia", south="surgeon"))
    assert waits(surgeon) == [own]
    assert waits(surgeon, whole_site=True) == [own, other]
    assert waits(colleague) == [other]


def test_lost_comes_before_near_and_the_oldest_first(surgeon: Person) -> None:
    near = alerted("11.5", surgeon=surgeon)
    late, early = (alerted(surgeon=surgeon) for _ in range(2))
    LossAlert.objects.filter(pk=early.pk).update(raised_at=NOW - timedelta(days=2))
    assert waits(surgeon) == [early, late, near]


def test_whose_surgeon_has_left_or_is_not_known_is_for_every_surgeon_of_the_site(
    surgeon: Person,
) -> None:
    leaver = builders.person("lars", north="surgeon")
    orphan, nobodys = alerted(surgeon=leaver), alerted(surgeon=None)
    assert waits(surgeon) == [nobodys]
    Membership.objects.filter(person=leaver).update(ends_on=TODAY - timedelta(days=1))
    assert waits(surgeon) == [orphan, nobodys]
    Membership.objects.filter(person=leaver).update(ends_on=TODAY)
    assert waits(surgeon) == [nobodys]
    Person.objects.filter(pk=leaver.pk).update(is_active=False)
    assert waits(surgeon) == [orphan, nobodys]
    assert waits(builders.person("olga", south="surgeon")) == []


def test_without_the_right_there_is_nothing(
    coordinator: Person, quality_lead: Person, outsider: Person
) -> None:
    alerted()
    for user in (coordinator, quality_lead, outsider):
        assert waits(user) == []
        assert waits(user, whole_site=True) == []


def test_a_line_has_the_first_film_and_this_one_with_their_numbers(surgeon: Person) -> None:
    (line,) = selector.lines([alerted("13.2", surgeon=surgeon)], NOW, TODAY)
    first, this = line.films
    assert (first.words, first.number, first.seen.day) == ("First film", "CC distance 9.0 mm", 2)
    assert (this.words, this.seen.day) == ("This film", 90)
    assert this.number == "CC distance 13.2 mm, 4.2 mm above the first film"
    assert (first.short, this.short) == ("9.0 mm", "13.2 mm")
    assert line.sentence.startswith("Lost: on the Zanca film of")
    assert line.days_old == 0


def test_a_near_case_stands_beside_its_last_film(surgeon: Person) -> None:
    alert = alerted("11.0", surgeon=surgeon)
    reading(alert.procedure, 120, "11.5")
    (line,) = selector.lines([alert], NOW, TODAY)
    assert line.films[1].seen.day == 120


def test_a_definition_that_ships_no_more_leaves_the_alert_readable(surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    alert.definition_version = 99
    (line,) = selector.lines([alert], NOW, TODAY)
    assert line.films == ()
    assert "ships no more" in line.sentence


def test_what_was_planned_or_taken_back_of_late_is_told(surgeon: Person) -> None:
    planned, wrong, old = (alerted(surgeon=surgeon) for _ in range(3))
    LossAlert.objects.filter(pk=planned.pk).update(state="planned", plan="observe", due_on=TODAY)
    for row, days in ((wrong, 1), (old, 15)):
        LossAlert.objects.filter(pk=row.pk).update(
            state="taken_back", closed_at=NOW - timedelta(days=days), closed_because="read again"
        )
    found = selector.settled(surgeon, TODAY, NOW, whole_site=False)
    assert {one.pk for one in found} == {planned.pk, wrong.pk}


def test_lines_cost_the_same_for_one_and_for_many(surgeon: Person, counted: Any) -> None:
    alerted(surgeon=surgeon)
    costs = []
    for more in (0, 8):
        for _ in range(more):
            alerted(surgeon=surgeon)
        rows = waits(surgeon)
        with counted() as queries:
            selector.lines(rows, NOW, TODAY)
        costs.append(len(queries))
    assert costs[0] == costs[1]
