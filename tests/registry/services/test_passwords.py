"""Passwords: chosen by the person, or given by an administrator for one sign-in."""

import pytest

from registry.errors import BadInput
from registry.models import AuditEntry, Person
from registry.services import passwords
from tests import builders

pytestmark = pytest.mark.django_db


def test_a_password_of_ones_own_need_not_be_changed_and_is_in_the_trail_without_itself() -> None:
    selma = builders.person("selma")
    Person.objects.filter(pk=selma.pk).update(must_change_password=True)
    selma.refresh_from_db()
    passwords.choose_password(person=selma, password="four words of mine")
    selma.refresh_from_db()
    assert selma.check_password("four words of mine")
    assert not selma.must_change_password
    entry = AuditEntry.objects.filter(table="registry_person").order_by("-pk")[0]
    assert (entry.person_id, entry.reason) == (selma.pk, "chose a new password")
    assert "password" not in entry.after


def test_a_password_from_somebody_else_has_to_be_changed() -> None:
    selma, ada = builders.person("selma"), builders.person("ada")
    passwords.give_password(person=selma, password="four words of ada", by=ada)
    assert selma.must_change_password
    assert selma.check_password("four words of ada")


def test_nobody_gives_themself_one_without_the_old_one() -> None:
    ada = builders.person("ada")
    with pytest.raises(BadInput, match="present one"):
        passwords.give_password(person=ada, password="four words of ada", by=ada)
    assert not ada.check_password("four words of ada")
