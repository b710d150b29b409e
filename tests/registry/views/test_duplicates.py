"""Possible duplicates: comparing, merging, undoing."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, Patient, PatientMerge, Person, TwoPeople
from tests import builders
from tests.looked import named_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def pair() -> tuple[Patient, Patient]:
    return tuple(builders.patient(family_name="Invented") for _ in range(2))  # type: ignore[return-value]


def compare(one: Patient, other: Patient) -> str:
    return f"{reverse('duplicates-merge')}?one={one.key}&other={other.key}"


def merging(kept: Patient, *both: Patient) -> dict[str, Any]:
    versions = {f"version-{one.key}": one.version for one in both}
    return {"kept": kept.key, "reason": "same passport", **versions}


def test_a_pair_is_listed_with_the_way_to_compare(here: Client) -> None:
    one, other = pair()
    page = here.get(reverse("duplicates")).content.decode()
    assert f"one={one.key}&amp;other={other.key}" in page
    assert "likely one person" in page


def test_without_pairs_the_page_teaches(here: Client) -> None:
    assert "No entries look alike" in here.get(reverse("duplicates")).content.decode()


def test_both_entries_stand_side_by_side_and_the_reading_is_written_down(here: Client) -> None:
    one, other = pair()
    page = here.get(compare(one, other)).content.decode()
    assert one.identifiers.get().value in page
    assert other.identifiers.get().value in page
    assert AuditEntry.objects.filter(action="read", reason="duplicates-merge").count() == 2


def test_a_merge_keeps_the_entry_that_was_chosen_and_can_be_undone(here: Client) -> None:
    one, other = pair()
    here.post(compare(one, other), merging(other, one, other))
    done = PatientMerge.objects.get()
    assert (done.kept, done.merged, done.reason) == (other, one, "same passport")
    assert (
        reverse("duplicates-undo", args=[done.pk])
        in here.get(reverse("duplicates")).content.decode()
    )
    here.post(reverse("duplicates-undo", args=[done.pk]))
    assert Patient.objects.filter(merged_into__isnull=True).count() == 2


def test_undoing_twice_is_refused_in_words(here: Client) -> None:
    one, other = pair()
    here.post(compare(one, other), merging(one, one, other))
    where = reverse("duplicates-undo", args=[PatientMerge.objects.get().pk])
    here.post(where)
    again = here.post(where)
    assert again.status_code == 400
    assert "This merge" in again.content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [({"reason": ""}, "Say how you know"), ({"kept": ""}, "This field is required")],
)
def test_a_merge_that_lacks_something_is_refused_by_its_field(
    here: Client, changes: dict[str, str], words: str
) -> None:
    one, other = pair()
    answer = here.post(compare(one, other), {**merging(one, one, other), **changes})
    assert words in answer.content.decode()
    assert not PatientMerge.objects.exists()


def test_a_merge_over_a_newer_version_is_refused(here: Client) -> None:
    one, other = pair()
    sent = merging(one, one, other)
    sent[f"version-{other.key}"] = "7"
    assert "changed by somebody else" in here.post(compare(one, other), sent).content.decode()
    assert not PatientMerge.objects.exists()


def test_two_people_are_not_offered_again(here: Client) -> None:
    one, other = pair()
    here.post(compare(one, other), {"two_people": "yes"})
    assert TwoPeople.objects.exists()
    assert "No entries look alike" in here.get(reverse("duplicates")).content.decode()


def test_an_entry_of_another_site_cannot_be_compared(here: Client) -> None:
    mine, foreign = builders.patient(), builders.patient(at=builders.site("south"))
    assert here.get(compare(mine, foreign)).status_code == 404
    assert here.get(reverse("duplicates-merge")).status_code == 404


def test_another_sites_merge_cannot_be_undone(
    here: Client, client: Client, outsider: Person
) -> None:
    one, other = pair()
    here.post(compare(one, other), merging(one, one, other))
    client.force_login(outsider)
    where = reverse("duplicates-undo", args=[PatientMerge.objects.get().pk])
    assert client.post(where).status_code == 404
    assert client.get(where).status_code == 405


def test_whom_the_page_named_is_written_down(here: Client) -> None:
    both = pair()
    here.get(reverse("duplicates"))
    assert named_on("duplicates") == [sorted(one.key for one in both)]
