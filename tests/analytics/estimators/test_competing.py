import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.competing import cumulative_incidence, gray_test
from analytics.estimators.survival import kaplan_meier, logrank

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


@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.integers(1, 12), st.sampled_from([0, 1, 2])),
        min_size=1,
        max_size=40,
    )
)
def test_with_late_entry_it_is_that_of_a_loop_over_the_times(
    rows: list[tuple[int, int, int]],
) -> None:
    entries, stays, causes = zip(*rows, strict=True)
    times = [entry + stay for entry, stay in zip(entries, stays, strict=True)]
    found = cumulative_incidence(times, causes, 1, entry=entries)
    share, free = 0.0, 1.0
    for time, row in found.iterrows():
        at_risk = sum(a < time <= b for a, b in zip(entries, times, strict=True))
        here = [cause for end, cause in zip(times, causes, strict=True) if end == time]
        share += free * here.count(1) / at_risk
        free *= 1 - (here.count(1) + here.count(2)) / at_risk
        assert row["at_risk"] == at_risk
        assert row["incidence"] == pytest.approx(share)


def test_one_patient_has_the_event_or_has_not() -> None:
    assert cumulative_incidence([7], [1], 1).loc[7, ["at_risk", "incidence"]].to_list() == [1, 1]
    assert cumulative_incidence([7], [0], 1).loc[7, "incidence"] == 0
    assert gray_test([3, 7], [1, 0], 1, ["a", "b"]).df == 1


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
        ([1, 0], 0, {}, "the cause must be a whole number, 1 or more"),
        ([1, 0], 1, {"entry": [2, 0]}, "each entry must be before its duration"),
        ([1, 0], 1, {"level": 1.0}, "the level must lie between 0 and 1"),
    ],
)
def test_bad_input_is_refused_in_words(
    causes: list[float], cause: int, extra: dict[str, object], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        cumulative_incidence([2, 3], causes, cause, **extra)  # type: ignore[arg-type]


grouped = st.lists(
    st.tuples(st.integers(0, 15), st.sampled_from([0, 1, 2, 3]), st.integers(0, 2)),
    min_size=2,
    max_size=60,
).filter(lambda rows: len({row[2] for row in rows}) > 1)
Grouped = list[tuple[int, int, int]]


def gray_by_hand(rows: Grouped) -> tuple[list[float], np.ndarray]:
    """Go through Gray's formulas one event time and one group at a time.

    Returns expected events and the variance of observed less expected.
    """
    labels = sorted({row[2] for row in rows})
    size, expected = len(labels), [0.0] * len(labels)
    survival, incidence, pooled = [1.0] * size, [0.0] * size, 0.0
    steps, hazard_sum = [], np.zeros((size, size))
    for time in sorted({row[0] for row in rows if row[1] > 0}):
        n = [sum(t >= time and g == one for t, _, g in rows) for one in labels]
        own = [sum((t, c, g) == (time, 1, one) for t, c, g in rows) for one in labels]
        other = [sum(t == time and c > 1 and g == one for t, c, g in rows) for one in labels]
        h = [n[k] / survival[k] if n[k] else 0.0 for k in range(size)]
        danger = [h[k] * (1 - incidence[k]) for k in range(size)]
        before, pooled_before = list(survival), pooled
        for k in range(size):
            expected[k] += sum(own) * danger[k] / sum(danger)
            if n[k]:
                incidence[k] += before[k] * own[k] / n[k]
                survival[k] *= 1 - (own[k] + other[k]) / n[k]
        step = sum(own) / sum(h)
        pooled += step
        a = np.array(
            [[h[k] * ((i == k) - h[i] / sum(h)) for k in range(size)] for i in range(size)]
        )
        if pooled_before < 1 - 1e-12:
            hazard_sum = hazard_sum + a * step / (1 - pooled_before)
        steps.append((n, own, other, h, before, list(survival), pooled, step, a, hazard_sum))
    variance = np.zeros((size, size))
    for n, own, other, h, before, after, at, step, a, reached in steps:
        for k in range(size):
            if not n[k]:
                continue
            left = hazard_sum[:, k] - reached[:, k]
            ratio = max(1 - at, 0.0) / after[k] if after[k] > 0 else 0.0
            ties = 1 - (sum(own) - 1) / (sum(h) * before[k] - 1) if sum(own) > 1 else 1.0
            lead = a[:, k] + (1 - ratio) * left
            variance += np.outer(lead, lead) * ties * before[k] * step / n[k]
            if after[k] > 0 and other[k]:
                ties = 1 - (other[k] - 1) / (n[k] - 1) if other[k] > 1 else 1.0
                lead = ratio * left
                variance += np.outer(lead, lead) * ties * before[k] ** 2 * other[k] / n[k] ** 2
    return expected, variance


@given(grouped)
def test_grays_test_is_that_of_a_loop_over_times_and_groups(rows: Grouped) -> None:
    times, causes, groups = zip(*rows, strict=True)
    found = gray_test(times, causes, 1, groups)
    expected, variance = gray_by_hand(rows)
    assert found.frame["expected"].to_list() == pytest.approx(expected, abs=1e-9)
    gap = (found.frame["observed"] - expected).to_numpy()
    inverse = np.linalg.pinv(variance, 1e-9, hermitian=True)
    assert found.statistic == pytest.approx(float(gap @ inverse @ gap), rel=1e-6, abs=1e-8)
    assert found.frame["observed"].sum() == causes.count(1)


@given(grouped)
def test_without_competing_events_gray_expects_what_the_logrank_does(rows: Grouped) -> None:
    times, causes, groups = zip(*rows, strict=True)
    happened = [min(cause, 1) for cause in causes]
    gray, plain = gray_test(times, happened, 1, groups), logrank(times, happened, groups)
    assert gray.frame["expected"].to_list() == pytest.approx(plain.frame["expected"].to_list())


def test_under_the_hypothesis_grays_test_keeps_its_level() -> None:
    rng = np.random.default_rng(20)
    rejected = 0
    for _ in range(600):
        times, causes = rng.integers(1, 40, 150), rng.choice([0, 1, 2], 150)
        rejected += gray_test(times, causes, 1, rng.integers(0, 3, 150)).p_value < 0.05
    # Two standard errors of 5 per cent in 600.
    assert rejected / 600 == pytest.approx(0.05, abs=0.018)


def test_strata_are_compared_each_within_itself() -> None:
    rng = np.random.default_rng(4)
    times, causes, groups = (
        rng.integers(1, 20, 80),
        rng.choice([0, 1, 2], 80),
        rng.integers(0, 2, 80),
    )
    alone = gray_test(times, causes, 1, groups)
    twice = gray_test(
        [*times, *times], [*causes, *causes], 1, [*groups, *groups], [0] * 80 + [1] * 80
    )
    assert twice.statistic == pytest.approx(2 * alone.statistic)
    assert twice.frame["expected"].to_list() == pytest.approx(
        (2 * alone.frame["expected"]).to_list()
    )


def test_without_an_event_of_the_cause_there_is_no_difference() -> None:
    found = gray_test([1, 2, 3], [0, 2, 0], 1, ["a", "b", "a"])
    assert (found.statistic, found.df, found.p_value) == (0, 1, 1)
    found = gray_test([1, 2, 3], [0, 0, 0], 1, ["a", "b", "c"])
    assert (found.statistic, found.df, found.p_value) == (0, 2, 1)


@pytest.mark.parametrize(
    ("causes", "cause", "groups", "words"),
    [
        ([1, 0.5], 1, [1, 2], "causes must hold whole numbers"),
        ([1, 0], 0, [1, 2], "the cause must be a whole number, 1 or more"),
        ([1, 0], 1.5, [1, 2], "the cause must be a whole number, 1 or more"),
        ([1, 0], 1, [1, 1], "a comparison needs at least two groups"),
        ([1, 0], 1, [1, None], "groups must not hold missing values"),
        ([1, 0], 1, [1], "durations has 2 values, groups has 1"),
    ],
)
def test_a_comparison_that_cannot_be_is_refused(
    causes: list[float], cause: int, groups: list[object], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        gray_test([2, 3], causes, cause, groups)  # type: ignore[arg-type]  # wrong on purpose
