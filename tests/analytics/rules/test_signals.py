from collections.abc import Callable
from datetime import date, timedelta

import pytest

from analytics.rules import signals
from analytics.rules.signals import SUBJECTS, WORDS
from registry.errors import BadInput, IllegalTransition

TODAY = date(2026, 11, 25)
ALL = frozenset(SUBJECTS)


def go(act: str) -> Callable[[str], str]:
    """Return an act with everything that it asks for."""
    return {
        "begin_checks": signals.begin_checks,
        "take_check": signals.take_check,
        "begin_review": lambda present: signals.begin_review(present, ALL),
        "write_finding": lambda present: signals.write_finding(present, "practice", ALL),
        "write_finding_from_data": lambda present: signals.write_finding(present, "data", ALL),
        "agree_action": signals.agree_action,
        "close": lambda present: signals.close(present, "the plates were too short"),
        "reopen": signals.reopen,
    }[act]


LEGAL = {
    "begin_checks": {"raised": "checks"},
    "take_check": {"raised": "checks", "checks": "checks", "review": "review"},
    "begin_review": {"checks": "review"},
    "write_finding": {"review": "finding"},
    "write_finding_from_data": {"checks": "finding", "review": "finding"},
    "agree_action": {"finding": "action"},
    "close": {"finding": "closed", "action": "closed"},
    "reopen": {"closed": "review"},
}


@pytest.mark.parametrize("act", LEGAL)
@pytest.mark.parametrize("present", WORDS)
def test_each_act_leads_where_the_table_says_and_nowhere_else(act: str, present: str) -> None:
    wanted = LEGAL[act].get(present)
    if wanted is not None:
        assert go(act)(present) == wanted
        return
    with pytest.raises(IllegalTransition) as refused:
        go(act)(present)
    assert f"'{WORDS[present]}'" in str(refused.value)
    assert refused.value.wanted in WORDS.values()


@pytest.mark.parametrize("missing", SUBJECTS)
def test_nothing_is_discussed_before_all_three_checks(missing: str) -> None:
    recorded = ALL - {missing}
    word = SUBJECTS[missing].split(":")[0].lower()
    with pytest.raises(BadInput, match=f"{word} not looked at yet"):
        signals.begin_review("checks", recorded)
    with pytest.raises(BadInput, match="not looked at yet"):
        signals.write_finding("review", "chance", recorded)
    with pytest.raises(BadInput, match="not looked at yet"):
        signals.write_finding("checks", "data", recorded)


@pytest.mark.parametrize("present", ["raised", "checks", "review", "finding", "action"])
def test_closing_without_a_finding_is_refused(present: str) -> None:
    with pytest.raises(BadInput, match="not closed without a finding"):
        signals.close(present, "  ")


def test_what_the_data_do_not_explain_is_found_in_the_cases_only() -> None:
    with pytest.raises(IllegalTransition, match="'data being checked'"):
        signals.write_finding("checks", "implant", ALL)


@pytest.mark.parametrize("state", WORDS)
def test_the_acts_that_are_offered_are_those_that_succeed(state: str) -> None:
    for recorded in (frozenset(), ALL):
        for name in signals.next_acts(state, recorded):
            acts = [name, "write_finding_from_data"] if name == "write_finding" else [name]
            assert any(state in LEGAL[act] for act in acts), (state, name)
    assert signals.next_acts("checks", ALL) == ("begin_review", "write_finding")
    assert signals.next_acts("checks", ALL - {"coding"}) == ()


def test_lateness_is_said_in_words() -> None:
    assert signals.late_words(TODAY, TODAY) == "due today"
    assert signals.late_words(TODAY + timedelta(days=1), TODAY) == "due in 1 day"
    assert signals.late_words(TODAY + timedelta(days=9), TODAY) == "due in 9 days"
    assert signals.late_words(TODAY - timedelta(days=1), TODAY) == "1 day late"
    assert signals.days_late(TODAY - timedelta(days=30), TODAY) == 30
    assert signals.days_late(TODAY + timedelta(days=30), TODAY) == 0
