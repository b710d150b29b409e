from datetime import timedelta

import pytest

from analytics.rules.ages import age_words


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(seconds=-5), "less than a minute old"),
        (timedelta(seconds=59), "less than a minute old"),
        (timedelta(minutes=1), "1 minute old"),
        (timedelta(minutes=119), "119 minutes old"),
        (timedelta(hours=2), "2 hours old"),
        (timedelta(hours=47), "47 hours old"),
        (timedelta(days=2), "2 days old"),
        (timedelta(days=400), "400 days old"),
    ],
)
def test_an_age_is_told_in_the_largest_unit_that_says_enough(age: timedelta, words: str) -> None:
    assert age_words(age) == words
