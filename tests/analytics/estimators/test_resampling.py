import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.resampling import Spell, bootstrap_survival
from analytics.estimators.survival import kaplan_meier

subjects = st.lists(st.tuples(st.integers(0, 12), st.booleans()), min_size=1, max_size=40)
Rows = list[tuple[int, bool]]


def at(rows: Rows, horizon: float, weights: list[int] | None = None) -> float:
    times, happened = zip(*rows, strict=True)
    curve = kaplan_meier(times, happened, weights=weights)["survival"]
    return float(curve[curve.index <= horizon].iloc[-1]) if min(times) <= horizon else 1.0


def spell(rows: Rows, horizon: float) -> Spell:
    times, happened = (np.array(column) for column in zip(*rows, strict=True))
    return Spell.of(times.astype(float), happened.astype(bool), horizon)


@given(subjects, st.integers(1, 13))
def test_the_counts_give_the_curve_at_the_horizon(rows: Rows, horizon: int) -> None:
    counted = spell(rows, horizon)
    assert counted.counts.sum() == len(rows)
    assert counted.survival(counted.counts[None, :]).tolist() == pytest.approx([at(rows, horizon)])


@given(subjects, st.integers(1, 13), st.integers(2, 4))
def test_weights_give_the_curve_of_so_many_of_each(rows: Rows, horizon: int, times: int) -> None:
    counted = spell(rows, horizon)
    # Every second of the cells so many times over, as if its subjects had been drawn again.
    weights = counted.counts * np.where(np.arange(counted.counts.size) % 4 < 2, times, 1)
    ends = np.unique([time for time, happened in rows if happened and time <= horizon])
    cells = [
        2 * np.searchsorted(ends, time, "right") - (happened and time <= horizon)
        for time, happened in rows
    ]
    again = [times if cell % 4 < 2 else 1 for cell in cells]
    assert counted.survival(weights[None, :]).tolist() == pytest.approx([at(rows, horizon, again)])


def test_resamples_spread_as_those_drawn_one_by_one() -> None:
    rng = np.random.default_rng(6)
    times, happened = rng.integers(1, 500, 80), rng.random(80) < 0.4
    found = bootstrap_survival(times, happened, np.zeros(80, dtype=int), 365, 4000)[0]
    plain = []
    for _ in range(1500):
        drawn = rng.integers(0, 80, 80)
        plain.append(at(list(zip(times[drawn], happened[drawn], strict=True)), 365))
    spread = float(np.std(plain))
    assert found.mean() == pytest.approx(np.mean(plain), abs=4 * spread / np.sqrt(1500))
    assert found.std() == pytest.approx(spread, rel=0.1)


def test_resamples_spread_as_greenwood_says_in_each_group() -> None:
    rng = np.random.default_rng(7)
    times, happened = rng.integers(1, 700, 900), rng.random(900) < 0.5
    groups = np.repeat(["plate", "hook", "anchor"], 300)
    found = bootstrap_survival(times, happened, groups, 365, seed=3)
    assert list(found.columns) == ["anchor", "hook", "plate"]
    assert len(found) == 2000
    for group in found.columns:
        curve = kaplan_meier(times[groups == group], happened[groups == group])
        last = curve[curve.index <= 365].iloc[-1]
        assert found[group].mean() == pytest.approx(last["survival"], abs=0.004)
        assert found[group].std() == pytest.approx(last["std_error"], rel=0.08)


@pytest.mark.parametrize("staying", [20, 2000])
@pytest.mark.parametrize("leaving", [[3, 1, 2, 4, 0, 2], [300, 100, 200, 400, 0, 200]])
def test_cells_are_drawn_as_a_multinomial_either_way(leaving: list[int], staying: int) -> None:
    counts = np.array([*leaving, staying])
    drawn = Spell(counts).weights(20_000, np.random.default_rng(9))
    size, share = counts.sum(), counts / counts.sum()
    assert (drawn.sum(axis=1) == size).all()
    assert drawn.mean(axis=0) == pytest.approx(counts, rel=0.03, abs=1e-12)
    expected = size * (np.diag(share) - np.outer(share, share))
    spread = np.sqrt(np.outer(expected.diagonal(), expected.diagonal()))
    assert np.abs(np.cov(drawn.T) - expected).max() < 0.05 * spread.max()


def test_the_same_seed_gives_the_same_resamples_and_many_are_drawn_in_parts() -> None:
    rng = np.random.default_rng(8)
    times, happened = rng.random(3000) * 400, np.ones(3000)
    one, two, other = (
        bootstrap_survival(times, happened, np.ones(3000), 300, 1500, seed) for seed in (1, 1, 2)
    )
    assert one.equals(two)
    assert not one.equals(other)
    # 300 of 400 days of an even spread.
    assert one[1.0].mean() == pytest.approx(0.25, abs=0.02)


def test_groups_without_events_or_with_nothing_else_do_not_vary() -> None:
    found = bootstrap_survival([5, 9, 5, 9], [0, 0, 1, 1], [1, 1, 2, 2], 30, 50)
    assert set(found[1]) == {1.0}
    assert set(found[2]) == {0.0}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"durations": []}, "durations must be a list with at least one value"),
        ({"observed": [1, 2]}, "observed must hold only 0 and 1"),
        ({"groups": ["a", None]}, "groups must not hold missing values"),
        ({"horizon": 0}, "the horizon must be above 0"),
        ({"horizon": np.nan}, "the horizon must be above 0"),
        ({"resamples": 0}, "at least one resample"),
    ],
)
def test_resamples_of_what_cannot_be_are_refused(change: dict[str, object], words: str) -> None:
    sound = {"durations": [1, 2], "observed": [1, 0], "groups": ["a", "b"], "horizon": 3}
    with pytest.raises(ValueError, match=words):
        bootstrap_survival(**{**sound, **change})  # type: ignore[arg-type]  # wrong on purpose
