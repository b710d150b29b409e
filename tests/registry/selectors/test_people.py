"""People by their roles at a site."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from registry.models import Membership, Person
from registry.selectors.people import people_here, surgeons_at, wholly_here
from registry.selectors.visible import may
from tests import builders
from tests.builders import TODAY

pytestmark = pytest.mark.django_db


def test_former_surgeons_are_still_offered_for_old_operations(coordinator: Person) -> None:
    selma = builders.person("selma", north="surgeon")
    builders.person("otto", south="surgeon")
    Membership.objects.filter(person=selma).update(ends_on=TODAY)
    assert list(surgeons_at(builders.site())) == [selma]


def test_an_administrator_sees_the_people_of_their_own_sites_only(
    administrator: Person, surgeon: Person, outsider: Person
) -> None:
    assert set(people_here(administrator)) == {administrator, surgeon}
    assert set(people_here(outsider)) == {outsider}
    assert not people_here(surgeon).exists()


def test_only_the_roles_at_their_own_sites_are_shown(administrator: Person) -> None:
    builders.person("both", north="surgeon", south="surgeon")
    shown = people_here(administrator).get(username="both")
    assert [role.site.code for role in shown.roles_here] == ["north"]


def test_somebody_who_works_elsewhere_too_is_not_wholly_here(administrator: Person) -> None:
    both = builders.person("both", north="surgeon", south="surgeon")
    assert not wholly_here(administrator, both)
    there = Membership.objects.filter(person=both, site__code="south")
    today = timezone.localdate()
    # A role that ends opens its site until its last day is over.
    for last, wholly in ((90, False), (0, False), (-1, True)):
        there.update(ends_on=today + timedelta(days=last))
        assert wholly_here(administrator, both) is wholly


def test_listing_people_costs_the_same_for_ten_and_for_two_hundred(
    administrator: Person, counted: Any
) -> None:
    may(administrator, "enrol")  # the roles are asked for once, whatever the number of rows
    cost = []
    for number in (10, 200):
        for index in range(Person.objects.count(), number):
            builders.person(f"somebody{index}", north="surgeon")
        with counted() as queries:
            for one in people_here(administrator)[:50]:
                assert [str(role.site) for role in one.roles_here]
        cost.append(len(queries))
    assert cost[0] == cost[1]
