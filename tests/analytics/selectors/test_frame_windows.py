from typing import Any

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from analytics.selectors.frame_windows import holding, with_step

START = pd.Timestamp(2026, 1, 1)
WINDOWS = (("2w", "", 10, 14, 21), ("6w", "6w", 28, 42, 56), ("3m", "3m", 50, 91, 112))


def reviews(owner: int = 1, **attended: int) -> pd.DataFrame:
    rows = [
        {
            "procedure_id": owner,
            "step": step,
            "horizon": horizon,
            "opens_on": day(opens),
            "due_on": day(due),
            "closes_on": day(closes),
            "attended_on": day(attended[f"at_{step}"]) if f"at_{step}" in attended else pd.NaT,
        }
        for step, horizon, opens, due, closes in WINDOWS
    ]
    return pd.DataFrame(rows).astype({"attended_on": "datetime64[ns]"})


def day(number: int) -> pd.Timestamp:
    return START + pd.Timedelta(days=number)


def seen(*days: int, owner: int = 1) -> pd.DataFrame:
    on = np.array([day(one) for one in days], dtype="datetime64[ns]")
    return pd.DataFrame({"procedure_id": np.full(len(days), owner), "seen_on": on})


def steps(*days: int, of: pd.DataFrame | None = None) -> list[str]:
    found = with_step(seen(*days), "seen_on", reviews() if of is None else of)
    return list(found["step"])


def test_a_day_counts_for_the_window_that_holds_it() -> None:
    assert steps(9, 10, 21, 22, 42, 112, 113) == ["", "2w", "2w", "", "6w", "3m", ""]


def test_a_day_in_two_windows_counts_for_the_nearer_due_day() -> None:
    assert steps(50, 56) == ["6w", "6w"]
    assert steps(50, of=reviews().drop(index=1)) == ["3m"]


def test_a_visit_outside_its_window_counts_for_it_and_is_labelled() -> None:
    late = with_step(seen(25, 24), "seen_on", reviews(at_2w=25))
    assert list(late["step"]) == ["2w", "2w"]
    assert list(late["in_window"]) == [False, False]
    early = with_step(seen(8), "seen_on", reviews(at_2w=8))
    assert (list(early["step"]), list(early["in_window"])) == (["2w"], [False])
    assert list(with_step(seen(14), "seen_on", reviews())["in_window"]) == [True]
    assert list(with_step(seen(42), "seen_on", reviews())["horizon"]) == ["6w"]


def test_another_patients_window_holds_nothing() -> None:
    assert steps(14, of=reviews(owner=2)) == [""]
    assert steps(14, of=reviews().iloc[:0]) == [""]
    assert with_step(seen(), "seen_on", reviews()).empty


@given(
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 130)), max_size=12),
    st.lists(st.integers(1, 3), unique=True),
)
def test_pairs_are_those_that_a_loop_over_everything_finds(rows: Any, owners: list[int]) -> None:
    dated = pd.DataFrame(rows, columns=["procedure_id", "on"]).astype("int64")
    dated["on"] = pd.to_datetime([day(int(number)) for number in dated["on"]])
    dated["on"] = dated["on"].astype("datetime64[ns]")
    parts = [reviews(owner, at_2w=25) for owner in owners] or [reviews().iloc[:0]]
    all_reviews = pd.concat(parts, ignore_index=True).sample(frac=1.0, random_state=1)
    all_reviews = all_reviews.reset_index(drop=True)
    row, review = holding(dated, all_reviews)
    found = set(zip(row.tolist(), review.tolist(), strict=True))
    wanted = set()
    for at, one in dated.iterrows():
        for place, plan in all_reviews.iterrows():
            last = plan["closes_on"]
            if not pd.isna(plan["attended_on"]):
                last = max(last, plan["attended_on"])
            if one["procedure_id"] == plan["procedure_id"] and (
                plan["opens_on"] <= one["on"] <= last or one["on"] == plan["attended_on"]
            ):
                wanted.add((at, place))
    assert found == wanted
    assert len(row) == len(found)
    assert row.dtype == review.dtype == np.int64
