"""Setting up sites, people and construct types."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import ConstructType, Membership, Person, Site
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def site(**changes: Any) -> dict[str, Any]:
    return {
        "version": "1",
        "code": "north",
        "name": "North",
        "time_zone": "Europe/London",
        "holiday_country": "gb",
        "holiday_subdivision": "ENG",
        "min_at_risk": "5",
        **changes,
    }


def kind(**changes: Any) -> dict[str, Any]:
    return {
        "version": "1",
        "code": "HP",
        "name": "Hook plate",
        "family": "hook_plate",
        "planned_removal": "on",
        "removal_opens_weeks": "10",
        "removal_due_weeks": "14",
        "order": "1",
        "is_active": "on",
        "source_note": "our policy of May 2026",
        **changes,
    }


def person(**changes: Any) -> dict[str, Any]:
    return {
        "username": "nina",
        "shown_name": "Nina New",
        "password": "correct horse battery",
        "site": builders.site().pk,
        "role": "surgeon",
        **changes,
    }


def test_the_first_page_lists_the_sections_and_says_the_caution_once(here: Client) -> None:
    page = here.get(reverse("setup")).content.decode()
    for name in ("setup-sites", "setup-people", "setup-construct-types"):
        assert reverse(name) in page
    assert "under its surgeons' authority" in page.replace("&#x27;", "'")


@pytest.mark.parametrize(
    "name",
    ["setup", "setup-sites", "setup-site-add", "setup-people", "setup-construct-types"],
)
def test_only_an_administrator_sets_up(client: Client, surgeon: Person, name: str) -> None:
    client.force_login(surgeon)
    assert client.get(reverse(name)).status_code == 403


def test_a_site_is_added_and_seen_by_whoever_added_it(here: Client) -> None:
    here.post(reverse("setup-site-add"), site(code="west", name="West"))
    assert Site.objects.get(code="west").holiday_country == "GB"
    assert "West" in here.get(reverse("setup-sites")).content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"holiday_country": "QQ"}, "No holidays are known"),
        ({"holiday_subdivision": "QQ"}, "is not a part of"),
        ({"min_at_risk": "0"}, "greater than or equal to 1"),
        ({"code": "with space"}, "slug"),
        ({"time_zone": "Moon/Base"}, "not one of the available choices"),
    ],
)
def test_a_faulty_site_is_refused_by_its_field(
    here: Client, changes: dict[str, str], words: str
) -> None:
    where = reverse("setup-site", args=[builders.site().pk])
    assert words in here.post(where, site(**changes)).content.decode()
    assert Site.objects.get().version == 1


def test_two_administrators_see_both_versions_of_a_site(here: Client) -> None:
    where = reverse("setup-site", args=[builders.site().pk])
    here.post(where, site(name="Theirs"))
    answer = here.post(where, site(name="Mine"))
    assert answer.status_code == 409
    assert "<td>Theirs</td><td>Mine</td>" in answer.content.decode()
    here.post(where, site(name="Mine", version="2"))
    assert Site.objects.get().name == "Mine"


def test_another_sites_row_is_not_there(here: Client) -> None:
    where = reverse("setup-site", args=[builders.site("south").pk])
    assert here.get(where).status_code == 404


def test_a_removal_window_is_set_and_a_reversed_one_refused(here: Client) -> None:
    row = builders.construct_type("HP")
    where = reverse("setup-construct-type", args=[row.pk])
    refused = here.post(where, kind(removal_due_weeks="8"))
    assert "This is before week 10" in refused.content.decode()
    lacking = here.post(where, kind(removal_due_weeks=""))
    assert "A planned removal needs this week" in lacking.content.decode()
    here.post(where, kind())
    assert ConstructType.objects.get().removal_opens_weeks == 10


def test_a_construct_type_is_added_and_a_taken_code_refused(here: Client) -> None:
    builders.construct_type("HP")
    where = reverse("setup-construct-type-add")
    page = here.post(where, kind(name="Another")).content.decode()
    assert "already exists" in page
    here.post(where, kind(code="HP2", name="Second hook plate"))
    assert ConstructType.objects.count() == 2


def test_a_person_is_added_with_a_first_role(here: Client) -> None:
    here.post(reverse("setup-person-add"), person())
    nina = Person.objects.get(username="nina")
    assert nina.memberships.get().role == "surgeon"
    assert nina.check_password("correct horse battery")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"password": "short"}, "too short"),
        ({"username": "ADA"}, "is taken"),
        ({"role": "king"}, "not one of the available choices"),
    ],
)
def test_a_faulty_person_is_refused_by_the_field(
    here: Client, changes: dict[str, str], words: str
) -> None:
    answer = here.post(reverse("setup-person-add"), person(**changes))
    assert words in answer.content.decode()
    assert not Person.objects.filter(username="nina").exists()


def test_a_role_cannot_be_given_at_a_site_that_is_not_mine(here: Client) -> None:
    foreign = builders.site("south")
    here.post(reverse("setup-person-add"), person(site=foreign.pk))
    assert not Membership.objects.filter(site=foreign).exists()


def test_a_role_is_given_and_ended(here: Client, surgeon: Person) -> None:
    grant = reverse("setup-role-grant", args=[surgeon.pk])
    here.post(grant, {"site": builders.site().pk, "role": "film_reader", "starts_on": "2026-11-25"})
    given = surgeon.memberships.get(role="film_reader")
    end = reverse("setup-role-end", args=[given.pk])
    assert "The role began" in here.post(end, {"ends_on": "2026-11-01"}).content.decode()
    here.post(end, {"ends_on": "2026-12-31"})
    assert str(surgeon.memberships.get(role="film_reader").ends_on) == "2026-12-31"


def test_somebody_from_another_site_is_given_a_role_by_user_name(
    here: Client, outsider: Person
) -> None:
    where = reverse("setup-role-known")
    sent = {"site": builders.site().pk, "role": "surgeon", "starts_on": "2026-11-25"}
    assert "Nobody is called" in here.post(where, {**sent, "username": "olga"}).content.decode()
    here.post(where, {**sent, "username": "otto"})
    assert outsider.memberships.filter(site=builders.site(), role="surgeon").exists()


def test_a_person_may_lose_the_sign_in(here: Client, surgeon: Person) -> None:
    where = reverse("setup-person", args=[surgeon.pk])
    here.post(where, {"version": "1", "shown_name": "Selma", "email": "", "password": ""})
    surgeon.refresh_from_db()
    assert not surgeon.is_active


def test_a_page_from_before_the_sign_in_was_taken_away_is_a_conflict(
    here: Client, surgeon: Person
) -> None:
    where = reverse("setup-person", args=[surgeon.pk])
    shown = {"version": here.get(where).context["form"]["version"].value(), "shown_name": "Selma"}
    here.post(where, shown)
    sent = {**shown, "email": "selma@example.org", "is_active": "on"}
    answer = here.post(where, sent)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Somebody else saved this first" in page
    assert '<th scope="row">May sign in</th><td>no</td><td>yes</td>' in page
    surgeon.refresh_from_db()
    assert (surgeon.is_active, surgeon.email) == (False, "")
    # Whoever has seen it may decide otherwise.
    here.post(where, {**sent, "version": "2"})
    surgeon.refresh_from_db()
    assert surgeon.is_active


def test_the_password_of_somebody_who_also_works_elsewhere_is_not_mine_to_set(
    here: Client,
) -> None:
    both = builders.person("both", north="surgeon", south="surgeon")
    where = reverse("setup-person", args=[both.pk])
    assert "also works at a site" in here.get(where).content.decode()
    sent = {"shown_name": "Both", "is_active": "on", "password": "correct horse battery"}
    assert here.post(where, sent).status_code == 403
    both.refresh_from_db()
    assert not both.check_password("correct horse battery")
