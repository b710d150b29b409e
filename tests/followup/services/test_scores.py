"""Completed instruments."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Score
from followup.services import scores
from registry.errors import BadInput, StaleVersion
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


def test_answers_at_home_and_in_clinic_on_one_day_stand_beside_each_other() -> None:
    hurt = builders.injury()
    items = dict.fromkeys(range(1, 12), 3)
    scored(hurt, instrument="quickdash", items=items, mode="remote")
    scored(hurt, instrument="quickdash", total=31.8)
    scored(hurt, instrument="quickdash", items=items, mode="remote")
    kept = Score.objects.order_by("mode")
    assert [(row.mode, float(row.value)) for row in kept] == [("clinic", 31.8), ("remote", 50.0)]
    assert kept[1].items == {str(number): 3 for number in range(1, 12)}


def test_a_correction_keeps_the_row_and_its_version_of_the_instrument() -> None:
    row = scored(instrument="oss_12_60", total=20)
    row = scores.correct_score(
        score=row, total=41, mode="phone", expected_version=1, by=row.recorded_by, now=NOW
    )
    row.refresh_from_db()
    assert (row.value, row.mode, row.version) == (41, "phone", 2)
    assert row.instrument_version == "2009 from 12-60"
    with pytest.raises(StaleVersion):
        scores.correct_score(
            score=row, total=40, mode="phone", expected_version=1, by=row.recorded_by, now=NOW
        )


def test_a_score_is_not_corrected_into_a_mode_that_is_taken() -> None:
    hurt = builders.injury()
    scored(hurt, total=6)
    other = scored(hurt, total=3, mode="remote")
    with pytest.raises(BadInput) as refused:
        scores.correct_score(
            score=other, total=3, mode="clinic", expected_version=1, by=other.recorded_by, now=NOW
        )
    assert "taken this way already; void one of the two" in refused.value.faults["mode"]
    assert Score.objects.filter(mode="remote").count() == 1


def test_the_older_oxford_form_is_kept_on_the_present_scale_and_says_so() -> None:
    # 60 - 20 = 40; twelve answers of 2 are 3 each on the present scale: 36
    hurt = builders.injury()
    scored(hurt, instrument="oss_12_60", total=20)
    kept = Score.objects.get()
    assert (kept.instrument, kept.instrument_version) == ("oss", "2009 from 12-60")
    assert kept.value == 40
    scored(hurt, instrument="oss_12_60", items=dict.fromkeys(range(1, 13), 2))
    kept.refresh_from_db()
    assert (kept.value, set(kept.items.values())) == (36, {3})


def test_an_answer_that_no_item_takes_is_kept_without_a_number() -> None:
    kept = scored(instrument="oss", items={**dict.fromkeys(range(1, 13), 2), 3: 7})
    assert kept.value is None
    assert kept.not_computable_reason == "item 3 is 7; it goes from 0 to 4"


@pytest.fixture
def switched_on(settings: Any) -> None:
    settings.CONSTANT_NORMS = "constant-1986"


def test_no_score_is_compared_until_a_table_is_switched_on() -> None:
    kept = scored(instrument="constant", total=72)
    assert (kept.relative_pct, kept.relative_to) == (None, "")


@pytest.mark.usefixtures("switched_on")
def test_the_absolute_score_stays_and_the_table_is_named() -> None:
    # Born on 17 May 1980, 46 years old on the day; 72 / 80 x 100
    kept = scored(instrument="constant", total=72)
    kept.refresh_from_db()
    assert (kept.value, kept.relative_pct) == (72, 90)
    assert kept.relative_to == "constant-1986, version 1"


@pytest.mark.usefixtures("switched_on")
@pytest.mark.parametrize(
    "who", [{"sex": "unknown"}, {"birth_earliest": date(2008, 5, 17)}, {"sex": "other"}]
)
def test_who_is_not_in_the_table_keeps_the_absolute_score_alone(who: dict[str, Any]) -> None:
    born = {"birth_latest": who["birth_earliest"]} if "birth_earliest" in who else {}
    whose = builders.patient(**who, **born)
    kept = scored(builders.injury(whose), instrument="constant", total=72)
    assert (kept.value, kept.relative_pct) == (72, None)


@pytest.mark.usefixtures("switched_on")
def test_other_instruments_are_not_compared() -> None:
    assert scored(instrument="sane", total=72).relative_pct is None


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
