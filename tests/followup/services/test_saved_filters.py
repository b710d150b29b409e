"""Views of the Due list under a name: one's own, each name once, one start view."""

import pytest

from followup.models import SavedFilter
from followup.services import saved_filters as service
from registry.errors import BadInput
from registry.models import Person

pytestmark = pytest.mark.django_db


def names(person: Person) -> dict[str, bool]:
    return {row.name: row.is_start for row in SavedFilter.objects.filter(person=person)}


def test_a_view_is_kept_and_the_last_start_view_is_the_one(coordinator: Person) -> None:
    service.save_filter(person=coordinator, name=" Late ", query="show=late", is_start=True)
    row = service.save_filter(person=coordinator, name="Mine", query="clinic=3", is_start=True)
    assert names(coordinator) == {"Late": False, "Mine": True}
    service.make_start(row=row)
    assert names(coordinator) == {"Late": False, "Mine": True}
    service.end_start(person=coordinator)
    assert names(coordinator) == {"Late": False, "Mine": False}


def test_a_name_is_taken_once_by_each_person(coordinator: Person, surgeon: Person) -> None:
    service.save_filter(person=coordinator, name="Late", query="show=late")
    service.save_filter(person=surgeon, name="Late", query="show=late", is_start=True)
    with pytest.raises(BadInput, match="already"):
        service.save_filter(person=coordinator, name="late", query="show=all")
    assert names(coordinator) == {"Late": False}


def test_nobody_keeps_more_than_fit_a_page(coordinator: Person) -> None:
    for number in range(service.MOST):
        service.save_filter(person=coordinator, name=f"View {number}", query="show=all")
    with pytest.raises(BadInput, match="delete one first"):
        service.save_filter(person=coordinator, name="One more", query="show=all")


@pytest.mark.parametrize("name", ["", " ", "x" * 61])
def test_a_view_without_a_fitting_name_is_refused(coordinator: Person, name: str) -> None:
    with pytest.raises(BadInput):
        service.save_filter(person=coordinator, name=name, query="show=all")
    assert names(coordinator) == {}


def test_a_view_is_forgotten(coordinator: Person) -> None:
    row = service.save_filter(person=coordinator, name="Late", query="show=late")
    service.delete_filter(row=row)
    assert names(coordinator) == {}
