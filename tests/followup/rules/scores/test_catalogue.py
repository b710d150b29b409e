import json
from pathlib import Path

import pytest

from followup.rules.scores.catalogue import INSTRUMENTS, from_items, total

PROTOCOLS = Path(__file__).resolve().parents[4] / "fixtures" / "protocols.json"
DIRECTIONS = {"pain_nrs": 0, "quickdash": 0, "dash": 0, "constant": 100, "ases": 100, "sane": 100}


def test_every_instrument_states_its_best_end() -> None:
    assert {code: row.best for code, row in INSTRUMENTS.items()} == DIRECTIONS
    for row in INSTRUMENTS.values():
        assert row.best in (row.low, row.high)
        assert row.lower_is_better is (row.best == 0)


def test_every_instrument_says_its_version_and_its_licence() -> None:
    assert all(row.version and row.licence for row in INSTRUMENTS.values())
    for code in ("quickdash", "dash"):
        assert "licensed by its owner and not shipped" in INSTRUMENTS[code].licence


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


def test_an_instrument_that_is_entered_as_a_total_says_so() -> None:
    assert from_items("sane", {1: 80}).reason == "SANE is entered as its total here"


def test_an_unknown_instrument_is_an_error() -> None:
    with pytest.raises(KeyError):
        total("grip", 3)
    with pytest.raises(KeyError):
        from_items("grip", {1: 3})
