"""Invented operations, constructs and parts."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from analytics.simulation import operations
from analytics.simulation.draws import Draws
from analytics.simulation.records import SimConstruct
from analytics.simulation.truth import TRUTH
from registry.models import constructs, implants, procedures
from registry.models.injuries import YesNo
from registry.rules.construct_checks import ConstructFacts, Verdict, evaluate

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures"
KINDS = {row["code"]: row for row in json.loads((FIXTURES / "construct_types.json").read_text())}
ON = date(2025, 3, 6)
YES_NO = {"yes": True, "no": False}
IN_CHECKS = set(ConstructFacts.__dataclass_fields__)


def made(code: str, number: int) -> tuple[dict[str, Any], SimConstruct]:
    rng = Draws(4, number)
    operated = operations.operation(rng, ON, code)
    return operated, operations.construct(rng, code, 0, operated)


def departures(code: str, operated: dict[str, Any], construct: SimConstruct) -> list[str]:
    """Return the construct checks that the registry itself finds not met."""
    values = {name: value for name, value in construct.values.items() if name in IN_CHECKS}
    values["lateral_screws_locking"] = YES_NO.get(values.get("lateral_screws_locking", ""))
    facts = ConstructFacts(
        family=KINDS[code]["family"],
        uses_small_lateral_screws=KINDS[code].get("uses_small_lateral_screws", False),
        intraoperative_film=YES_NO.get(operated["intraoperative_film"]),
        **values,
    )
    return [result.id for result in evaluate(facts) if result.verdict == Verdict.DEPARTURE]


@pytest.mark.parametrize("code", TRUTH)
def test_a_construct_departs_where_the_construct_checks_say_so(code: str) -> None:
    found = []
    for number in range(300):
        operated, construct = made(code, number)
        missed = departures(code, operated, construct)
        assert construct.departs == bool(missed), missed
        found += missed
    assert found
    assert len(found) < 150


def test_every_construct_type_of_the_simulation_is_shipped() -> None:
    assert set(TRUTH) <= set(KINDS)
    assert set(operations.REVISED_TO) == set(TRUTH)
    assert all(after != before for before, after in operations.REVISED_TO.items())


def test_a_reason_is_given_for_departures_only_and_now_and_then_lacks() -> None:
    reasons = {True: set(), False: set()}  # type: dict[bool, set[str]]
    for number in range(600):
        construct = made("LP+A1", number)[1]
        reasons[construct.departs].add(construct.departure_reason)
    assert reasons[False] == {""}
    assert reasons[True] == set(operations.REASONS)


@pytest.mark.parametrize(
    ("shares", "choices"),
    [
        (operations.OPERATOR, procedures.Grade),
        (operations.ASSISTANT, procedures.Grade),
        (operations.APPROACH, procedures.Approach),
        (operations.SCOPED, procedures.Approach),
        (operations.PROVISIONAL, YesNo),
        (operations.REDUCTION, procedures.ReductionQuality),
        (operations.FILM, YesNo),
        (operations.FIRST_SCREWS, constructs.FirstScrews),
        (operations.WIRE, constructs.GuideWire),
        (operations.SHORTER, constructs.ShorterScrew),
    ],
)
def test_shares_are_of_codes_that_the_registry_knows_and_add_up(
    shares: dict[str, float], choices: Any
) -> None:
    assert set(shares) <= set(choices.values)
    assert sum(shares.values()) == pytest.approx(1)


@pytest.mark.parametrize("code", TRUTH)
def test_parts_are_those_that_the_construct_counts(code: str) -> None:
    for number in range(100):
        construct = made(code, number)[1]
        counted = {part.kind: 0 for part in construct.parts}
        for part in construct.parts:
            counted[part.kind] += part.quantity
            assert part.kind in implants.PartKind.values
            assert bool(part.batch) != part.batch_not_obtainable
        screws = ("lateral_screw_count", "shaft_screw_count")
        assert counted.get("screw", 0) == sum(construct.values.get(name, 0) for name in screws)
        assert counted.get("anchor", 0) == construct.values.get("anchor_count", 0)
        assert counted.get("button", 0) == construct.values.get("button_count", 0)


def test_patients_of_a_quarter_share_a_batch() -> None:
    plates = [part for n in range(60) for part in made("LP", n)[1].parts if part.kind == "plate"]
    assert len({part.batch for part in plates if part.batch}) == 1


def test_small_operations_are_short() -> None:
    minutes = [operations.small_operation(Draws(1, n), ON)["duration_minutes"] for n in range(300)]
    assert min(minutes) >= 12
    assert max(minutes) <= 90
