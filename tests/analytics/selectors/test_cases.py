from typing import Any

import pytest

from analytics.selectors import cases
from registry.models import Person
from registry.services import voiding
from tests.analytics.records import operation
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_only_the_wanted_cases_of_ones_own_sites_are_listed(quality_lead: Person) -> None:
    mine, unwanted, foreign = operation(), operation(), operation("south")
    page = cases.page_of(quality_lead, [mine.pk, foreign.pk], None)
    assert list(page) == [mine]
    assert unwanted not in page


def test_a_person_without_the_right_sees_none(coordinator: Person, outsider: Person) -> None:
    mine = operation()
    for user in (coordinator, outsider):
        assert list(cases.page_of(user, [mine.pk], None)) == []


def test_a_long_list_is_turned_page_by_page_the_last_recorded_first(
    quality_lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cases, "PER_PAGE", 2)
    one, two, three = (operation() for _ in range(3))
    keys = [one.pk, two.pk, three.pk]
    first, second = (cases.page_of(quality_lead, keys, number) for number in ("1", "2"))
    assert (list(first), list(second)) == ([three, two], [one])
    assert first.paginator.count == 3
    assert list(cases.page_of(quality_lead, keys, "many")) == [three, two]


def test_a_case_voided_since_the_snapshot_is_left_out(quality_lead: Person) -> None:
    mine, wrong = operation(), operation()
    voiding.void_row(
        row=wrong, reason="entered twice", expected_version=1, by=wrong.recorded_by, now=NOW
    )
    assert list(cases.page_of(quality_lead, [mine.pk, wrong.pk], None)) == [mine]


def test_a_page_costs_the_same_however_many_keys_stand_behind_it(
    quality_lead: Person, counted: Any
) -> None:
    mine = operation()
    counts = []
    cases.page_of(quality_lead, [mine.pk], None)
    for keys in ([mine.pk], [mine.pk, *range(10**6, 10**6 + 300_000)]):
        with counted() as queries:
            page = cases.page_of(quality_lead, keys, "99999")
            [(row.injury.patient.key, str(row.construct), row.site.name) for row in page]
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_code_is_named_and_one_that_is_nobodys_is_not() -> None:
    assert cases.construct_names({"HP", "XX"}) == {"HP": "Hook plate"}
