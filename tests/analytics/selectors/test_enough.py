from datetime import date

import pytest

from analytics.answers.enough import Typed
from analytics.selectors import cohorts, frames, outcomes
from analytics.selectors.enough import enough_answer
from analytics.selectors.outcomes import Given
from analytics.services import snapshots
from registry.errors import BadInput
from tests import builders
from tests.analytics.records import held, lost
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
BLANK = (Typed(), Typed())


def view(**rule: object) -> Given:
    snapshot = snapshots.as_of(now=NOW, cutoff=TODAY)
    asked = cohorts.CohortRule(**rule)  # type: ignore[arg-type]
    return outcomes.given(asked, [builders.site()], snapshot, frames.build(None, TODAY))


def test_two_groups_of_the_cohort_are_compared() -> None:
    held(construct="HP")
    lost(construct="LP")
    lost(construct="LP")
    one = view()
    found = enough_answer(one, outcomes.outcome_answer(one), ("", ""), BLANK)
    assert (found.one.group, found.one.rate, found.one.evaluable) == ("LP", 1.0, 2)
    assert (found.other.group, found.other.rate) == ("HP", 0.0)
    assert found.one.operated_a_year == pytest.approx(2 / 1.48, abs=0.05)


def test_a_volume_ends_where_the_cohort_ends() -> None:
    held(construct="HP")
    held(construct="LP")
    one = view(operated_to=date(2025, 12, 31))
    found = enough_answer(one, outcomes.outcome_answer(one), ("", ""), BLANK)
    assert found.one.operated_a_year == pytest.approx(1 / 0.575, abs=0.05)


def test_groups_that_cannot_be_compared_are_refused_in_words() -> None:
    held()
    one = view()
    with pytest.raises(BadInput, match="takes two groups"):
        enough_answer(one, outcomes.outcome_answer(one), ("", ""), BLANK)
