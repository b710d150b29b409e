from dataclasses import replace
from typing import Any

import pytest
from django.core.cache import cache

from analytics.selectors import outcomes
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.kept import is_kept, kept
from analytics.services import snapshots
from tests import builders
from tests.analytics.records import held
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def empty() -> None:
    cache.clear()


@pytest.fixture
def view(defaults: None) -> outcomes.Given:
    held()
    snapshot = snapshots.refresh(now=NOW, today=TODAY)
    frames = snapshots.frames_of(snapshot)
    return outcomes.given(CohortRule(), [builders.site()], snapshot, frames)


def test_an_answer_is_made_once(view: outcomes.Given) -> None:
    made: list[int] = []

    def make() -> str:
        made.append(1)
        return "an answer"

    assert not is_kept(view, "slow")
    assert [kept(view, "slow", make) for _ in range(3)] == ["an answer"] * 3
    assert made == [1]
    assert is_kept(view, "slow")


@pytest.mark.parametrize(
    "changes",
    [
        {"rule": CohortRule(horizon="6m")},
        {"rule": CohortRule(definition_id="ratio-25")},
        {"min_at_risk": 9},
        {"site_codes": frozenset({"south"})},
    ],
)
def test_another_view_has_its_own_answer(view: outcomes.Given, changes: dict[str, Any]) -> None:
    kept(view, "slow", lambda: 1)
    assert not is_kept(replace(view, **changes), "slow")


def test_other_data_another_question_and_another_wish_have_their_own(view: outcomes.Given) -> None:
    kept(view, "slow", lambda: 1, "age")
    assert is_kept(view, "slow", "age")
    assert not is_kept(view, "slow", "sex")
    assert not is_kept(view, "other", "age")
    held()
    later = snapshots.refresh(now=NOW, today=TODAY)
    assert not is_kept(replace(view, snapshot=later), "slow", "age")
