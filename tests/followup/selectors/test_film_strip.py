from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.rules import findings
from followup.rules.findings import Found
from followup.selectors import clinic
from followup.selectors.film_strip import BASELINE, INJURY, OTHER, StripFilm, strip_of
from followup.services import films
from registry.models import Injury
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
OPERATED = date(2026, 6, 5)


def film(injury: Injury, on: date, mm: str = "", **values: Any) -> None:
    by = injury.recorded_by
    other, found = values.pop("other", None), values.pop("found", ())
    facts = {"taken_on": on, "view": "zanca", "calibration": "marker", **values}
    taken = films.record_film(injury=injury, values=facts, by=by, now=NOW, today=TODAY)
    if mm:
        read = {"ccd_injured_mm": Decimal(mm), "union": "partial", "hardware": "intact"}
        read |= {"ccd_other_mm": Decimal(other)} if other else {}
        read |= {"hardware": findings.summary_of(found)} if findings.summary_of(found) else {}
        films.record_reading(
            film=taken, values=read, reader=by, by=by, now=NOW, today=TODAY, found=found
        )


def strip(injury: Injury) -> tuple[StripFilm, ...]:
    return strip_of(clinic.earlier_of(injury).films, OPERATED)


def test_the_films_stand_in_order_with_their_numbers_and_what_they_are() -> None:
    injury = builders.procedure().injury
    film(injury, date(2026, 6, 2))
    film(injury, date(2026, 6, 8), "9.4", other="8.8", shows_both_sides=True)
    film(injury, date(2026, 7, 17), "11.0")
    before, first, later = strip(injury)
    assert (before.roles, before.when, before.lines) == (
        (INJURY,),
        "3 days before the operation",
        ("not read yet",),
    )
    assert (first.roles, first.when, first.is_pinned) == ((BASELINE, OTHER), "day 3", True)
    assert first.lines[0].startswith("CC distance 9.4 mm, other side 8.8 mm, union: partly united")
    assert first.lines[1] == "+7% against the other side"
    assert (later.roles, later.is_pinned) == ((), False)
    assert later.lines[1] == "+1.6 mm since the first of this view"
    assert not any(one.image_id for one in (before, first, later))


def test_the_first_measured_film_is_the_baseline_and_not_one_that_nobody_read() -> None:
    injury = builders.procedure().injury
    film(injury, date(2026, 6, 6))
    film(injury, date(2026, 6, 20), "9.4")
    assert [one.is_pinned for one in strip(injury)] == [False, True]


def test_the_newest_film_of_both_shoulders_is_pinned_as_the_other_side() -> None:
    injury = builders.procedure().injury
    film(injury, date(2026, 6, 8), "9.4")
    film(injury, date(2026, 7, 17), "9.5", shows_both_sides=True)
    film(injury, date(2026, 9, 1), "9.5")
    assert [one.roles for one in strip(injury)] == [(BASELINE,), (OTHER,), ()]


def test_a_first_film_after_the_sites_window_is_said_to_be_too_late_for_a_baseline() -> None:
    injury = builders.procedure().injury
    film(injury, date(2026, 7, 10), "9.4")
    films_of = clinic.earlier_of(injury).films
    (late,) = strip_of(films_of, OPERATED, baseline_days=27)
    told = "first after the operation, too late for the site's baseline (by day 27)"
    assert (late.roles, late.is_pinned) == ((told,), True)
    (early,) = strip_of(films_of, OPERATED, baseline_days=35)
    assert early.roles == (BASELINE,)


def test_findings_stand_with_their_film_and_what_is_new_is_said() -> None:
    injury = builders.procedure().injury
    absent = [Found("screw_backed_out", "absent"), Found("plate_broken", "absent")]
    out = [Found("screw_backed_out", "present", place="lateral"), Found("plate_broken", "absent")]
    film(injury, date(2026, 6, 8), "9.4", found=absent)
    film(injury, date(2026, 7, 17))
    film(injury, date(2026, 9, 1), "9.5", found=out)
    first, unread, last = strip(injury)
    assert "no finding of 2 that were looked for" in first.lines[0]
    assert (first.changes, unread.changes) == ((), ())
    assert last.changes == ("new: screw backed out, lateral",)
    assert "hardware: loose, screw backed out, lateral, nothing else of 1" in last.lines[0]


def test_the_strip_asks_nothing_of_the_database_again(counted: Callable[[], Any]) -> None:
    injury = builders.procedure().injury
    film(injury, date(2026, 6, 8), "9.4", found=[Found("plate_broken", "absent")])
    earlier = clinic.earlier_of(injury)
    with counted() as queries:
        strip_of(earlier.films, OPERATED)
    assert len(queries) == 0


def test_without_films_there_is_no_strip() -> None:
    assert strip(builders.procedure().injury) == ()
