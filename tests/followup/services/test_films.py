"""Films and what readers measure on them."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup import notices
from followup.models import Film, Reading
from followup.services import films
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Injury, Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db

DAY = date(2026, 7, 17)


def film(of: Injury | None = None, **values: Any) -> Film:
    hurt = of or builders.injury()
    return films.record_film(
        injury=hurt,
        values={"taken_on": DAY, "view": "zanca", **values},
        by=hurt.recorded_by,
        now=NOW,
        today=TODAY,
    )


def calibrated(**values: Any) -> Film:
    return film(calibration="marker", shows_both_sides=True, **values)


def read(of: Film, reader: Person | None = None, **values: Any) -> Reading:
    by = reader or of.recorded_by
    return films.record_reading(film=of, values=values, reader=by, by=by, now=NOW, today=TODAY)


def test_a_film_belongs_to_the_site_of_its_injury() -> None:
    taken = film()
    assert (taken.site, taken.view, taken.taken_on) == (taken.injury.site, "zanca", DAY)


@pytest.mark.parametrize(
    ("on", "says"),
    [
        (date(2026, 11, 26), "2026-11-26 is in the future"),
        (date(2026, 5, 31), "2026-05-31 is before the injury"),
    ],
)
def test_a_film_of_an_impossible_day_is_refused(on: date, says: str) -> None:
    with pytest.raises(BadInput) as refused:
        film(taken_on=on)
    assert says in refused.value.faults["taken_on"]
    assert not Film.objects.exists()


def test_a_film_before_the_operation_is_kept() -> None:
    assert film(taken_on=date(2026, 6, 1)).pk is not None


def test_a_view_that_nobody_knows_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        film(view="sideways")
    assert set(refused.value.faults) == {"view"}


def test_two_films_of_one_day_stand_beside_each_other() -> None:
    hurt = builders.injury()
    film(hurt, posture="upright")
    film(hurt, posture="supine")
    assert Film.objects.filter(injury=hurt).count() == 2


def test_a_reading_keeps_its_reader_and_the_day_and_is_announced() -> None:
    heard: list[Reading] = []

    def hear(sender: object, reading: Reading, **kwargs: Any) -> None:
        heard.append(reading)

    notices.reading_recorded.connect(hear)
    kept = read(calibrated(), ccd_injured_mm=Decimal("9.4"), union="partial")
    notices.reading_recorded.disconnect(hear)
    assert (kept.reader, kept.read_on) == (kept.film.recorded_by, TODAY)
    assert Reading.objects.get().ccd_injured_mm == Decimal("9.4")
    assert heard == [kept]


@pytest.mark.parametrize("calibration", ["none", "unknown"])
@pytest.mark.parametrize("name", ["ccd_injured_mm", "ccd_other_mm"])
def test_a_film_without_calibration_refuses_millimetres(calibration: str, name: str) -> None:
    taken = film(calibration=calibration, shows_both_sides=True)
    with pytest.raises(BadInput) as refused:
        read(taken, **{name: Decimal("9.4")})
    assert refused.value.faults == {
        name: "This film is not calibrated: record the side-to-side ratio instead."
    }
    assert not Reading.objects.exists()


def test_a_film_without_calibration_takes_the_ratio_of_both_sides() -> None:
    kept = read(film(calibration="none", shows_both_sides=True), ccd_side_ratio_pct=Decimal("35.5"))
    assert Reading.objects.get(pk=kept.pk).ccd_side_ratio_pct == Decimal("35.5")


@pytest.mark.parametrize("name", ["ccd_other_mm", "ccd_side_ratio_pct"])
def test_a_film_of_one_side_refuses_a_comparison_with_the_other(name: str) -> None:
    with pytest.raises(BadInput) as refused:
        read(film(calibration="marker"), **{name: Decimal("9.4")})
    assert refused.value.faults == {name: "This film does not show the other side."}


@pytest.mark.parametrize(
    ("name", "value"),
    [("ccd_injured_mm", "0.0"), ("ccd_injured_mm", "60.1"), ("translation_pct", 401)],
)
def test_a_length_that_no_shoulder_has_is_refused_by_the_database(name: str, value: Any) -> None:
    with pytest.raises(BadInput):
        read(calibrated(), **{name: value})
    assert not Reading.objects.exists()


def test_reading_again_supersedes_and_keeps_what_was_read_first() -> None:
    taken = calibrated()
    first = read(taken, ccd_injured_mm=Decimal("9.4"))
    second = read(taken, ccd_injured_mm=Decimal("10.1"))
    first.refresh_from_db()
    assert first.superseded_by == second
    assert first.ccd_injured_mm == Decimal("9.4")
    assert Reading.objects.get(superseded_by__isnull=True) == second
    assert AuditEntry.objects.filter(reason="read again").exists()


def test_a_reading_that_is_refused_leaves_the_earlier_one_standing() -> None:
    taken = calibrated()
    first = read(taken, ccd_injured_mm=Decimal("9.4"))
    with pytest.raises(BadInput):
        read(taken, ccd_injured_mm=Decimal("61.0"))
    first.refresh_from_db()
    assert (first.superseded_by, first.version) == (None, 1)


def test_two_readers_of_one_film_both_stand(film_reader: Person, surgeon: Person) -> None:
    taken = calibrated()
    read(taken, film_reader, ccd_injured_mm=Decimal("9.4"))
    read(taken, surgeon, ccd_injured_mm=Decimal("9.9"))
    standing = taken.readings.filter(superseded_by__isnull=True)
    assert {row.reader for row in standing} == {film_reader, surgeon}


def corrected(row: Film, **values: Any) -> Film:
    return films.correct_film(
        film=row,
        values=values,
        reason="the label was read wrongly",
        expected_version=row.version,
        by=row.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_what_a_film_is_can_be_corrected_with_a_reason() -> None:
    taken = film()
    row = corrected(taken, view="ap", shows_both_sides=True, taken_on=date(2026, 7, 18))
    assert (row.view, row.shows_both_sides, row.taken_on, row.version) == (
        *("ap", True),
        *(date(2026, 7, 18), 2),
    )
    entry = AuditEntry.objects.filter(table="followup_film", row_id=row.pk).latest("id")
    assert entry.reason == "the label was read wrongly"
    taken.version = 1
    with pytest.raises(StaleVersion):
        corrected(taken, view="zanca")


@pytest.mark.parametrize(
    ("values", "field", "says"),
    [
        ({"taken_on": date(2026, 11, 26)}, "taken_on", "in the future"),
        ({"taken_on": date(2026, 5, 1)}, "taken_on", "before the injury"),
        ({"shows_both_sides": False}, "shows_both_sides", "measured the other side"),
        ({"calibration": "none"}, "calibration", "measured millimetres"),
    ],
)
def test_a_correction_that_cannot_be_is_refused(
    values: dict[str, Any], field: str, says: str
) -> None:
    taken = calibrated()
    read(taken, ccd_injured_mm="12.0", ccd_other_mm="9.0")
    with pytest.raises(BadInput) as fault:
        corrected(taken, **values)
    assert says in fault.value.faults[field]
    assert Film.objects.get(pk=taken.pk).version == 1


def test_what_a_superseded_reading_measured_stands_in_no_way() -> None:
    taken = calibrated()
    read(taken, ccd_injured_mm="12.0", ccd_other_mm="9.0")
    read(taken, ccd_injured_mm="12.0")
    assert not corrected(taken, shows_both_sides=False).shows_both_sides


def test_a_reading_is_held_to_what_the_film_is_now() -> None:
    taken = calibrated()
    corrected(Film.objects.get(pk=taken.pk), shows_both_sides=False)
    with pytest.raises(BadInput, match="does not show the other side"):
        read(taken, ccd_injured_mm="12.0", ccd_other_mm="9.0")
