from datetime import date, timedelta

from analytics.answers import running
from analytics.figures.charts import ChartFacts, chart_figure, chart_words, tuning_words

OUTCOMES = (False, True, True, False, True, False, True)


def facts(outcomes: tuple[bool, ...] = OUTCOMES, odds_ratio: float = 2.0) -> ChartFacts:
    return ChartFacts(
        title="Loss of reduction, North Hospital",
        odds_ratio=odds_ratio,
        limit=1.6,
        false_alarm=151.4,
        delay=31.7,
        days=[date(2025, 1, 1) + timedelta(days=7 * n) for n in range(len(outcomes))],
        outcomes=outcomes,
    )


def read(outcomes: tuple[bool, ...] = OUTCOMES) -> running.Reading:
    return running.read(outcomes, [0.1] * len(outcomes), 2.0, 1.6)


def test_what_the_limit_costs_stands_on_the_chart() -> None:
    said = chart_figure(read(), facts())["layout"]["title"]["subtitle"]["text"].replace("<br>", " ")
    assert "once in 151 cases on average" in said
    assert "found after 32 cases on average" in said


def test_a_run_begins_at_nothing_after_each_crossing() -> None:
    drawn = chart_figure(read(), facts())
    runs = [one for one in drawn["data"] if one["mode"] == "lines" and one["line"]["width"] == 2]
    sums = [one for one in runs if "dash" not in one["line"]]
    assert [(one["x"][0], one["x"][-1], one["y"][0]) for one in sums] == [(0, 5, 0.0), (5, 7, 0.0)]
    (crossing,) = [one for one in drawn["data"] if one.get("text")]
    assert (crossing["x"], crossing["text"]) == ([5], ["case 5"])


def test_cases_with_the_event_are_filled_and_the_others_hollow() -> None:
    drawn = chart_figure(read(), facts())
    hollow, filled = [one for one in drawn["data"] if one["mode"] == "markers"]
    assert filled["x"] == [2, 3, 5, 7]
    assert hollow["x"] == [1, 4, 6]
    assert hollow["marker"]["color"] != filled["marker"]["color"]


def test_the_words_say_how_it_stands_and_what_was_expected() -> None:
    said = chart_words(read(), facts())
    assert "7 cases from 01 Jan 2025 to 12 Feb 2025, 4 with the event" in said
    assert "at case 5 (3 of 5 cases with the event, 0.5 expected), and began again" in said
    assert "The sum stands at 0.60; the limit is 1.60" in said


def test_a_chart_that_is_quiet_or_empty_says_so() -> None:
    quiet = (False,) * 4
    assert "has not reached its limit" in chart_words(read(quiet), facts(quiet))
    assert "No case has settled" in chart_words(read(()), facts(()))
    assert chart_figure(read(()), facts(()))["layout"]["xaxis"]["range"] == [0, 10]


def test_a_chart_that_watches_for_better_says_so() -> None:
    assert "odds that fall to 0.5 of those expected" in tuning_words(facts(odds_ratio=0.5))
    assert "odds that are 2 times those expected" in tuning_words(facts())
