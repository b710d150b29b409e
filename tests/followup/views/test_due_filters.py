"""Views of the Due list, kept under a name."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import SavedFilter
from registry.models import Person

pytestmark = [pytest.mark.usefixtures("defaults")]


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def keep(client: Client, name: str, query: str = "show=late", **more: str) -> str:
    sent = {"name": name, "query": query, **more}
    answer: Any = client.post(reverse("due-filter-save"), sent, follow=True)
    return str(answer.content.decode())


def test_a_view_is_kept_as_a_link_and_forgotten(here: Client) -> None:
    shown = keep(here, "My late ones")
    assert '<a href="?show=late" aria-current="page">My late ones</a>' in shown
    row = SavedFilter.objects.get()
    here.post(reverse("due-filter-delete", args=[row.pk]))
    assert not SavedFilter.objects.exists()


def test_what_means_nothing_is_not_kept(here: Client) -> None:
    keep(here, "Odd", query="show=everything&clinic=x&week=soon&surgeon=4&evil=<script>")
    assert SavedFilter.objects.get().query == "show=all&surgeon=4"


def test_the_start_view_opens_first_and_everything_stays_a_link_away(here: Client) -> None:
    keep(here, "Late", is_start="on")
    assert here.get(reverse("due")).url == f"{reverse('due')}?show=late"
    assert here.get(reverse("due"), {"show": "all"}).status_code == 200
    row = SavedFilter.objects.get()
    here.post(reverse("due-filter-start", args=[row.pk]))
    assert here.get(reverse("due")).status_code == 200
    here.post(reverse("due-filter-start", args=[row.pk]))
    assert here.get(reverse("due")).status_code == 302


@pytest.mark.parametrize("name", ["", "x" * 61])
def test_a_view_without_a_fitting_name_is_said(here: Client, name: str) -> None:
    assert "nothing was kept" in keep(here, name)


def test_a_name_that_is_taken_is_said(here: Client) -> None:
    keep(here, "Late")
    assert "You have a view called &#x27;late&#x27; already" in keep(here, "late")


@pytest.mark.parametrize("name", ["due-filter-start", "due-filter-delete"])
def test_another_persons_view_is_not_there(here: Client, surgeon: Person, name: str) -> None:
    theirs = SavedFilter.objects.create(person=surgeon, name="Theirs", query="show=late")
    assert here.post(reverse(name, args=[theirs.pk])).status_code == 404
    assert "Theirs" not in here.get(reverse("due")).content.decode()
    assert SavedFilter.objects.count() == 1
