from typing import Any

import pytest

from analytics.answers import outcomes, tipping
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import Answer
from analytics.endpoints.catalogue import DEFINITIONS
from tests.analytics.cohort import data, film


def result(lost: int, held: int, unseen: int, construct: str = "LP") -> Answer:
    cases: list[dict[str, Any]] = []
    films = []
    for number, later in ((lost, (90, 14.0)), (held, (360, 9.1)), (unseen, None)):
        for _ in range(number):
            cases.append({"construct_type": construct})
            films.append(film(2, 9.0, procedure_id=len(cases)))
            if later:
                films.append(film(*later, procedure_id=len(cases)))
    return outcomes.answer(data(cases, films), DEFINITIONS["rise-3mm"], HORIZONS["12m"])


# Own arithmetic: 120 index operations, 104 evaluable, 10 lost their reduction, 16 not evaluable.
WORKED = result(10, 94, 16)


def test_the_lost_could_take_the_rate_over_its_target_from_nine_on() -> None:
    found = tipping.answer(WORKED, 0.15)
    plate, total = found.groups
    assert (plate.group, total.group) == ("LP", "all")
    assert total.rate == pytest.approx(0.09615, abs=5e-6)
    assert total.found is not None
    assert (total.found.unseen, total.found.at) == (16, 9)
    assert total.found.bounds.low == pytest.approx(0.08333, abs=5e-6)
    assert total.found.bounds.high == pytest.approx(0.21667, abs=5e-6)


def test_each_supposition_has_its_rate_and_whether_it_exceeds() -> None:
    found = {one.words: one for one in tipping.answer(WORKED, 0.15).suppositions}
    assert {words: (one.more, one.exceeds) for words, one in found.items()} == {
        "had none": (0, False),
        "fared like those judged": (2, False),
        "had it twice as often": (3, False),
        "had it three times as often": (5, False),
        "had it in every second case": (8, False),
        "all had it": (16, True),
    }
    assert found["had none"].rate == 10 / 120
    assert found["all had it"].rate == 26 / 120


def test_without_a_target_nothing_is_called_too_much() -> None:
    found = tipping.answer(WORKED, None)
    assert {one.exceeds for one in found.suppositions} == {None}
    assert found.groups[-1].found is not None
    assert found.groups[-1].found.at is None
    assert tipping.to_rows(found)[0]["exceeded_from"] is None


def test_nobody_unseen_leaves_nothing_to_suppose() -> None:
    found = tipping.answer(result(1, 3, 0), 0.5)
    assert found.suppositions == ()
    assert found.groups[-1].found is not None
    assert found.groups[-1].found.unseen == 0


def test_nobody_judged_is_still_a_row() -> None:
    found = tipping.answer(result(0, 0, 3), 0.1)
    assert (found.groups[-1].rate, found.suppositions) == (None, ())
    assert found.groups[-1].found is not None
    assert found.groups[-1].found.at == 1
    nobody = tipping.answer(result(0, 0, 0), 0.1)
    assert [one.found for one in nobody.groups] == [None]


def test_a_target_in_per_cent_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1, got 15"):
        tipping.answer(WORKED, 15)


def test_plain_rows_carry_groups_and_suppositions() -> None:
    rows = tipping.to_rows(tipping.answer(WORKED, 0.15))
    assert [row["group"] for row in rows[:2]] == ["LP", "all"]
    assert rows[1]["exceeded_from"] == 9
    assert [row["more_events"] for row in rows[2:]] == [0, 2, 3, 5, 8, 16]
