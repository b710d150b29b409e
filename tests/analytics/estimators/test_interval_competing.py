import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.interval import incidence_at, turnbull
from analytics.estimators.interval_competing import Exits, exits, free, kept
from analytics.estimators.survival import kaplan_meier


def test_an_exit_is_a_competing_event_a_loss_that_was_seen_or_the_last_look() -> None:
    found = exits(np.array([3.0, 1.0, 5.0]), np.array([np.inf, 4.0, np.inf]), [7, np.nan, np.nan])
    assert found is not None
    assert found.days[found.place].tolist() == [7, 4, 5]
    assert found.ended.tolist() == [True, False, False]
    assert found.of(np.array([2])).place.tolist() == [1]
    assert exits(np.array([3.0]), np.array([4.0]), None) is None


@given(st.lists(st.tuples(st.integers(0, 12), st.booleans()), min_size=1, max_size=30))
def test_the_share_free_of_competing_events_is_the_product_limit(
    rows: list[tuple[int, bool]],
) -> None:
    days, ended = (np.array(column) for column in zip(*rows, strict=True))
    distinct, place = np.unique(days.astype(float), return_inverse=True)
    shares = free(Exits(distinct, place, ended), np.ones((1, days.size), dtype=int))[0]
    assert shares[0] == 1
    assert shares[1:] == pytest.approx(kaplan_meier(days, ended)["survival"].to_numpy())


def test_samples_are_counted_each_for_itself() -> None:
    rows = Exits(np.array([2.0, 5.0]), np.array([0, 1]), np.array([True, False]))
    shares = free(rows, np.array([[1, 1], [3, 1], [0, 4]]))
    assert shares[:, 2].tolist() == pytest.approx([0.5, 0.25, 1])


def test_a_cell_keeps_the_mean_of_its_ends_and_a_day_what_is_free_before_it() -> None:
    rows = Exits(np.array([2.0, 5.0]), np.array([0, 1]), np.array([True, True]))
    shares = np.array([[1.0, 0.6, 0.2]])
    left = np.array([0.0, 1.0, 2.0, 5.0, 3.0])
    right = np.array([1.0, 5.0, 2.0, 5.0, np.inf])
    found = kept(shares, rows, np.zeros(5, dtype=int), left, right)
    assert found.tolist() == pytest.approx([1, 0.6, 1, 0.6, 0.6])


@pytest.mark.parametrize("seed", range(4))
def test_where_days_are_known_it_is_the_cumulative_incidence(seed: int) -> None:
    rng = np.random.default_rng(seed)
    days, causes = rng.permutation(np.arange(1.0, 121.0)), rng.choice([0, 1, 2], 120)
    right = np.where(causes == 1, days, np.inf)
    competing = np.where(causes == 2, days, np.nan)
    curve = cumulative_incidence(days, causes, 1)
    found = turnbull(days, right, competing)
    before = curve.index < days[causes == 1].max()
    band = found.cdf(curve.index.to_numpy()[before])
    assert band.lower == pytest.approx(curve["incidence"].to_numpy()[before], abs=1e-7)
    one = incidence_at(days, right, 60, competing=competing)
    assert one.estimate == pytest.approx(curve.loc[60, "incidence"], abs=1e-7)
    assert one.std_error == pytest.approx(curve.loc[60, "std_error"], rel=0.1)


def test_between_films_it_is_the_true_share_and_less_than_were_nothing_else_to_happen() -> None:
    rng = np.random.default_rng(9)
    size, rate = 1500, 1 / 400
    lost, other = rng.exponential(1 / rate, size), rng.exponential(1 / rate, size)
    films = np.sort(rng.integers(1, 400, (size, 8)), axis=1)
    taken = films < other[:, None]
    left = np.where(taken & (films < lost[:, None]), films, 0).max(axis=1).astype(float)
    right = np.where(taken & (films >= lost[:, None]), films, np.inf).min(axis=1)
    competing = np.where(np.isinf(right) & (other < 400), other, np.nan)
    truth = 0.5 * (1 - np.exp(-2 * rate * 200))
    crude = incidence_at(left, right, 200, competing=competing)
    net = incidence_at(left, right, 200)
    assert crude.low < truth < crude.high
    assert crude.estimate == pytest.approx(truth, abs=0.03)
    assert net.low < 1 - np.exp(-rate * 200) < net.high


@pytest.mark.parametrize(
    ("competing", "words"),
    [
        ([4.0], "left has 2 values, competing has 1"),
        ([2.0, np.nan], "on or after left"),
        ([np.inf, np.nan], "on or after left"),
        ([np.nan, 9.0], "right be infinite"),
    ],
)
def test_competing_events_that_cannot_be_are_refused(competing: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        turnbull([3, 1], [np.inf, 4], competing)
