from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from analytics.models import DataCheck, Signal, SignalStep
from analytics.services import signals
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Site
from tests import builders
from tests.analytics import monitored
from tests.builders import NOW, TODAY


@pytest.fixture
def site(db: None) -> Site:
    return builders.site()


@pytest.fixture
def row(site: Site) -> Signal:
    return monitored.signal(site)


def who(row: Signal, **more: Any) -> dict[str, Any]:
    return {"by": row.owner, "now": NOW, "expected_version": row.version, **more}


def steps(row: Signal) -> list[str]:
    return list(row.steps.values_list("kind", flat=True))


def test_a_crossing_opens_a_signal_with_an_owner_and_a_day(row: Signal) -> None:
    assert (row.state, row.owner) == ("raised", row.design.owner)
    assert row.due_on == TODAY + timedelta(days=14)
    assert row.events == row.cases == row.position + 1
    (step,) = row.steps.all()
    assert (step.kind, step.by) == ("raised", None)
    assert (
        f"{row.events} of {row.cases} cases had the event, where {row.cases / 10:.1f}" in step.words
    )


def test_a_crossing_opens_its_signal_once(row: Signal) -> None:
    before = list(Signal.objects.values()), SignalStep.objects.count()
    assert signals.raise_crossings(design=row.design, now=NOW, today=TODAY) == 0
    assert (list(Signal.objects.values()), SignalStep.objects.count()) == before


def test_a_signal_goes_from_data_to_cases_to_a_finding_an_action_and_its_end(row: Signal) -> None:
    monitored.found(row)
    signals.agree_action(
        signal=row, words="stock longer plates", due_on=TODAY, today=TODAY, **who(row)
    )
    assert (row.state, row.action) == ("action", "stock longer plates")
    signals.close(signal=row, words="in use since Monday", **who(row))
    row.refresh_from_db()
    assert (row.state, row.closed_at, row.version) == ("closed", NOW, 8)
    assert steps(row) == [
        *("raised", "check", "check", "check"),
        *("review", "finding", "action", "closed"),
    ]
    assert all(step.by == row.owner and step.words for step in row.steps.exclude(kind="raised"))


def test_the_first_check_begins_them_and_says_what_was_on_show(row: Signal) -> None:
    monitored.checked(row, but=("coding", "case_mix"))
    assert row.state == "checks"
    check = DataCheck.objects.get(signal=row)
    assert (check.looked_by, check.facts) == (row.owner, {"cases": "78"})
    assert check.operated_from == row.design.starts_on
    assert "Completeness: Nothing there that could explain it." in row.steps.last().words


def test_nothing_is_discussed_before_the_three_checks_are_recorded(row: Signal) -> None:
    monitored.checked(row, but=("case_mix",))
    with pytest.raises(BadInput, match="case mix not looked at yet"):
        signals.begin_review(signal=row, words="read", **who(row))
    with pytest.raises(BadInput, match="case mix not looked at yet"):
        signals.write_finding(signal=row, kind="data", words="late films", **who(row))
    assert row.state == "checks"


def test_what_the_data_explain_needs_no_review(row: Signal) -> None:
    monitored.checked(row)
    signals.write_finding(signal=row, kind="data", words="films entered twice", **who(row))
    signals.close(signal=row, words="corrected", **who(row))
    assert row.state == "closed"


def test_closing_without_a_finding_is_refused(row: Signal) -> None:
    monitored.checked(row)
    with pytest.raises(BadInput, match="not closed without a finding"):
        signals.close(signal=row, words="nothing to see", **who(row))
    row.refresh_from_db()
    assert row.state == "checks"


def test_a_check_comes_too_late_once_there_is_a_finding(row: Signal) -> None:
    monitored.found(row)
    with pytest.raises(IllegalTransition, match="'finding written down'"):
        monitored.checked(row)
    assert DataCheck.objects.filter(signal=row).count() == 3


def test_a_signal_that_is_opened_again_needs_another_finding(row: Signal) -> None:
    monitored.found(row)
    signals.close(signal=row, words="done", **who(row))
    day = TODAY + timedelta(days=7)
    signals.reopen(signal=row, words="it goes on", due_on=day, today=TODAY, **who(row))
    assert (row.state, row.finding, row.closed_at, row.due_on) == ("review", "", None, day)
    assert "shorter plates since spring" in row.steps.get(kind="finding").words


def test_an_owner_hands_over_to_somebody_who_may_settle_it(row: Signal) -> None:
    heir = builders.person("heir", north="quality_lead")
    signals.hand_over(signal=row, owner=heir, words="on leave", today=TODAY, **who(row))
    assert row.owner == heir
    assert "to Heir. on leave" in row.steps.last().words
    stranger = builders.person("selma", north="surgeon")
    with pytest.raises(BadInput, match="may not settle signals"):
        signals.hand_over(signal=row, owner=stranger, words="x", today=TODAY, **who(row))


def test_a_day_is_put_off_with_a_reason(row: Signal) -> None:
    day = TODAY + timedelta(days=40)
    signals.put_off(signal=row, due_on=day, words="films to come", today=TODAY, **who(row))
    assert row.due_on == day
    yesterday = TODAY - timedelta(days=1)
    with pytest.raises(BadInput, match="This day is over"):
        signals.put_off(signal=row, due_on=yesterday, words="x", today=TODAY, **who(row))


def test_a_closed_signal_changes_neither_owner_nor_day(row: Signal) -> None:
    monitored.found(row)
    signals.close(signal=row, words="done", **who(row))
    for act in (
        lambda: signals.put_off(signal=row, due_on=TODAY, words="x", today=TODAY, **who(row)),
        lambda: signals.hand_over(signal=row, owner=row.owner, words="x", today=TODAY, **who(row)),
    ):
        with pytest.raises(BadInput, match="open it again first"):
            act()


ACTS: dict[str, Callable[[Signal, str], Any]] = {
    "close": lambda row, words: signals.close(signal=row, words=words, **who(row)),
    "agree": lambda row, words: signals.agree_action(
        signal=row, words=words, due_on=TODAY, today=TODAY, **who(row)
    ),
}


@pytest.mark.parametrize("act", ACTS)
def test_no_step_goes_without_words(row: Signal, act: str) -> None:
    monitored.found(row)
    with pytest.raises(BadInput) as refused:
        ACTS[act](row, "  ")
    assert "words" in refused.value.faults
    assert row.steps.count() == 6


def test_whoever_saw_an_older_version_is_told_and_nothing_is_kept(row: Signal) -> None:
    stale = row.version
    monitored.checked(row)
    before = row.steps.count()
    with pytest.raises(StaleVersion):
        signals.begin_review(
            signal=row, words="read", by=row.owner, now=NOW, expected_version=stale
        )
    assert row.steps.count() == before


def test_a_check_that_loses_the_race_is_not_half_saved(row: Signal) -> None:
    with pytest.raises(StaleVersion):
        signals.record_check(
            signal=row,
            subject="coding",
            verdict="sound",
            finding="nothing",
            facts={"cases": "78"},
            by=row.owner,
            now=NOW,
            expected_version=row.version + 5,
        )
    assert not DataCheck.objects.exists()


def test_the_data_can_be_looked_at_without_a_signal(site: Site) -> None:
    given: dict[str, Any] = {
        "site": site,
        "subject": "coding",
        "verdict": "doubt",
        "facts": {"operations without sex": "3 of 50"},
        "operated_from": None,
        "operated_to": TODAY,
        "by": monitored.lead(),
        "now": NOW,
    }
    check = signals.look_at_data(finding="three to be asked for", **given)
    assert (check.signal, check.finding) == (None, "three to be asked for")
    with pytest.raises(BadInput, match="Say what was found"):
        signals.look_at_data(finding=" ", **given)


def test_every_step_is_in_the_trail_with_who_and_why(row: Signal) -> None:
    monitored.found(row)
    entries = AuditEntry.objects.filter(table="analytics_signal", action="update")
    assert set(entries.values_list("person_id", flat=True)) == {row.owner.pk}
    assert "shorter plates since spring" in entries.last().reason
    by_job = AuditEntry.objects.filter(table="analytics_signal", action="insert").earliest("id")
    assert (by_job.person_id, by_job.reason) == (None, "raised by the nightly watch")
