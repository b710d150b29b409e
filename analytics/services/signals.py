"""Everything that can become of a signal: each step in one change, with who and why, kept for good."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from analytics.models.monitoring import ChartDesign
from analytics.models.signals import (
    DataCheck,
    FindingKind,
    Signal,
    SignalState,
    SignalStep,
    StepKind,
)
from analytics.rules import signals as rules
from analytics.selectors import monitoring
from analytics.selectors import signals as selector
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records


def raise_crossings(*, design: ChartDesign, now: datetime, today: date) -> int:
    """Open a signal for each crossing of a chart that has none yet; return how many were opened."""
    reading = monitoring.read(design, monitoring.rows_of(design))
    opened = 0
    with records.change(by=None, reason="raised by the nightly watch"):
        for crossing in reading.crossings:
            signal, new = Signal.objects.get_or_create(
                design=design,
                position=crossing.position,
                defaults={
                    "site": design.site,
                    "cases": crossing.cases,
                    "events": crossing.events,
                    "expected_events": crossing.expected_events,
                    "raised_at": now,
                    "owner": design.owner,
                    "due_on": today + timedelta(days=design.answer_days),
                },
            )
            if new:
                opened += 1
                words = (
                    f"{crossing.events} of {crossing.cases} cases had the event, where "
                    f"{crossing.expected_events:.1f} were expected."
                )
                _keep(signal, StepKind.RAISED, words, by=None, now=now)
    return opened


def look_at_data(
    *,
    site: Site,
    subject: str,
    verdict: str,
    finding: str,
    facts: Mapping[str, str],
    operated_from: date | None,
    operated_to: date | None,
    by: Person,
    now: datetime,
) -> DataCheck:
    """Record that somebody looked at one check of a site's data, whatever for, and what was found.

    Raises BadInput without a finding.
    """
    with records.change(by=by, reason="data looked at"):
        return _look(
            DataCheck(
                site=site,
                subject=subject,
                verdict=verdict,
                finding=finding.strip(),
                facts=dict(facts),
                operated_from=operated_from,
                operated_to=operated_to,
                looked_at=now,
                looked_by=by,
            )
        )


def record_check(
    *,
    signal: Signal,
    subject: str,
    verdict: str,
    finding: str,
    facts: Mapping[str, str],
    by: Person,
    now: datetime,
    expected_version: int,
) -> DataCheck:
    """Record one of the three checks that come before a signal is discussed; the first begins them.

    Raises BadInput without a finding, IllegalTransition once a finding of the signal is written
    down, StaleVersion.
    """
    design = signal.design
    with records.change(by=by, reason="data looked at for a signal"):
        state = rules.take_check(signal.state)
        check = _look(
            DataCheck(
                site=signal.site,
                signal=signal,
                subject=subject,
                verdict=verdict,
                finding=finding.strip(),
                facts=dict(facts),
                operated_from=design.starts_on,
                looked_at=now,
                looked_by=by,
            )
        )
        words = f"{check.get_subject_display()}: {check.get_verdict_display()}. {check.finding}"
        _go(signal, StepKind.CHECK, {"state": state}, words, expected_version, by=by, now=now)
    return check


def begin_review(
    *, signal: Signal, words: str, by: Person, now: datetime, expected_version: int
) -> Signal:
    """Begin to go through the cases: only after all three checks.

    Raises BadInput naming the checks that are missing, IllegalTransition, StaleVersion.
    """
    state = rules.begin_review(signal.state, selector.recorded(signal))
    return _go(signal, StepKind.REVIEW, {"state": state}, words, expected_version, by=by, now=now)


def write_finding(
    *, signal: Signal, kind: str, words: str, by: Person, now: datetime, expected_version: int
) -> Signal:
    """Write down what was found.

    Raises BadInput without words or before the checks, IllegalTransition, StaleVersion.
    """
    state = rules.write_finding(signal.state, kind, selector.recorded(signal))
    values = {"state": state, "finding_kind": kind, "finding": words.strip()}
    said = f"{FindingKind(kind).label}. {words.strip()}" if words.strip() else ""
    return _go(signal, StepKind.FINDING, values, said, expected_version, by=by, now=now)


def agree_action(
    *,
    signal: Signal,
    words: str,
    due_on: date,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int,
) -> Signal:
    """Agree on what is to be done about a finding, and by when.

    Raises BadInput without words or for a day that is over, IllegalTransition, StaleVersion.
    """
    state = rules.agree_action(signal.state)
    _refuse_past(due_on, today)
    values = {"state": state, "action": words.strip(), "due_on": due_on}
    said = f"{words.strip()} By {due_on:%d %b %Y}." if words.strip() else ""
    return _go(signal, StepKind.ACTION, values, said, expected_version, by=by, now=now)


def close(
    *, signal: Signal, words: str, by: Person, now: datetime, expected_version: int
) -> Signal:
    """Close a signal whose finding is written down, saying what came of it.

    Raises BadInput without a finding or without words, IllegalTransition, StaleVersion.
    """
    state = rules.close(signal.state, signal.finding)
    values = {"state": state, "closed_at": now}
    return _go(signal, StepKind.CLOSED, values, words, expected_version, by=by, now=now)


def reopen(
    *,
    signal: Signal,
    words: str,
    due_on: date,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int,
) -> Signal:
    """Take up a signal again that was closed too early; a new finding has to be written down.

    Raises BadInput without words or for a day that is over, IllegalTransition, StaleVersion.
    """
    state = rules.reopen(signal.state)
    _refuse_past(due_on, today)
    values = {
        "state": state,
        "closed_at": None,
        "due_on": due_on,
        "finding": "",
        "finding_kind": "",
        "action": "",
    }
    return _go(signal, StepKind.REOPENED, values, words, expected_version, by=by, now=now)


def hand_over(
    *,
    signal: Signal,
    owner: Person,
    words: str,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int,
) -> Signal:
    """Give an open signal to another owner.

    Raises BadInput without words, for a closed signal or for somebody who may not settle signals
    there; StaleVersion.
    """
    _refuse_closed(signal)
    if not monitoring.may_own(signal.site, today).filter(pk=owner.pk).exists():
        raise BadInput({"owner": f"{owner} may not settle signals at {signal.site}."})
    said = f"From {signal.owner} to {owner}. {words.strip()}" if words.strip() else ""
    return _go(signal, StepKind.OWNER, {"owner": owner}, said, expected_version, by=by, now=now)


def put_off(
    *,
    signal: Signal,
    due_on: date,
    words: str,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int,
) -> Signal:
    """Give an open signal another day.

    Raises BadInput without words, for a closed signal or for a day that is over; StaleVersion.
    """
    _refuse_closed(signal)
    _refuse_past(due_on, today)
    said = (
        f"From {signal.due_on:%d %b %Y} to {due_on:%d %b %Y}. {words.strip()}"
        if words.strip()
        else ""
    )
    return _go(signal, StepKind.DUE, {"due_on": due_on}, said, expected_version, by=by, now=now)


def _go(
    signal: Signal,
    kind: StepKind,
    values: Mapping[str, Any],
    words: str,
    expected_version: int,
    *,
    by: Person,
    now: datetime,
) -> Signal:
    """Change a signal over the version that the user saw, and keep the step."""
    if not words.strip():
        raise BadInput({"words": "Say why, or what; it is kept in the history of the signal."})
    with records.change(by=by, reason=words):
        taken = Signal.objects.filter(pk=signal.pk, version=expected_version).update(
            **values, version=expected_version + 1
        )
        if not taken:
            current = Signal.objects.values_list("version", flat=True).get(pk=signal.pk)
            raise StaleVersion("The signal", expected=expected_version, current=current)
        signal.refresh_from_db()
        _keep(signal, kind, words, by=by, now=now)
    return signal


def _keep(
    signal: Signal, kind: StepKind, words: str, *, by: Person | None, now: datetime
) -> SignalStep:
    return SignalStep.objects.create(
        signal=signal, kind=kind, state=signal.state, at=now, by=by, words=words.strip()[:4000]
    )


def _look(check: DataCheck) -> DataCheck:
    if not check.finding:
        raise BadInput({"finding": "Say what was found, also where it was nothing."})
    records.check(check)
    check.save()
    return check


def _refuse_past(due_on: date, today: date) -> None:
    if due_on < today:
        raise BadInput({"due_on": "This day is over; choose today or a later one."})


def _refuse_closed(signal: Signal) -> None:
    if signal.state == SignalState.CLOSED:
        raise BadInput("The signal is closed; open it again first.")
