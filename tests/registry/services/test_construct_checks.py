"""Keeping the departures from the construct checks."""

from typing import Any

import pytest

from registry.models import AuditEntry, Construct, ConstructDeparture
from registry.rules.construct_checks import Verdict
from registry.services import construct_checks
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
FEW_SCREWS = {"lateral_screw_count": 4, "lateral_screws_locking": "yes"}


def construct(**facts: Any) -> Construct:
    return builders.procedure(construct=facts).construct


def note(row: Construct, **reasons: str) -> list[ConstructDeparture]:
    by_check = {name.replace("_", "-"): text for name, text in reasons.items()}
    return construct_checks.note_departures(
        construct=row, reasons=by_check, by=row.recorded_by, now=NOW
    )


def test_a_departure_is_stored_with_the_version_of_its_rule_and_what_was_found() -> None:
    row = construct(**FEW_SCREWS).departures.get()
    assert (row.check_id, row.check_version, row.found, row.reason) == (
        "lateral-screws",
        1,
        "4 lateral screws",
        "",
    )


def test_what_is_unknown_is_no_departure() -> None:
    assert construct().departures.count() == 0


def test_noting_twice_changes_nothing() -> None:
    row = construct(**FEW_SCREWS)
    before = AuditEntry.objects.count()
    note(row)
    assert AuditEntry.objects.count() == before


def test_a_reason_given_later_is_kept_and_not_lost_by_noting_again() -> None:
    row = construct(**FEW_SCREWS)
    note(row, lateral_screws="small fragment")
    note(row)
    assert row.departures.get().reason == "small fragment"


def test_a_departure_that_no_longer_holds_is_voided() -> None:
    row = construct(**FEW_SCREWS)
    row.lateral_screw_count = 6
    note(row)
    kept = ConstructDeparture.everything.get()
    assert kept.void_reason == "no longer departs"


def test_a_departure_from_an_older_rule_is_replaced_with_its_reason() -> None:
    row = construct(**FEW_SCREWS)
    note(row, lateral_screws="small fragment")
    ConstructDeparture.objects.update(check_version=0)
    note(row)
    now = row.departures.get()
    assert (now.check_version, now.reason) == (1, "small fragment")
    assert ConstructDeparture.everything.count() == 2


def test_a_construct_that_is_being_typed_is_checked_without_being_saved() -> None:
    operation = builders.procedure()
    kind = builders.construct_type("LP")
    results = construct_checks.results_for({"construct_type": kind, **FEW_SCREWS}, operation)
    verdicts = {result.id: result.verdict for result in results}
    assert verdicts["lateral-screws"] == Verdict.DEPARTURE
    assert Construct.objects.count() == 1


def test_without_its_type_a_construct_is_not_checked() -> None:
    assert construct_checks.results_for(FEW_SCREWS, builders.procedure()) == ()
