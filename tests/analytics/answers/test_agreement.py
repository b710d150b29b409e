"""How well readers agree: published tables through the answer, groups, and what is too few."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analytics.answers import agreement
from analytics.answers.agreement import FEWEST_PAIRS, MEASUREMENTS, PAIR, READER, SITE, Row
from analytics.answers.double_readings import Pairs
from analytics.answers.outcomes import ALL
from analytics.estimators.agreement import icc, limits_of_agreement, minimal_detectable_change

DATA = Path(__file__).parents[2] / "reference" / "data"
# Six subjects, the first and the third of four judges: Shrout and Fleiss, Psychol Bull
# 1979;86:420-428, Table 2.
FIRST, THIRD = [9, 6, 8, 7, 10, 6], [5, 3, 6, 2, 6, 4]
LENGTH = MEASUREMENTS["ccd_injured_mm"]


def said(first: list[Any], second: list[Any], code: str = "ccd_injured_mm", **more: Any) -> Pairs:
    """Return films of which two readers said something of one measurement."""
    number = len(first)
    table = pd.DataFrame(
        {
            "film_id": range(1, number + 1),
            "procedure_id": range(101, number + 101),
            "taken_on": pd.Timestamp("2026-07-01"),
            "site": more.get("site", ["north"] * number),
            "first_reader": more.get("readers", [8] * number),
            "second_reader": more.get("others", [9] * number),
        }
    )
    for one in MEASUREMENTS.values():
        for side in ("first", "second"):
            table[f"{side}_{one.code}"] = np.nan if one.is_number else None
    table[f"first_{code}"], table[f"second_{code}"] = first, second
    return Pairs(table, {"not_blind": 2})


def row(found: agreement.AgreementAnswer, of: str, code: str = "ccd_injured_mm") -> Row:
    (only,) = [one for one in found.of_measurement(code) if one.of == of]
    return only


def test_two_judges_of_shrout_and_fleiss_come_out_of_the_answer_as_of_the_estimator() -> None:
    whole = agreement.answer(said(FIRST, THIRD), {}).whole("ccd_injured_mm")
    ratings = np.column_stack([FIRST, THIRD])
    assert whole.agreement == icc(ratings, "ICC(2,1)")
    assert whole.consistency == icc(ratings, "ICC(3,1)")
    assert whole.change == minimal_detectable_change(ratings)
    assert whole.pairs == 6
    # By hand: differences 4 3 2 5 4 2, their mean 10/3 and variance 22/15; mean squares of subjects
    # 23/5 and of what is left 11/15.
    assert whole.limits is not None
    assert whole.limits.estimate == pytest.approx(-10 / 3)
    assert whole.limits.sd == pytest.approx((22 / 15) ** 0.5)
    assert whole.consistency is not None
    squares = whole.consistency.squares
    assert (squares.between, squares.residual) == pytest.approx((23 / 5, 11 / 15))
    assert whole.consistency.estimate == pytest.approx(
        (squares.between - squares.residual) / (squares.between + squares.residual)
    )


def test_the_meters_of_bland_and_altman_come_out_as_published() -> None:
    # Lancet 1986;i:307-310: mean of the large meter less the mini -2.1, SD 38.8.
    rows = pd.read_csv(DATA / "peak_flow.csv", comment="#")
    found = agreement.answer(said(rows["mini1"].tolist(), rows["wright1"].tolist()), {})
    limits = found.whole("ccd_injured_mm").limits
    assert limits is not None
    assert limits == limits_of_agreement(rows["wright1"], rows["mini1"])
    assert (limits.mean.estimate, limits.sd) == pytest.approx((-2.1, 38.8), abs=0.05)


def test_below_five_films_nothing_is_worked_out() -> None:
    few = agreement.answer(said(FIRST[:4], THIRD[:4]), {}).whole("ccd_injured_mm")
    assert few.is_too_few
    assert few.pairs == FEWEST_PAIRS - 1
    assert (few.agreement, few.limits, few.change) == (None, None, None)
    assert "4 films read twice. Below 5 nothing is worked out." in agreement.sentence(few)
    assert not agreement.answer(said(FIRST[:5], THIRD[:5]), {}).whole("ccd_injured_mm").is_too_few


def test_what_one_alone_measured_is_counted_and_not_compared() -> None:
    whole = agreement.answer(said([*FIRST, 7, None], [*THIRD, None, None]), {}).whole(LENGTH.code)
    assert (whole.pairs, whole.one_said) == (6, 1)


def test_sites_readers_and_pairs_stand_apart_and_only_the_named_are_shown() -> None:
    made = said(
        FIRST * 2,
        THIRD * 2,
        site=["north"] * 6 + ["south"] * 6,
        readers=[8] * 6 + [9] * 6,
        others=[9] * 6 + [8] * 6,
    )
    found = agreement.answer(made, {8: "Ann", 9: "Bob"})
    groups = [(one.of, one.group) for one in found.of_measurement("ccd_injured_mm")]
    assert groups == [
        (ALL, ALL),
        (SITE, "north"),
        (SITE, "south"),
        (READER, "Ann"),
        (READER, "Bob"),
        (PAIR, "Ann and Bob"),
    ]
    # In the order of reading nobody reads higher than the other twice; of the two, Bob does once each way.
    pair = row(found, PAIR)
    assert pair.shift == "Bob less Ann"
    assert pair.limits is not None
    assert pair.limits.estimate == pytest.approx(0)
    hidden = agreement.answer(made, {9: "you"})
    assert [one.group for one in hidden.of_measurement(LENGTH.code)] == [
        "all",
        "north",
        "south",
        "you",
    ]


def test_a_difference_is_told_from_the_readers_side() -> None:
    made = said(FIRST, THIRD, readers=[8] * 3 + [9] * 3, others=[9] * 3 + [8] * 3)
    # Ann read 9 6 8 and then 2 6 4, Bob 5 3 6 and then 7 10 6: Ann less Bob is 4 3 2 -5 -4 -2.
    found = row(agreement.answer(made, {8: "Ann"}), READER)
    assert found.limits is not None
    assert found.limits.estimate == pytest.approx(-1 / 3)
    assert found.shift == "Ann less the other reader"


def test_judgements_agree_by_kappa_weighed_where_they_have_an_order() -> None:
    first = ["none", "none", "partial", "united", "united", "none"]
    second = ["none", "partial", "partial", "united", "none", "none"]
    union = agreement.answer(said(first, second, "union"), {}).whole("union")
    assert union.kappa is not None
    # Four of six the same, one neighbour counted half: (4 + 0.5) / 6.
    assert union.kappa.observed == pytest.approx(0.75)
    assert "75% of 6 films" in agreement.sentence(union)
    plain = ["intact", "loose", "loose", "removed", "intact", "intact"]
    hardware = agreement.answer(said(plain, plain[::-1], "hardware"), {}).whole("hardware")
    assert hardware.kappa is not None
    assert hardware.kappa.observed == pytest.approx(2 / 6)


def test_films_stand_by_how_far_they_lie_apart_in_either_direction() -> None:
    made = said([10.0, 10.0, 10.0, None], [11.0, 7.5, 10.2, 9.0])
    found = agreement.differences(made, LENGTH)
    assert found["film_id"].tolist() == [2, 1, 3]
    assert found["difference"].tolist() == [-2.5, 1.0, 0.2]
    assert found["mean"].tolist() == [8.75, 10.5, 10.1]
    assert agreement.differences(made, MEASUREMENTS["union"]).empty


def test_the_sentence_says_limits_and_what_can_be_told_from_error() -> None:
    words = agreement.sentence(agreement.answer(said(FIRST, THIRD), {}).whole(LENGTH.code))
    assert words.startswith("CC distance, injured side: of 6 films read twice, 19 in 20 differ by")
    assert "between -5.7 and -1.0 mm (the second reading less the first)" in words


def test_rows_are_plain_and_empty_where_too_few() -> None:
    rows = agreement.to_rows(agreement.answer(said(FIRST, THIRD), {}))
    length = next(one for one in rows if one["measurement"] == "ccd_injured_mm")
    assert (length["pairs"], length["group"]) == (6, "all")
    assert length["sem"] is not None
    union = next(one for one in rows if one["measurement"] == "union")
    assert (union["pairs"], union["kappa"], union["icc_2_1"]) == (0, None, None)
    assert len({tuple(one) for one in rows}) == 1
