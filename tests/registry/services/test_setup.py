"""Sites, people, roles and construct types."""

from datetime import date
from typing import Any

import pytest
from knox.models import AuthToken

from registry.errors import BadInput, StaleVersion
from registry.models import ConstructType, Membership, Person, Site
from registry.services import passwords, setup, tokens
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def add_person(**changes: Any) -> Person:
    given: dict[str, Any] = {
        "username": "nina",
        "shown_name": "Nina New",
        "email": "",
        "password": "a long enough one",
        "by": builders.person("ada", north="administrator"),
    }
    return setup.add_person(**{**given, **changes})


def change(person: Person, *, by: Person, **changes: Any) -> Person:
    """Save a person as the page does over the version that it was shown."""
    given: dict[str, Any] = {"shown_name": "N", "email": "", "is_active": True, "password": ""}
    return setup.change_person(
        person=person, **{**given, **changes}, expected_version=person.version, by=by, now=NOW
    )


def test_shipped_construct_types_are_added_once_and_changes_are_left_alone() -> None:
    rows = [{"code": "LP", "name": "Locking plate alone", "family": "locking_plate"}]
    assert setup.load_construct_types(rows) == 1
    ConstructType.objects.update(name="Our plate")
    assert setup.load_construct_types(rows) == 0
    assert ConstructType.objects.get().name == "Our plate"


def test_whoever_adds_a_site_administers_it() -> None:
    ada = builders.person("ada", north="administrator")
    place = setup.add_site(values={"code": "west", "name": "West"}, by=ada, now=NOW, today=TODAY)
    membership = Membership.objects.get(site=place)
    assert (membership.person, membership.role) == (ada, "administrator")


def test_a_code_that_is_taken_is_refused_by_its_field() -> None:
    ada = builders.person("ada", north="administrator")
    with pytest.raises(BadInput) as refusal:
        setup.add_site(values={"code": "north", "name": "Another"}, by=ada, now=NOW, today=TODAY)
    assert "code" in refusal.value.faults


def test_a_site_saved_over_a_newer_version_is_refused() -> None:
    place = builders.site()
    ada = builders.person("ada", north="administrator")
    saved: dict[str, Any] = {"expected_version": 1, "by": ada, "now": NOW, "today": TODAY}
    setup.save_site(site=Site.objects.get(), values={"name": "Theirs"}, **saved)
    with pytest.raises(StaleVersion):
        setup.save_site(site=place, values={"name": "Mine"}, **saved)
    assert Site.objects.get().name == "Theirs"


def test_a_planned_removal_without_its_window_is_refused() -> None:
    row = builders.construct_type("LP")
    with pytest.raises(BadInput):
        setup.save_construct_type(
            row=row, values={"planned_removal": True}, expected_version=1, by=None
        )


def test_a_person_is_added_with_a_first_role() -> None:
    nina = add_person(first_role=(builders.site(), "surgeon", TODAY))
    assert nina.check_password("a long enough one")
    assert nina.memberships.get().role == "surgeon"


def test_a_taken_user_name_is_refused_whatever_its_capitals() -> None:
    add_person()
    with pytest.raises(BadInput, match="is taken"):
        add_person(username="NINA")


def test_a_person_is_found_by_user_name_or_the_refusal_says_so() -> None:
    nina = add_person()
    assert setup.person_named("Nina ") == nina
    with pytest.raises(BadInput, match="Nobody is called 'olga'"):
        setup.person_named("olga")


def test_an_administrator_cannot_shut_themselves_out() -> None:
    ada = builders.person("ada", north="administrator")
    with pytest.raises(BadInput, match="your own sign-in"):
        change(ada, is_active=False, by=ada)


def test_a_password_is_kept_unless_a_new_one_is_given() -> None:
    nina, ada = add_person(), builders.person("ada")
    for password, holds in (("", "a long enough one"), ("another long one", "another long one")):
        change(nina, password=password, by=ada)
        assert Person.objects.get(pk=nina.pk).check_password(holds)


def test_whoever_gets_a_password_is_out_with_every_token() -> None:
    nina, ada = add_person(), builders.person("ada")
    tokens.make_token(person=nina, days=30, now=NOW)
    change(nina, by=ada)
    assert AuthToken.objects.filter(user=nina).count() == 1
    change(nina, password="another long one", by=ada)
    assert not AuthToken.objects.filter(user=nina).exists()


def test_who_was_taken_off_the_sign_in_stays_off_when_an_older_page_is_saved() -> None:
    nina, ada = add_person(), builders.person("ada")
    shown = Person.objects.get(pk=nina.pk)
    change(nina, is_active=False, by=ada)
    with pytest.raises(StaleVersion):
        change(shown, email="nina@example.org", by=builders.person("bert"))
    kept = Person.objects.get(pk=nina.pk)
    assert (kept.is_active, kept.email, kept.version) == (False, "", 2)


def test_a_password_that_they_chose_meanwhile_is_not_put_back() -> None:
    nina, ada = add_person(), builders.person("ada")
    shown = Person.objects.get(pk=nina.pk)
    passwords.choose_password(person=nina, password="chosen by herself")
    saved = change(shown, email="nina@example.org", by=ada)
    assert saved.check_password("chosen by herself")
    assert not Person.objects.get(pk=nina.pk).must_change_password


def test_giving_a_role_twice_changes_nothing() -> None:
    nina = add_person()
    for _ in range(2):
        setup.grant_role(
            person=nina, site=builders.site(), role="surgeon", starts_on=TODAY, by=None
        )
    assert nina.memberships.count() == 1


def test_an_ended_role_stays_as_history() -> None:
    membership = Membership.objects.get(
        person=builders.person("selma", north="surgeon"), role="surgeon"
    )
    ada = builders.person("ada", north="administrator")
    with pytest.raises(BadInput, match="The role began"):
        setup.end_role(membership=membership, on=date(2019, 1, 1), by=ada)
    setup.end_role(membership=membership, on=TODAY, by=ada)
    assert Membership.objects.get(pk=membership.pk).ends_on == TODAY


def test_the_last_administrator_of_a_site_keeps_the_role() -> None:
    ada = builders.person("ada", north="administrator")
    only = ada.memberships.get()
    with pytest.raises(BadInput, match="Nobody else administers"):
        setup.end_role(membership=only, on=TODAY, by=ada)
    builders.person("second", north="administrator")
    assert setup.end_role(membership=only, on=TODAY, by=ada).ends_on == TODAY
