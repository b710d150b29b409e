import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS, apply
from tests.analytics.cohort import data, harm, on

ANY, DEEP, DEEP_90 = (
    DEFINITIONS[name] for name in ("any-complication", "infection-deep", "infection-deep-90d")
)
SEEN = {"last_seen_on": on(400)}


def day(number: int) -> pd.Timestamp:
    return pd.Timestamp(on(number))


def test_the_first_complication_of_any_kind_counts() -> None:
    case = data([SEEN], harms=[harm(200, "nerve"), harm(30, "impingement")])
    verdict = apply(ANY, case).verdicts.loc[1]
    assert verdict["event_on"] == verdict["seen_until"] == day(30)


def test_a_kind_counts_only_itself() -> None:
    case = data([SEEN], harms=[harm(200, "infection_deep"), harm(30, "impingement")])
    assert apply(DEEP, case).verdicts.loc[1, "event_on"] == day(200)


def test_the_onset_is_the_day_of_an_event_where_it_is_known() -> None:
    case = data([SEEN], harms=[harm(30, onset_on=on(21))])
    assert apply(ANY, case).verdicts.loc[1, "event_on"] == day(21)


@pytest.mark.parametrize(("onset", "counts"), [(90, True), (91, False)])
def test_a_late_infection_is_outside_the_ninety_days(onset: int, counts: bool) -> None:
    case = data([SEEN], harms=[harm(120, "infection_deep", onset_on=on(onset))])
    assert pd.notna(apply(DEEP_90, case).verdicts.loc[1, "event_on"]) is counts
    assert pd.notna(apply(DEEP, case).verdicts.loc[1, "event_on"])


def test_without_an_event_the_watch_lasts_until_the_patient_was_last_seen() -> None:
    verdict = apply(ANY, data([SEEN])).verdicts.loc[1]
    assert verdict["seen_until"] == day(400)
    assert pd.isna(verdict["event_on"])


def test_a_revision_does_not_compete_with_a_complication_but_death_does() -> None:
    revised = {"revised_on": on(50), **SEEN}
    assert apply(ANY, data([revised])).verdicts.loc[1, "competing"] == ""
    died = {"patient_status": "died", "status_on": on(50)}
    assert apply(ANY, data([died])).verdicts.loc[1, "competing"] == "death"


def test_nobody_and_nothing_give_no_verdicts() -> None:
    assert apply(ANY, data([])).verdicts.empty
