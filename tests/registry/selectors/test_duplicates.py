"""Pairs of patients who may be one person."""

from datetime import date
from typing import Any

import pytest

from registry.errors import NotAllowed
from registry.models import Patient, Person
from registry.selectors import duplicates
from registry.selectors.visible import may
from registry.services import merges
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def there(**changes: Any) -> Patient:
    values = {"family_name": "Invented", "given_name": "Iris", **changes}
    born = values.pop("born", date(1984, 3, 12))
    return builders.patient(birth_earliest=born, birth_latest=born, **values)


def pairs(user: Person) -> list[tuple[Patient, Patient]]:
    found = duplicates.PossiblePairs(user)
    listed = duplicates.pairs_of(user, found[0:50])
    assert found.count() == len(listed)
    return [(pair.one.patient, pair.other.patient) for pair in listed]


@pytest.mark.parametrize(
    "differs",
    [
        {},
        {"given_name": "Irene"},
        {"family_name": "Other"},
        {"family_name": "Iris", "given_name": "Invented"},
        {"born": date(1984, 12, 3)},
        {"family_name": "INVENTED"},
    ],
)
def test_entries_that_are_alike_are_paired_once(
    coordinator: Person, differs: dict[str, Any]
) -> None:
    one, other = there(), there(**differs)
    assert pairs(coordinator) == [(one, other)]


@pytest.mark.parametrize(
    "differs",
    [
        {"family_name": "Other", "given_name": "Otto"},
        {"family_name": "Other", "born": date(1950, 1, 1)},
    ],
)
def test_entries_of_different_people_are_not_paired(
    coordinator: Person, differs: dict[str, Any]
) -> None:
    there()
    there(**differs)
    assert pairs(coordinator) == []


def test_one_phone_and_one_name_make_a_pair(coordinator: Person) -> None:
    one = there(phone="0555 1")
    other = there(phone="0555 1", family_name="Other", born=date(1950, 1, 1))
    assert pairs(coordinator) == [(one, other)]


def test_those_said_to_be_two_people_are_not_offered_again(coordinator: Person) -> None:
    one, other, third = there(), there(), there()
    merges.say_two_people(one=one, other=other, by=coordinator, now=NOW)
    assert pairs(coordinator) == [(other, third), (one, third)]


def test_entries_at_sites_that_are_not_mine_are_never_paired(coordinator: Person) -> None:
    there()
    there(at=builders.site("south"))
    assert pairs(coordinator) == []


def test_a_merged_entry_is_a_pair_no_more_and_is_listed_among_the_merges(
    coordinator: Person,
) -> None:
    one, other = there(), there()
    done = merges.merge_patients(
        kept=one,
        merged=other,
        reason="passport",
        kept_version=1,
        merged_version=1,
        by=coordinator,
        now=NOW,
    )
    assert pairs(coordinator) == []
    assert list(duplicates.merges_here(coordinator)) == [done]


def test_another_sites_merges_are_not_listed(outsider: Person) -> None:
    one, other = there(), there()
    merges.merge_patients(
        kept=one,
        merged=other,
        reason="passport",
        kept_version=1,
        merged_version=1,
        by=one.recorded_by,
        now=NOW,
    )
    assert not duplicates.merges_here(outsider).exists()


def test_what_tells_two_entries_apart_is_laid_side_by_side(coordinator: Person) -> None:
    hurt = builders.injury(there())
    shown = duplicates.beside(coordinator, hurt.patient)
    assert shown.injuries == ("Left shoulder, 2026",)
    assert shown.sites == ("North Hospital",)
    assert len(shown.numbers) == 1


def test_somebody_without_a_site_to_search_is_refused(quality_lead: Person) -> None:
    with pytest.raises(NotAllowed):
        duplicates.PossiblePairs(quality_lead)


def test_pairing_costs_the_same_for_ten_and_for_two_hundred(
    coordinator: Person, counted: Any
) -> None:
    may(coordinator, "enrol")  # the roles are asked for once, whatever the number of rows
    cost = []
    for number in (10, 200):
        while Patient.objects.count() < number:
            there(family_name=f"Name{Patient.objects.count() // 2}")
        with counted() as queries:
            assert duplicates.pairs_of(coordinator, duplicates.PossiblePairs(coordinator)[0:25])
        cost.append(len(queries))
    assert cost[0] == cost[1]
