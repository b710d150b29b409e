from typing import Any

import pandas as pd
import pytest

from analytics.answers import funnels
from analytics.answers.funnels import Funnel, Unit
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS

RISE, YEAR = DEFINITIONS["rise-3mm"], HORIZONS["12m"]


def made(units: dict[str, tuple[int, int]], missing: int = 0, **names: str) -> Funnel:
    """Return a funnel of units with so many events in so many judged cases."""
    state, group = [], []
    for unit, (events, judged) in units.items():
        state += ["event"] * events + ["held"] * (judged - events)
        group += [unit] * judged
    state += ["not_evaluable"] * missing
    group += [next(iter(units), "none")] * missing
    states = pd.DataFrame({"state": pd.Series(state, dtype=object)})
    groups = pd.Series(group, dtype=object)
    return funnels.funnel(states, groups, names, RISE, YEAR, "sites")


def unit(found: Funnel, name: str) -> Unit:
    return next(one for one in found.units if one.name == name)


def test_the_limits_around_a_target_are_the_published_formulas() -> None:
    # 5 of 50 and 15 of 150: both at a target of 10 per cent. Spiegelhalter, Stat Med 2005;24:1185,
    # appendix A.1.1; the limits at n = 50 were computed with another implementation in R.
    found = made({"a": (5, 50), "b": (15, 150)})
    assert found.target == pytest.approx(0.1)
    row = unit(found, "a")
    assert (row.low_alert, row.high_alert) == pytest.approx((0.0139, 0.1797), abs=1e-4)
    assert (row.low_alarm, row.high_alarm) == pytest.approx((0.0, 0.2401), abs=1e-4)
    assert row.place == "within"
    assert list(found.limits) == ["low_alert", "high_alert", "low_alarm", "high_alarm"]


def test_units_stand_by_their_names_and_never_by_their_rates() -> None:
    found = made({"worse": (9, 20), "better": (0, 60), "middle": (4, 40)})
    assert [one.name for one in found.units] == ["better", "middle", "worse"]
    assert [row["unit"] for row in funnels.to_rows(found)] == ["better", "middle", "worse"]


def test_a_point_beyond_a_limit_is_said_to_ask_for_the_data() -> None:
    found = made({"high": (25, 60), "usual": (20, 200), "low": (0, 90)})
    assert unit(found, "high").place == "beyond_alarm"
    assert unit(found, "low").place == "beyond_alarm"
    said = funnels.sentence(found)
    assert "High beyond the 99.8% limit; low beyond the 99.8% limit" in said
    assert "asks for the data to be looked at first" in said
    assert "45 of 350, 12.9%" in said
    assert "performance" not in said


def test_a_point_between_both_limits_is_beyond_the_first_only() -> None:
    found = made({"a": (10, 50), "b": (20, 250)})
    row = unit(found, "a")
    assert row.high_alert < 0.2 < row.high_alarm
    assert row.place == "beyond_alert"


def test_a_small_volume_is_shown_and_not_judged() -> None:
    found = made({"small": (9, 9), "large": (20, 200)})
    assert unit(found, "small").place == ""
    assert "1 with fewer than 10 judged cases: grey, and not judged" in funnels.sentence(found)
    assert "beyond" not in funnels.sentence(found)


def test_those_who_could_not_be_judged_are_eligible_and_in_no_rate() -> None:
    row = unit(made({"a": (2, 20), "b": (2, 20)}, missing=5), "a")
    assert (row.operated, row.eligible, row.evaluable, row.events) == (25, 25, 20, 2)


@pytest.mark.parametrize(
    ("units", "why"),
    [
        ({}, "here only none can be"),
        ({"a": (2, 20)}, "here only 1 can be"),
        ({"a": (0, 20), "b": (0, 30)}, "No event in 50 judged cases"),
        ({"a": (20, 20), "b": (30, 30)}, "Nothing but events in 50 judged cases"),
    ],
)
def test_what_gives_no_funnel_is_said(units: dict[str, tuple[int, int]], why: str) -> None:
    found = made(units)
    assert why in found.refused
    assert funnels.sentence(found) == found.refused
    assert found.limits.empty
    assert all(one.place == "" for one in found.units)


def test_cases_of_nobody_are_in_no_unit() -> None:
    states = pd.DataFrame({"state": ["event", "held", "held", "held"]}, dtype=object)
    groups = pd.Series([1, 2, None, None], dtype="Int64")
    found = funnels.funnel(states, groups, {1: "One", 2: "Two"}, RISE, YEAR, "surgeons")
    assert [(one.name, one.operated) for one in found.units] == [("One", 1), ("Two", 1)]


def test_over_dispersion_is_tested_where_there_are_units_enough() -> None:
    few = made({"a": (2, 20), "b": (3, 20), "c": (2, 20)})
    assert few.spread is not None
    assert "was not tested: it takes 4 sites" in few.spread.words
    # The twelve units of tests/reference: phi = 2.2987 around the pooled target of 10.517 per cent.
    sizes = [112, 85, 240, 60, 153, 97, 310, 45, 188, 131, 76, 205]
    events = [9, 12, 18, 3, 20, 5, 41, 7, 11, 16, 4, 33]
    many = made({f"u{n:02}": pair for n, pair in enumerate(zip(events, sizes, strict=True))})
    assert many.target == pytest.approx(0.10517, abs=1e-5)
    assert many.spread is not None
    assert many.spread.phi == pytest.approx(2.2987, abs=1e-4)
    # 12 x 2.2987 = 27.58 on 11 degrees of freedom.
    assert many.spread.p_value == pytest.approx(0.0038, abs=3e-4)
    assert "limits are too narrow" in many.spread.words


def test_units_that_differ_by_chance_alone_are_said_to() -> None:
    found = made(dict.fromkeys("abcd", (5, 50)))
    assert found.spread is not None
    assert "no sign that the points spread by more than chance" in found.spread.words


def test_whoever_may_see_no_other_gets_the_own_point_and_the_limits_alone() -> None:
    whole = made({"mine": (4, 30), "other": (2, 200), "third": (9, 50)})
    own = funnels.only(whole, "mine")
    assert [one.name for one in own.units] == ["mine"]
    assert own.target == whole.target
    # How far the limits are drawn tells nothing of the largest other volume.
    assert own.limits.index.max() == pytest.approx(33, abs=1)
    rows: list[dict[str, Any]] = funnels.to_rows(own)
    assert [row["unit"] for row in rows] == ["mine"]


def test_of_two_units_neither_is_shown_to_the_other() -> None:
    own = funnels.only(made({"mine": (4, 30), "other": (2, 40)}), "mine")
    assert own.units == ()
    assert (own.target, own.events, own.evaluable) == (0.0, 0, 0)
    assert own.limits.empty
    assert "would give the others away" in funnels.sentence(own)


def test_somebody_without_cases_sees_the_limits_and_no_point() -> None:
    own = funnels.only(made({"a": (4, 30), "b": (2, 40), "c": (3, 40)}), "nobody")
    assert own.units == ()
    assert not own.limits.empty
