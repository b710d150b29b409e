"""Background work has a name of its own, with which nobody can sign in."""

import pytest

from registry.models import Membership, Person
from registry.services.background import background_person

pytestmark = pytest.mark.django_db


def test_the_service_itself_is_one_person_however_often_it_is_asked_for() -> None:
    assert background_person() == background_person()
    assert Person.objects.count() == 1


def test_nobody_can_sign_in_as_the_service_itself() -> None:
    itself = background_person()
    assert not itself.is_active
    assert not itself.has_usable_password()
    assert not Membership.objects.filter(person=itself).exists()
