"""A site that watches: its policy, charts fixed from invented frames, and signals that they raise."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pandas as pd

from analytics.models import ChartCase, ChartDesign, MonitoringPolicy, Signal
from analytics.selectors.frames import NAMES, Frames
from analytics.services import charts, policies, signals
from analytics.services.charts import Wanted
from analytics.services.definitions import choose_definition
from registry.models import Person, Site
from tests import builders
from tests.analytics import cohort
from tests.builders import NOW, TODAY

BEGAN = date(2023, 1, 2)
BASELINE_TO = date(2024, 6, 30)
STARTS = date(2024, 7, 1)


def frames(
    outcomes: Sequence[bool], begins: date = BEGAN, every_days: int = 7, **facts: Any
) -> Frames:
    """Return cases operated on one after the other, each followed for a year: lost or held."""
    rows, films = [], []
    for number, lost in enumerate(outcomes, 1):
        day = begins + timedelta(days=every_days * (number - 1))
        rows.append({"performed_on": day, "patient_key": f"P{number}", **facts})
        for after, mm in ((2, 9.0), (90, 14.0 if lost else 9.2), (400, 14.0 if lost else 9.3)):
            film = cohort.film(after, mm, procedure_id=number)
            films.append({**film, "taken_on": day + timedelta(days=after)})
    return of_rows(rows, films)


def of_rows(rows: list[dict[str, Any]], films: list[dict[str, Any]]) -> Frames:
    """Return frames of some cases and films, with nothing else known."""
    data = cohort.data(rows, films, cutoff=TODAY)
    none = pd.DataFrame(columns=["index_id", "kind", "performed_on", "planned_removal"])
    return Frames(
        cases=_entered(data.cases, "performed_on"),
        readings=_entered(data.readings, "taken_on"),
        complications=_entered(data.complications, "detected_on"),
        reoperations=none.astype({"performed_on": "datetime64[ns]"}),
        reviews=pd.DataFrame(),
        cutoff=TODAY,
    )


def but(given: Frames, **tables: pd.DataFrame) -> Frames:
    """Return frames with some tables in place of their own."""
    return Frames(given.cutoff, **{name: tables.get(name, getattr(given, name)) for name in NAMES})


def _entered(frame: pd.DataFrame, day: str) -> pd.DataFrame:
    return frame.assign(recorded_on=frame[day] + pd.Timedelta(days=3))


def lead(code: str = "north") -> Person:
    """Return the quality lead of a site."""
    return builders.person(f"{code}_lead", **{code: "quality_lead"})


def policy(site: Site, *, surgeons: bool = True, charts: bool = True) -> MonitoringPolicy:
    """Put a policy of a site in force."""
    made = MonitoringPolicy.objects.filter(site=site).count()
    return policies.switch_on(
        site=site,
        text="The lead answers within two weeks; nobody is named.",
        surgeons=surgeons,
        charts=charts,
        by=builders.person(f"{site.code}_admin", **{site.code: "administrator"}),
        now=NOW,
        expected_version=made,
    )


def wanted(owner: Person, **changes: Any) -> Wanted:
    """Return what a chart of lost reductions is to be, with some changes."""
    usual = Wanted(
        watched="loss",
        construct_type="",
        horizon="6m",
        odds_ratio=2.0,
        run_length=60,
        baseline_from=BEGAN,
        baseline_to=BASELINE_TO,
        starts_on=STARTS,
        covariates=(),
        owner=owner,
        answer_days=14,
        reason="the first eighteen months",
    )
    return replace(usual, **changes)


def design(
    site: Site, given: Frames | None = None, version: int = 0, **changes: Any
) -> ChartDesign:
    """Fix a chart of a site whose baseline lost one reduction in ten."""
    choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=None)
    if not MonitoringPolicy.objects.filter(site=site, ended_at__isnull=True).exists():
        policy(site)
    owner = changes.pop("owner", None) or lead(site.code)
    return charts.fix_design(
        site=site,
        wanted=wanted(owner, **changes),
        frames=given or frames([n % 10 == 0 for n in range(78)], site=site.code),
        by=owner,
        now=NOW,
        today=TODAY,
        expected_version=version,
    )


def signal(site: Site, chart: ChartDesign | None = None, today: date = TODAY) -> Signal:
    """Return a signal of a chart that took in nothing but lost reductions."""
    of = chart or design(site)
    first = of.cases.count()
    for place in range(first, first + 8):
        ChartCase.objects.create(
            design=of,
            position=place,
            case_id=10_000 + place,
            performed_on=STARTS + timedelta(days=place),
            outcome=True,
            expected=0.1,
            entered_on=today,
        )
    signals.raise_crossings(design=of, now=NOW, today=today)
    return of.signals.earliest("position")


def checked(row: Signal, *, but: Sequence[str] = ()) -> Signal:
    """Record the checks of a signal, all but some."""
    for subject in ("completeness", "coding", "case_mix"):
        if subject not in but:
            signals.record_check(
                signal=row,
                subject=subject,
                verdict="sound",
                finding="nothing that explains it",
                facts={"cases": "78"},
                by=row.owner,
                now=NOW,
                expected_version=row.version,
            )
    return row


def found(row: Signal) -> Signal:
    """Bring a signal to its finding."""
    checked(row)
    who: dict[str, Any] = {"by": row.owner, "now": NOW}
    signals.begin_review(signal=row, words="read", expected_version=row.version, **who)
    return signals.write_finding(
        signal=row,
        kind="practice",
        words="shorter plates since spring",
        expected_version=row.version,
        **who,
    )
