import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.survival import kaplan_meier

subjects = st.lists(
    st.tuples(st.integers(0, 25), st.sampled_from([0, 1, 2, 3])), min_size=1, max_size=60
)


@given(subjects)
def test_all_causes_and_the_event_free_add_up_to_one(rows: list[tuple[int, int]]) -> None:
    times, causes = zip(*rows, strict=True)
    free = kaplan_meier(times, [cause > 0 for cause in causes])["survival"]
    shares = sum(cumulative_incidence(times, causes, cause)["incidence"] for cause in (1, 2, 3))
    assert (shares + free).to_list() == pytest.approx([1.0] * len(free), abs=1e-12)


@given(subjects)
def test_with_one_cause_it_is_what_survival_leaves(rows: list[tuple[int, int]]) -> None:
    times, happened = zip(*[(time, min(cause, 1)) for time, cause in rows], strict=True)
    found = cumulative_incidence(times, happened, 1)
    curve = kaplan_meier(times, happened)
    assert found["incidence"].to_list() == pytest.approx((1 - curve["survival"]).to_list())
    inside = curve["survival"] > 0
    assert found.loc[inside, "std_error"].to_list() == pytest.approx(
        curve.loc[inside, "std_error"].to_list(), abs=1e-9
    )


@given(subjects, st.randoms(use_true_random=False))
def test_the_order_of_the_subjects_does_not_matter(
    rows: list[tuple[int, int]], chance: np.random.Generator
) -> None:
    shuffled = list(rows)
    chance.shuffle(shuffled)
    one, two = (cumulative_incidence(*zip(*given, strict=True), 1) for given in (rows, shuffled))
    assert one.equals(two)


@given(subjects)
def test_the_limits_hold_the_curve(rows: list[tuple[int, int]]) -> None:
    found = cumulative_incidence(*zip(*rows, strict=True), 2)
    assert (found["low"] <= found["incidence"] + 1e-15).all()
    assert (found["incidence"] <= found["high"] + 1e-15).all()
    assert found["incidence"].is_monotonic_increasing


@given(subjects)
def test_the_variance_is_that_of_the_plain_double_sum(rows: list[tuple[int, int]]) -> None:
    times, causes = zip(*rows, strict=True)
    found = cumulative_incidence(times, causes, 1)
    every = kaplan_meier(times, [cause > 0 for cause in causes])
    before = every["survival"].shift(fill_value=1.0).to_numpy()
    share, n = found["incidence"].to_numpy(), found["at_risk"].to_numpy()
    own, d = found["events"].to_numpy(), every["events"].to_numpy()
    for at in range(len(found)):
        total = 0.0
        for s in range(at + 1):
            gap = share[at] - share[s]
            if n[s] > d[s]:
                total += gap**2 * d[s] / (n[s] * (n[s] - d[s]))
            total += before[s] ** 2 * own[s] * (n[s] - own[s]) / n[s] ** 3
            total -= 2 * gap * before[s] * own[s] / n[s] ** 2
        assert found["std_error"].iloc[at] == pytest.approx(np.sqrt(max(total, 0)), abs=1e-7)


def test_a_cause_that_never_comes_has_no_incidence() -> None:
    found = cumulative_incidence([1, 2, 3], [2, 0, 2], 1)
    assert (found[["events", "incidence", "std_error", "low", "high"]] == 0).all().all()


def test_a_late_entrant_is_at_risk_only_after_entry() -> None:
    found = cumulative_incidence([2, 4, 6], [1, 2, 1], 1, entry=[0, 2, 1])
    assert found["at_risk"].to_list() == [2, 2, 1]
    assert found["incidence"].to_list() == pytest.approx([0.5, 0.5, 0.75])


@pytest.mark.parametrize(
    ("causes", "cause", "extra", "words"),
    [
        ([1, 0.5], 1, {}, "causes must hold whole numbers"),
        ([1, -1], 1, {}, "causes must hold whole numbers"),
        ([1], 1, {}, "durations has 2 values, causes has 1"),
        ([1, 0], 0, {}, "the cause must be 1 or more"),
        ([1, 0], 1, {"entry": [2, 0]}, "each entry must be before its duration"),
        ([1, 0], 1, {"level": 1.0}, "the level must lie between 0 and 1"),
    ],
)
def test_bad_input_is_refused_in_words(
    causes: list[float], cause: int, extra: dict[str, object], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        cumulative_incidence([2, 3], causes, cause, **extra)  # type: ignore[arg-type]
