from dataclasses import fields, replace

import pytest

from registry.rules.construct_checks import (
    BASIS,
    CHECKS,
    ConstructFacts,
    Verdict,
    evaluate,
)

MET, DEPARTURE = Verdict.MET, Verdict.DEPARTURE
NOT_EVALUABLE, ELSEWHERE = Verdict.NOT_EVALUABLE, Verdict.DOES_NOT_APPLY

GOOD = ConstructFacts(
    family="locking_plate_anchors",
    uses_small_lateral_screws=True,
    lateral_screw_count=6,
    lateral_screw_diameter_mm=2.3,
    lateral_drill_mm=2.0,
    lateral_screws_locking=True,
    shaft_screw_diameter_mm=3.5,
    shaft_drill_mm=2.8,
    anchor_count=2,
    free_slots_count=2,
    retainer_count=2,
    knot="surgeons_knot",
    half_hitch_count=3,
    first_two_screws="one_each_side",
    guide_wire_clear="yes",
    shorter_screw_chosen="yes",
    intraoperative_film=True,
)


def verdicts(facts: ConstructFacts) -> dict[str, Verdict]:
    return {result.id: result.verdict for result in evaluate(facts)}


def test_a_construct_by_the_book_meets_every_check() -> None:
    assert set(verdicts(GOOD).values()) == {MET}
    assert len(CHECKS) == 10


def test_every_check_carries_its_version_text_and_basis() -> None:
    results = evaluate(GOOD)
    assert len({result.id for result in results}) == len(results)
    assert all(result.version >= 1 and result.text for result in results)
    assert {result.basis for result in results} == {BASIS} == {"common practice, no source"}


@pytest.mark.parametrize("family", ["locking_plate_anchors", "hook_plate", "suspensory", "other"])
def test_what_is_unknown_is_never_a_departure(family: str) -> None:
    found = verdicts(ConstructFacts(family=family, uses_small_lateral_screws=True))
    assert set(found.values()) <= {NOT_EVALUABLE, ELSEWHERE}


@pytest.mark.parametrize(
    "name", [field.name for field in fields(ConstructFacts) if field.default is None]
)
def test_taking_one_fact_away_makes_no_departure(name: str) -> None:
    found = verdicts(replace(GOOD, **{name: None}))
    assert DEPARTURE not in found.values()
    assert NOT_EVALUABLE in found.values()


@pytest.mark.parametrize(
    ("check", "changes", "verdict"),
    [
        ("lateral-screws", {"lateral_screw_count": 5}, DEPARTURE),
        ("lateral-screws", {"lateral_screw_count": 0}, DEPARTURE),
        ("lateral-screws", {"lateral_screw_count": 7}, MET),
        ("lateral-screws", {"lateral_screw_count": None}, NOT_EVALUABLE),
        ("lateral-screws", {"lateral_screws_locking": None}, NOT_EVALUABLE),
        ("lateral-screws", {"lateral_screws_locking": False, "lateral_screw_count": 2}, ELSEWHERE),
        ("lateral-screws", {"lateral_screw_diameter_mm": 3.5, "lateral_screw_count": 2}, ELSEWHERE),
        (
            "lateral-screws",
            {"lateral_screw_diameter_mm": None, "lateral_screw_count": 5},
            DEPARTURE,
        ),
        ("lateral-screws", {"family": "hook_plate", "lateral_screw_count": 2}, ELSEWHERE),
        ("free-slots", {"free_slots_count": 1}, DEPARTURE),
        ("free-slots", {"free_slots_count": 3}, DEPARTURE),
        ("free-slots", {"free_slots_count": None}, NOT_EVALUABLE),
        ("free-slots", {"anchor_count": 0, "free_slots_count": 0}, ELSEWHERE),
        ("retainers", {"retainer_count": 1}, DEPARTURE),
        ("retainers", {"retainer_count": None}, NOT_EVALUABLE),
        ("retainers", {"anchor_count": 0, "retainer_count": 0}, ELSEWHERE),
        ("shaft-drill", {"shaft_drill_mm": 2.5}, DEPARTURE),
        ("shaft-drill", {"shaft_screw_diameter_mm": 2.7}, ELSEWHERE),
        ("shaft-drill", {"shaft_screw_diameter_mm": None}, NOT_EVALUABLE),
        ("shaft-drill", {"family": "suspensory"}, ELSEWHERE),
        ("lateral-drill", {"lateral_drill_mm": 1.8}, DEPARTURE),
        ("lateral-drill", {"lateral_screw_diameter_mm": 2.7}, ELSEWHERE),
        ("lateral-drill", {"lateral_drill_mm": None}, NOT_EVALUABLE),
        ("first-screws", {"first_two_screws": "same_side"}, DEPARTURE),
        ("first-screws", {"first_two_screws": "unknown"}, NOT_EVALUABLE),
        ("first-screws", {"first_two_screws": "not_applicable"}, ELSEWHERE),
        ("knot", {"half_hitch_count": 2}, DEPARTURE),
        ("knot", {"half_hitch_count": 5}, MET),
        ("knot", {"knot": "other"}, DEPARTURE),
        ("knot", {"knot": "unknown"}, NOT_EVALUABLE),
        ("knot", {"knot": "knotless"}, ELSEWHERE),
        ("knot", {"family": "suspensory"}, MET),
        ("knot", {"family": "locking_plate"}, ELSEWHERE),
        ("guide-wire", {"guide_wire_clear": "no"}, DEPARTURE),
        ("guide-wire", {"guide_wire_clear": "not_shown"}, DEPARTURE),
        ("guide-wire", {"guide_wire_clear": "unknown"}, NOT_EVALUABLE),
        ("guide-wire", {"family": "tendon_graft"}, ELSEWHERE),
        ("shorter-screw", {"shorter_screw_chosen": "no"}, DEPARTURE),
        ("shorter-screw", {"shorter_screw_chosen": "not_between"}, MET),
        ("shorter-screw", {"family": "hook_plate", "shorter_screw_chosen": "no"}, DEPARTURE),
        ("shorter-screw", {"family": "suspensory"}, ELSEWHERE),
        ("intraoperative-film", {"intraoperative_film": False}, DEPARTURE),
        (
            "intraoperative-film",
            {"family": "tendon_graft", "intraoperative_film": False},
            DEPARTURE,
        ),
    ],
)
def test_a_check_gives_its_verdict(
    check: str, changes: dict[str, object], verdict: Verdict
) -> None:
    assert verdicts(replace(GOOD, **changes))[check] == verdict  # type: ignore[arg-type]


def test_what_was_found_is_said_in_words() -> None:
    found = {result.id: result.found for result in evaluate(replace(GOOD, lateral_screw_count=4))}
    assert found["lateral-screws"] == "4 lateral screws"
    assert found["shaft-drill"] == "2.8 mm drill for 3.5 mm screws"
    assert found["free-slots"] == "2 free slots for 2 anchors"
