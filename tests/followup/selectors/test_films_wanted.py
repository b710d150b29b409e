"""What the database says of films is what completeness says of them."""

from datetime import date, timedelta
from itertools import product
from typing import Any

import pytest

from followup.models import Appointment, Film, ProtocolStep, Review
from followup.rules import requirements
from followup.selectors.collected import collected_for
from followup.selectors.films_wanted import wants_film
from registry.services import records
from tests import builders
from tests.builders import NOW
from tests.followup.waiting import waiting

pytestmark = pytest.mark.django_db


def review(
    views: list[str], sides: dict[str, str] | None = None, excused: dict[str, str] | None = None
) -> Review:
    found = waiting(not_obtainable=excused or {})
    named = f"s{ProtocolStep.objects.count()}"
    found.step.pk, found.step.code = None, named
    found.step.film_views, found.step.film_sides = views, sides or {}
    found.step.save(force_insert=True)
    Review.objects.filter(pk=found.pk).update(step=found.step)
    return Review.objects.get(pk=found.pk)


def taken(of: Review, view: str, on: date | None = None, **values: Any) -> None:
    row = Film(
        injury=of.procedure.injury, site=of.site, view=view, taken_on=on or of.due_on, **values
    )
    records.create(row, by=of.recorded_by, now=NOW)


def wants(of: Review) -> bool:
    return Review.objects.filter(wants_film(), pk=of.pk).exists()


def by_the_rules(of: Review) -> bool:
    wanted, present = requirements.wanted_of(of.step), collected_for([of])[of.pk]
    missing = requirements.still_missing(wanted, present, of.not_obtainable)
    return any(item.startswith("film") for item in missing)


def test_a_film_of_another_view_is_not_the_one_that_was_asked_for() -> None:
    asked = review(["zanca", "axillary"])
    taken(asked, "zanca")
    assert wants(asked)
    taken(asked, "axillary")
    assert not wants(asked)


def test_a_view_of_both_sides_wants_a_film_that_shows_both() -> None:
    asked = review(["zanca"], {"zanca": "both"})
    taken(asked, "zanca")
    assert wants(asked)
    taken(asked, "zanca", shows_both_sides=True)
    assert not wants(asked)


def test_a_film_of_another_time_leaves_the_wish() -> None:
    asked = review(["zanca"])
    taken(asked, "zanca", asked.opens_on - timedelta(days=1))
    taken(asked, "zanca", asked.closes_on + timedelta(days=1))
    assert wants(asked)
    taken(asked, "zanca", asked.closes_on)
    assert not wants(asked)


@pytest.mark.parametrize(("reason", "wanted"), [("moved house", False), ("  ", True), ("", True)])
def test_what_cannot_be_had_for_a_reason_is_not_wanted(reason: str, *, wanted: bool) -> None:
    assert wants(review(["zanca"], {"zanca": "both"}, {"film:zanca": reason})) is wanted


def test_a_step_without_films_wants_none() -> None:
    assert not wants(review([]))


def test_a_slot_asks_for_its_review() -> None:
    asked = review(["zanca"])
    builders.booked(asked, on=date(2026, 12, 1))
    rows = Appointment.objects.filter(wants_film("review__"))
    assert rows.count() == 1
    taken(asked, "zanca")
    assert not rows.exists()


def test_the_database_and_the_rules_agree_on_every_kind_of_step_and_film() -> None:
    """Every side, with every mix of films and excuses, for a step of two views."""
    excuses: tuple[dict[str, str], ...] = (
        {},
        {"film:zanca": "no"},
        {"film_other:zanca": "no"},
        {"film:ap": "no", "motion": "no"},
    )
    answers = set()
    for side, has_film, both, excused in product(
        ("", *requirements.SIDES), (False, True), (False, True), excuses
    ):
        asked = review(["zanca", "ap"], {"zanca": side} if side else {}, excused)
        taken(asked, "ap")
        if has_film:
            taken(asked, "zanca", shows_both_sides=both)
        assert wants(asked) is by_the_rules(asked), (side, has_film, both, excused)
        answers.add(wants(asked))
    assert answers == {True, False}
