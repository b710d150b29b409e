from typing import Any

import pandas as pd
import pytest

from analytics.answers import checks
from analytics.answers.checks import Checks
from tests.analytics import cohort
from tests.analytics.cohort import film, harm, on


def found(
    cases: list[dict[str, Any]],
    before: "list[dict[str, Any]] | None" = None,
    films: tuple[dict[str, Any], ...] = (),
    harms: tuple[dict[str, Any], ...] = (),
    states: "list[tuple[str, str]] | None" = None,
    entered: int = 1,
) -> Checks:
    """Return the checks of some cases, each entered so many days after it happened."""
    data = cohort.data(cases, list(films), list(harms))
    baseline = cohort.data(before or []).cases

    def late(frame: pd.DataFrame, day: str) -> pd.DataFrame:
        return frame.assign(recorded_on=frame[day] + pd.Timedelta(days=entered))

    stood = states or [("held", "")] * len(cases)
    return checks.checks(
        pd.DataFrame(stood, columns=["state", "reason"], index=data.cases.index),
        late(data.cases, "performed_on"),
        late(data.complications, "detected_on"),
        late(data.readings, "taken_on"),
        baseline,
    )


def coded(one: Checks, words: str) -> str:
    return next(share.written for share in one.coding if share.words == words)


def mixed(one: Checks, words: str) -> checks.Difference:
    return next(row for row in one.mix if row.words == words)


def test_completeness_says_who_could_be_judged_and_why_the_others_not() -> None:
    stood = [("held", ""), ("event", ""), ("not_evaluable", "no_film"), ("not_eligible", "")]
    one = found([{}] * 4, states=stood)
    assert (one.evaluable.number, one.evaluable.of) == (2, 3)
    assert one.evaluable.written == "2 of 3, 66.7% (20.8% to 93.9%)"
    assert one.reasons == (("no comparable film at or after the horizon", 1),)


def test_what_is_not_classified_is_counted_by_its_own_injuries() -> None:
    joint = {"injury_kind": "ac_joint", "neer": None, "rockwood": "V"}
    one = found([{}, {"neer": None}, joint, {**joint, "rockwood": None}])
    assert coded(one, "fractures without a Neer class").startswith("1 of 2, 50.0%")
    assert coded(one, "joint injuries without a Rockwood class").startswith("1 of 2, 50.0%")


def test_what_is_unknown_is_missing_as_what_is_empty() -> None:
    one = found([{"sex": "unknown", "age_years": None}, {"other_shoulder": "unknown"}, {}])
    assert coded(one, "operations without sex").startswith("1 of 3")
    assert coded(one, "operations without age").startswith("1 of 3")
    assert coded(one, "operations without state of the other shoulder").startswith("1 of 3")
    assert coded(one, "operations without surgeon").startswith("0 of 3")


def test_complications_without_an_onset_or_a_kind_are_counted() -> None:
    one = found([{}], harms=(harm(10), harm(20, "other", onset_on=on(18))))
    assert coded(one, "complications without a day of onset").startswith("1 of 2")
    assert coded(one, "complications of kind 'other'").startswith("1 of 2")
    none = found([{}])
    assert coded(none, "complications of kind 'other'") == "nobody to count"


def test_days_from_event_to_entry_are_said_with_their_late_ones() -> None:
    one = found([{}, {}], films=(film(2, 9.0),), entered=40)
    operations, complications, readings = one.delays
    assert operations.written == "median 40 days, nine tenths within 40; 2 of 2 after more than 30"
    assert readings.number == 1
    assert complications.written == "nothing entered"


def test_the_same_shoulder_twice_in_a_month_may_be_one_entered_twice() -> None:
    later = {"performed_on": on(20)}
    one = found([{}, later, {"side": "right"}, {"performed_on": on(400)}, {"patient_key": "P2"}])
    assert (1, 2) in one.doubles
    assert not any({3, 4} & set(pair) for pair in one.doubles)


def test_two_patients_alike_in_everything_may_be_one() -> None:
    one = found([{}, {"patient_key": "P2"}, {"patient_key": "P3", "surgeon_id": 2}])
    assert one.doubles == ((1, 2),)
    unknown = found([{"age_years": None}, {"patient_key": "P2", "age_years": None}])
    assert unknown.doubles == ()


def test_a_pair_is_named_once() -> None:
    assert found([{}, {}]).doubles == ((1, 2),)


def test_case_mix_is_compared_in_standard_deviations() -> None:
    before = [{"age_years": age, "sex": "male"} for age in (30, 40, 50)]
    since = [{"age_years": age, "sex": "female"} for age in (40, 50, 60)]
    one = found(since, before)
    assert mixed(one, "age in years").standardised == pytest.approx(1.0)
    assert (mixed(one, "age in years").before, mixed(one, "age in years").since) == (
        "mean 40.0",
        "mean 50.0",
    )
    assert checks.number(mixed(one, "female").standardised) == "all against none"
    assert mixed(one, "female").marked
    assert mixed(one, "fracture").standardised == 0.0
    assert not mixed(one, "fracture").marked


def test_a_share_is_taken_of_those_of_whom_it_is_recorded() -> None:
    before = [{"neer": "IIB"}, {"neer": "V"}, {"neer": None}]
    one = found([{"neer": "IIB"}, {"neer": "IIB"}, {"neer": "V"}, {"neer": "V"}], before)
    row = mixed(one, "Neer class IIB")
    assert (row.before, row.since, row.standardised) == ("1 of 2", "2 of 4", 0.0)


def test_how_far_apart_chance_alone_goes_is_said() -> None:
    one = found([{}] * 4, [{}] * 16)
    # 1.96 x sqrt(1/4 + 1/16)
    assert one.by_chance == pytest.approx(1.0957, abs=1e-4)
    assert found([{}]).by_chance is None


def test_nobody_at_all_can_be_checked_too() -> None:
    one = found([])
    assert one.evaluable.written == "nobody to count"
    assert one.mix[0].standardised is None
    assert checks.number(None) == "not computable"


@pytest.mark.parametrize("subject", ["completeness", "coding", "case_mix"])
def test_the_numbers_on_show_are_kept_as_plain_words(subject: str) -> None:
    one = found([{}] * 3, [{}] * 2, harms=(harm(3),))
    facts = checks.to_facts(one, subject)
    assert facts
    assert all(isinstance(value, str) for value in facts.values())
    if subject == "case_mix":
        assert facts["cases compared"] == "2 before, 3 since"
