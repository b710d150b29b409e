import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.proportions import wilson
from followup.rules.attendance import absence, expected, in_words


# Newcombe, Stat Med 1998;17:857, table I: method 3 for 81 of 263, 15 of 148, 0 of 20 and 1 of 29.
@pytest.mark.parametrize(
    ("missed", "slots", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_published_one(
    missed: int, slots: int, low: float, high: float
) -> None:
    found = absence(missed, slots)
    assert found.share == missed / slots
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_is_the_one_that_rates_have(counts: tuple[int, int]) -> None:
    missed, slots = counts
    found, reference = absence(missed, slots), wilson(missed, slots)
    assert found.low == pytest.approx(reference.low, abs=1e-12)
    assert found.high == pytest.approx(reference.high, abs=1e-12)


def test_of_no_past_nothing_is_claimed() -> None:
    found = absence(0, 0)
    assert (found.share, found.low, found.high, found.is_enough) == (None, 0.0, 1.0, False)
    assert expected(10, found).likely is None
    assert (expected(10, found).low, expected(10, found).high) == (0.0, 10.0)
    assert "nothing is known" in in_words(found)


def test_expected_is_due_less_the_share_that_stays_away() -> None:
    past = absence(15, 148)
    come = expected(20, past)
    assert come.likely == pytest.approx(20 * 133 / 148)
    assert come.low == pytest.approx(20 * (1 - 0.1605), abs=0.002)
    assert come.high == pytest.approx(20 * (1 - 0.0624), abs=0.002)


def test_the_words_give_the_counts_and_say_when_they_are_few() -> None:
    assert in_words(absence(15, 148)).startswith(
        "Not coming: 15 of 148 past slots, 10% (95% interval 6% to 16%"
    )
    assert "too few" not in in_words(absence(2, 20))
    assert "too few to plan by" in in_words(absence(2, 19))


@pytest.mark.parametrize(("missed", "slots"), [(-1, 5), (6, 5), (0, -1)])
def test_counts_that_cannot_be_are_refused(missed: int, slots: int) -> None:
    with pytest.raises(ValueError, match="is no share"):
        absence(missed, slots)
