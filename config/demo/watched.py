"""What the invented hospitals watch: their policies, their charts, and what became of the signals."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from analytics.answers import checks as check_answers
from analytics.answers.watched import WATCHED
from analytics.models import ChartDesign, Signal
from analytics.rules.signals import SUBJECTS
from analytics.selectors import drift, frames
from analytics.selectors.frames import Frames
from analytics.services import charts, policies, signals
from analytics.services.charts import Wanted
from config.demo.staff import Staff
from registry.errors import BadInput
from registry.models import Person, Site

POLICY = (
    "Invented policy of {site}, agreed on by its surgeons. Signals are answered by the quality lead "
    "within two weeks, the data first. All surgeons are seen together by the quality lead alone; each "
    "surgeon sees the own point and the limits. Nothing here is used for pay or appointments."
)
# The charts were fixed so long ago, and looked through so many days ago; the last of them tonight.
FIXED_DAYS, LOOKS = 540, (360, 30, 0)
BASELINE_ENDS_DAYS = 913
ANSWER_DAYS, ANSWERED_DAYS = 14, 120
# What is lost early shows early; and few of a small service are seen for longer.
HORIZONS = {"loss": "3m", "infection": "3m", "reoperation": "6m"}
# A small service bears more false alarms than a large one, or it would wait for years for a true one.
RUN_LENGTH = 60
WHY = "the first operations of the service; odds that double are worth a look"
FOUND: Mapping[str, str] = {
    "completeness": "Everybody since the start was filmed or had a reason; nobody is left out by rule.",
    "coding": "All are classified; two readings had been entered late and are right.",
    "case_mix": "A few more joint injuries than in the baseline, too few to explain it.",
}
ACTION = "Two anchors for every fracture of this kind, and the first film within a week; looked at again."
ENDED = "In use since then, and the chart has run quietly."


def watch(staff: Staff, *, years: int, now: datetime, today: date) -> int:
    """Put policies in force, fix charts and look through them over time; return the signals raised.

    Where the invented baseline is too small for a chart there is none. Signals of long ago were
    answered to their end; of those that wait, one has its checks begun.
    """
    then = now - timedelta(days=FIXED_DAYS)
    for site in staff.sites:
        _permit(site, staff, then)
    at_first = frames.build(None, then.date())
    designs = [
        design
        for site in staff.sites
        for code in WATCHED
        if (design := _fix(site, code, staff, at_first, years, then, today)) is not None
    ]
    for days in LOOKS:
        _look_through(designs, now - timedelta(days=days), today - timedelta(days=days))
    return _answer(staff.people["quality"], now, today)


def _permit(site: Site, staff: Staff, then: datetime) -> None:
    policies.switch_on(
        site=site,
        text=POLICY.format(site=site),
        surgeons=True,
        charts=True,
        by=staff.people["administrator"],
        now=then,
        expected_version=0,
    )


def _fix(
    site: Site,
    code: str,
    staff: Staff,
    given: Frames,
    years: int,
    then: datetime,
    today: date,
) -> ChartDesign | None:
    ends = today - timedelta(days=BASELINE_ENDS_DAYS)
    owner = staff.people["quality"]
    wanted = Wanted(
        watched=code,
        construct_type="",
        horizon=HORIZONS[code],
        odds_ratio=2.0,
        run_length=RUN_LENGTH,
        baseline_from=today - timedelta(days=366 * years),
        baseline_to=ends,
        starts_on=ends + timedelta(days=1),
        covariates=("age", "joint"),
        owner=owner,
        answer_days=ANSWER_DAYS,
        reason=WHY,
    )
    try:
        return charts.fix_design(
            site=site, wanted=wanted, frames=given, by=owner, now=then, today=then.date()
        )
    except BadInput:
        return None


def _look_through(designs: list[ChartDesign], now: datetime, today: date) -> None:
    """Do what the watch did on a night, with what was known on it."""
    known = frames.build(None, today)
    for design in designs:
        charts.take_in(design=design, frames=known, on=today)
        signals.raise_crossings(design=design, now=now, today=today)


def _answer(owner: Person, now: datetime, today: date) -> int:
    raised = list(Signal.objects.select_related("design__site", "site").order_by("raised_at", "id"))
    known = frames.build(None, today)
    answered = [row for row in raised if now - row.raised_at > timedelta(days=ANSWERED_DAYS)]
    for signal in answered:
        _to_its_end(signal, owner, known)
    for signal in raised[len(answered) :][:1]:
        _check(signal, owner, known, list(SUBJECTS)[:2])
    return len(raised)


def _to_its_end(signal: Signal, owner: Person, known: Frames) -> None:
    _check(signal, owner, known, list(SUBJECTS))
    began = signal.raised_at
    by: dict[str, Any] = {"signal": signal, "by": owner}
    signals.begin_review(
        words="Two surgeons go through the films of the cases in this run, without their names.",
        now=began + timedelta(days=8),
        expected_version=signal.version,
        **by,
    )
    signals.write_finding(
        kind="practice",
        words="In half of the cases a plate without an anchor had been used for a short fragment.",
        now=began + timedelta(days=15),
        expected_version=signal.version,
        **by,
    )
    agreed = began + timedelta(days=16)
    signals.agree_action(
        words=ACTION,
        due_on=agreed.date() + timedelta(days=60),
        today=agreed.date(),
        now=agreed,
        expected_version=signal.version,
        **by,
    )
    signals.close(
        words=ENDED, now=began + timedelta(days=70), expected_version=signal.version, **by
    )


def _check(signal: Signal, owner: Person, known: Frames, subjects: list[str]) -> None:
    found = drift.checks_of_chart(signal.design, known)
    for day, subject in enumerate(subjects, 3):
        signals.record_check(
            signal=signal,
            subject=subject,
            verdict="sound",
            finding=FOUND[subject],
            facts=check_answers.to_facts(found, subject),
            by=owner,
            now=signal.raised_at + timedelta(days=day),
            expected_version=signal.version,
        )
