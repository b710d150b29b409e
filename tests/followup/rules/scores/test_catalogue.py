import json
from pathlib import Path

import pytest

from followup.rules.scores.catalogue import (
    INSTRUMENTS,
    OLDER_FORMS,
    answers_fault,
    from_items,
    total,
)

PROTOCOLS = Path(__file__).resolve().parents[4] / "fixtures" / "protocols.json"
# Ranges and best ends as printed: QuickDASH, DASH and pain are best at 0.
DIRECTIONS = {
    "pain_nrs": "0 to 10, 0 is best",
    "quickdash": "0 to 100, 0 is best",
    "dash": "0 to 100, 0 is best",
    "dash_work": "0 to 100, 0 is best",
    "dash_sport": "0 to 100, 0 is best",
    "constant": "0 to 100, 100 is best",
    "ases": "0 to 100, 100 is best",
    "sane": "0 to 100, 100 is best",
    "oss": "0 to 48, 48 is best",
}
COUNTS = {
    **{"pain_nrs": 1, "quickdash": 11, "dash": 30, "dash_work": 4, "dash_sport": 4},
    **{"constant": 11, "ases": 11, "sane": 1, "oss": 12},
}


def test_every_instrument_states_its_best_end() -> None:
    assert {code: row.direction for code, row in INSTRUMENTS.items()} == DIRECTIONS
    for row in INSTRUMENTS.values():
        assert row.best in (row.low, row.high)
        assert row.lower_is_better is (row.best == 0)


def test_every_instrument_says_its_version_source_missing_rule_and_licence() -> None:
    for row in INSTRUMENTS.values():
        assert row.version
        assert row.source
        assert row.missing_rule
        assert row.licence
    for code in ("quickdash", "dash", "oss", "ases"):
        assert "licensed by its owner and not shipped" in INSTRUMENTS[code].licence


def test_every_instrument_counts_its_items_and_ships_no_licensed_wording() -> None:
    assert {code: len(row.items) for code, row in INSTRUMENTS.items()} == COUNTS
    for code in ("quickdash", "dash", "dash_work", "dash_sport", "oss"):
        assert not any(item.words for item in INSTRUMENTS[code].items)
    assert [item.number for item in INSTRUMENTS["ases"].items if item.words] == [11]


@pytest.mark.parametrize("code", sorted(INSTRUMENTS))
def test_both_ends_of_an_instrument_are_reached_by_its_items(code: str) -> None:
    row = INSTRUMENTS[code]
    ends = {
        from_items(code, {item.number: getattr(item, end) for item in row.items}).value
        for end in ("low", "high")
    }
    # The ASES has its pain item the other way round: no pain and no function are 50 points.
    assert ends == ({50.0} if code == "ases" else {row.low, row.high})


def test_every_instrument_that_a_shipped_protocol_asks_for_is_known() -> None:
    shipped = json.loads(PROTOCOLS.read_text())
    wanted = {code for row in shipped for step in row["steps"] for code in step["scores"]}
    assert wanted <= set(INSTRUMENTS)


@pytest.mark.parametrize("code", sorted(INSTRUMENTS))
def test_a_total_inside_the_range_is_taken_and_one_outside_is_refused(code: str) -> None:
    row = INSTRUMENTS[code]
    assert total(code, row.low).value == row.low
    assert total(code, row.high).value == row.high
    for value in (row.low - 1, row.high + 0.5, float("nan"), float("inf")):
        refused = total(code, value)
        assert refused.value is None
        assert f"is outside {row.low:g} to {row.high:g} of {row.name}" in refused.reason


def test_answers_are_scored_by_the_rule_of_their_instrument() -> None:
    # (23/10 - 1) x 25, and 10 of 30 are too few for the longer form
    answers: dict[int, float] = {number: 2 + (number <= 3) for number in range(1, 11)}
    assert from_items("quickdash", answers).value == pytest.approx(32.5)
    assert from_items("dash", answers).value is None


def test_a_single_answer_is_the_score() -> None:
    assert from_items("sane", {1: 80}).value == 80
    assert from_items("pain_nrs", {1: 11}).reason == "item 1 is 11; it goes from 0 to 10"
    assert from_items("sane", {}).reason == "0 of 1 items answered; it is needed"
    assert from_items("sane", {2: 80}).reason == "there is no item 2; items go from 1 to 1"


def test_an_older_form_is_kept_on_the_present_scale() -> None:
    # 60 - 20
    assert total("oss_12_60", 20).value == 40
    assert from_items("oss_12_60", dict.fromkeys(range(1, 13), 2)).value == 36
    assert all(form.kept_as in INSTRUMENTS for form in OLDER_FORMS.values())


def test_an_answer_that_no_item_takes_is_told_apart_from_too_few() -> None:
    assert answers_fault("quickdash", {1: 6}) == "item 1 is 6; it goes from 1 to 5"
    assert answers_fault("oss_12_60", {1: 0}) == "item 1 is 0; it goes from 1 to 5"
    assert answers_fault("quickdash", {1: 5}) == ""


def test_an_unknown_instrument_is_an_error() -> None:
    with pytest.raises(KeyError):
        total("grip", 3)
    with pytest.raises(KeyError):
        from_items("grip", {1: 3})
