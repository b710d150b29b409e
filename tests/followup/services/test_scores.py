"""Completed instruments."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Score
from followup.services import scores
from registry.errors import BadInput
from registry.models import AuditEntry, Injury
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db

DAY = date(2026, 7, 17)


def scored(of: Injury | None = None, **values: Any) -> Score:
    hurt = of or builders.injury()
    given = {"instrument": "pain_nrs", "taken_on": DAY, **values}
    return scores.record_score(injury=hurt, by=hurt.recorded_by, now=NOW, today=TODAY, **given)


def test_a_total_keeps_its_instrument_and_the_version_of_it() -> None:
    scored(instrument="quickdash", total=22.7, mode="phone")
    kept = Score.objects.get()
    assert (kept.instrument, kept.instrument_version) == ("quickdash", "2006")
    assert (kept.value, kept.mode) == (Decimal("22.70"), "phone")


def test_a_total_of_nought_is_a_number_and_not_a_gap() -> None:
    assert scored(total=0).value == 0


def test_numbered_answers_become_the_score_and_are_kept() -> None:
    # Eleven items of one: (11/11 - 1) x 25, the formula beside the instrument's rule.
    kept = scored(instrument="quickdash", items=dict.fromkeys(range(1, 12), 2))
    assert kept.value == Decimal("25.0")
    assert kept.items == {str(number): 2 for number in range(1, 12)}


def test_too_many_missing_answers_are_kept_as_not_computable_with_the_reason() -> None:
    kept = scored(instrument="quickdash", items=dict.fromkeys(range(1, 9), 2))
    kept.refresh_from_db()
    assert kept.value is None
    assert kept.not_computable_reason
    assert len(kept.items) == 8


@pytest.mark.parametrize(
    ("values", "field", "says"),
    [
        ({"total": 10.5}, "pain_nrs", "10.5 is outside 0 to 10"),
        ({"total": -1}, "pain_nrs", "-1 is outside 0 to 10"),
        ({"instrument": "guess", "total": 5}, "instrument", "'guess' is not known; choose one of"),
        ({"total": 5, "taken_on": date(2026, 11, 26)}, "taken_on", "2026-11-26 is in the future"),
        ({"total": 5, "taken_on": date(2026, 5, 31)}, "taken_on", "or before the injury"),
    ],
)
def test_a_score_that_cannot_be_is_refused(values: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        scored(**values)
    assert says in refused.value.faults[field]
    assert not Score.objects.exists()


def test_a_score_without_a_total_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        scored()
    assert refused.value.faults == {"pain_nrs": "Give the total or the numbered answers."}


def test_taken_again_on_one_day_the_score_is_corrected_and_the_trail_says_so() -> None:
    hurt = builders.injury()
    scored(hurt, total=6)
    scored(hurt, total=3)
    kept = Score.objects.get()
    assert (kept.value, kept.version) == (3, 2)
    assert AuditEntry.objects.latest("id").reason == "taken again"


def test_another_day_is_another_score() -> None:
    hurt = builders.injury()
    scored(hurt, total=6)
    scored(hurt, total=3, taken_on=date(2026, 8, 17))
    assert Score.objects.count() == 2


@pytest.mark.usefixtures("defaults")
@pytest.mark.parametrize(
    ("on", "in_place"),
    [
        (date(2026, 6, 2), "no"),
        (date(2026, 6, 5), "yes"),
        (date(2026, 9, 24), "yes"),
        (date(2026, 9, 25), "no"),
        (date(2026, 10, 9), "yes"),
    ],
    ids=["before", "fixed", "last day", "out", "fixed again"],
)
def test_a_score_says_whether_the_hardware_was_in_place(on: date, in_place: str) -> None:
    operation = builders.procedure()
    hurt = operation.injury
    builders.procedure(
        hurt, kind="implant_removal", revises=operation, performed_on=date(2026, 9, 25)
    )
    builders.procedure(
        hurt, kind="revision_fixation", revises=operation, performed_on=date(2026, 10, 9)
    )
    assert scored(hurt, total=3, taken_on=on).hardware_in_place == in_place
