from datetime import timedelta

import pytest

from analytics.models import AlertMail, AlertMailChoice
from analytics.selectors import alert_mails as selector
from registry.models import Membership, Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_surgeons_are_those_who_hold_the_role_on_that_day(
    surgeon: Person, coordinator: Person
) -> None:
    gone, future, off = (builders.person(name, north="surgeon") for name in ("gina", "fay", "omar"))
    Membership.objects.filter(person=gone).update(ends_on=TODAY - timedelta(days=1))
    Membership.objects.filter(person=future).update(starts_on=TODAY + timedelta(days=1))
    Person.objects.filter(pk=off.pk).update(is_active=False)
    assert selector.surgeons_in_office(builders.site(), TODAY) == {surgeon.pk: surgeon}


def test_who_never_chose_is_told_at_once(surgeon: Person, coordinator: Person) -> None:
    AlertMailChoice.objects.create(person=coordinator, choice="none")
    assert selector.choices_of([surgeon.pk, coordinator.pk]) == {
        surgeon.pk: "each",
        coordinator.pk: "none",
    }
    assert (selector.choice_of(surgeon).choice, selector.choice_of(surgeon).version) == ("each", 0)
    assert selector.choice_of(coordinator).version == 1


def test_what_did_not_go_of_late_is_counted(surgeon: Person) -> None:
    for number, (state, days) in enumerate(
        [("failed", 1), ("unknown", 2), ("failed", 20), ("waiting", 0)]
    ):
        AlertMail.objects.create(
            site=builders.site(),
            person=surgeon,
            kind="notice",
            key=f"k{number}",
            state=state,
            wanted_at=NOW - timedelta(days=days),
        )
    assert selector.not_gone(surgeon, NOW) == 2
