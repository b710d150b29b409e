"""Running charts: fixed before looking, fed every night, and what they signal opened once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import pandas as pd

from analytics.answers import risks, running, watched
from analytics.answers.risks import Basis
from analytics.models.monitoring import ChartCase, ChartDesign
from analytics.selectors import cohorts, monitoring
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.frames import Frames
from analytics.services import signals, snapshots
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records
from registry.services.jobs import beat

LEAST_RUN, MOST_RUN = 20, 100_000
LEAST_ODDS, MOST_ODDS = 0.1, 10.0


@dataclass(frozen=True)
class Wanted:
    """What a chart is to watch and how; `covariates` are codes of `answers.risks.COVARIATES`."""

    watched: str
    construct_type: str
    horizon: str
    odds_ratio: float
    run_length: int
    baseline_from: date
    baseline_to: date
    starts_on: date
    covariates: tuple[str, ...]
    owner: Person
    answer_days: int
    reason: str


def fix_design(
    *,
    site: Site,
    wanted: Wanted,
    frames: Frames,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int = 0,
) -> ChartDesign:
    """Fix the design of a chart before anybody looks; a change of one is a new chart beside it.

    The expected risk and the limit come from the baseline period and are kept with the design.
    `expected_version` is the version of the present design that the user saw, 0 where there is
    none. Raises BadInput where the policy is off, the site has not chosen what it calls a loss, the
    baseline is too small, the same is watched already or a value cannot be taken; StaleVersion when
    somebody was quicker.
    """
    _refuse(site, wanted, today)
    definition_id = _definition_of(site, wanted)
    basis, expected = _baseline(site, wanted, definition_id, frames)
    try:
        limit = running.limit_for(expected, wanted.odds_ratio, wanted.run_length)
    except ValueError as fault:
        raise BadInput({"run_length": f"{fault}."}) from fault
    with records.change(by=by, reason=wanted.reason):
        present = _superseded(site, wanted, expected_version)
        return ChartDesign.objects.create(
            site=site,
            watched=wanted.watched,
            construct_type=wanted.construct_type,
            version=present + 1,
            definition_id=definition_id,
            definition_version=watched.definition_of(definition_id).version,
            horizon=wanted.horizon,
            odds_ratio=wanted.odds_ratio,
            run_length=wanted.run_length,
            limit=limit.limit,
            false_alarm=limit.false_alarm,
            delay=limit.delay,
            baseline_from=wanted.baseline_from,
            baseline_to=wanted.baseline_to,
            basis=risks.to_plain(basis),
            starts_on=wanted.starts_on,
            owner=wanted.owner,
            answer_days=wanted.answer_days,
            fixed_at=now,
            fixed_by=by,
            reason=wanted.reason.strip()[:300],
        )


def watch(*, now: datetime, today: date) -> dict[str, int]:
    """Let every chart take in the cases that have settled, and open what it signals; twice equals once."""
    counts = {"charts": 0, "cases taken in": 0, "signals raised": 0, "charts to be fixed anew": 0}
    rows = _in_force()
    if not rows:
        return counts
    frames = snapshots.frames_of(snapshots.refresh_stale(now=now, today=today))
    for design in rows:
        if monitoring.is_outdated(design):
            counts["charts to be fixed anew"] += 1
            continue
        counts["charts"] += 1
        counts["cases taken in"] += take_in(design=design, frames=frames, on=today)
        counts["signals raised"] += signals.raise_crossings(design=design, now=now, today=today)
        beat()
    return counts


def take_in(*, design: ChartDesign, frames: Frames, on: date) -> int:
    """Add the cases that have settled since last time to the end of a chart; return how many.

    A case keeps the place and the value with which it came in.
    """
    found, data = monitoring.states_of(
        frames, design.site, design.construct_type, design.definition_id, design.horizon
    )
    since = found.loc[found["performed_on"] >= pd.Timestamp(design.starts_on)]
    with records.change(by=None, reason="cases that settled, taken in by the nightly watch"):
        # The lock makes two runs come one after the other, so that no place is given twice.
        ChartDesign.objects.select_for_update().get(pk=design.pk)
        known = set(design.cases.values_list("case_id", flat=True))
        ordered = watched.in_order(since)
        fresh = ordered.loc[~ordered.index.isin(known)]
        expected = risks.expected(risks.from_plain(design.basis), data.cases.loc[fresh.index])
        rows = _chart_cases(design, fresh, expected, len(known), on)
        ChartCase.objects.bulk_create(rows, batch_size=500)
    return len(rows)


def _chart_cases(
    design: ChartDesign, fresh: pd.DataFrame, expected: Any, begins: int, on: date
) -> list[ChartCase]:
    return [
        ChartCase(
            design=design,
            position=begins + place,
            case_id=int(case_id),
            performed_on=performed_on.date(),
            outcome=bool(event),
            expected=float(risk),
            entered_on=on,
        )
        for place, (case_id, performed_on, event, risk) in enumerate(
            zip(fresh.index, fresh["performed_on"], fresh["event"], expected, strict=True)
        )
    ]


def _in_force() -> list[ChartDesign]:
    """Return the current charts of every site whose policy in force has them on."""
    rows = ChartDesign.objects.filter(
        superseded=False,
        site__is_active=True,
        site__monitoring_policies__ended_at__isnull=True,
        site__monitoring_policies__charts=True,
    )
    return list(rows.select_related("site", "owner").order_by("pk"))


def _refuse(site: Site, wanted: Wanted, today: date) -> None:
    faults = dict(_faults(site, wanted, today))
    if faults:
        raise BadInput(faults)
    policy = monitoring.in_force([site]).get(site.pk)
    if policy is None or not policy.charts:
        raise BadInput(
            f"{site} has no written policy in force that switches running charts on; an "
            "administrator puts one in force under Setup, Monitoring."
        )


def _faults(site: Site, wanted: Wanted, today: date) -> "list[tuple[str, str]]":
    allowed = watched.WATCHED[wanted.watched].horizons
    return [
        (name, words)
        for name, wrong, words in (
            ("horizon", wanted.horizon not in allowed, f"Choose one of {', '.join(allowed)}."),
            (
                "odds_ratio",
                not LEAST_ODDS <= wanted.odds_ratio <= MOST_ODDS or wanted.odds_ratio == 1,
                f"Choose an odds ratio from {LEAST_ODDS:g} to {MOST_ODDS:g}, and not 1.",
            ),
            (
                "run_length",
                not LEAST_RUN <= wanted.run_length <= MOST_RUN,
                f"Choose a run to a false alarm from {LEAST_RUN} to {MOST_RUN} cases.",
            ),
            (
                "baseline_to",
                wanted.baseline_to < wanted.baseline_from,
                "The baseline ends before it begins.",
            ),
            (
                "starts_on",
                wanted.starts_on <= wanted.baseline_to,
                "The chart starts after its baseline, or it would be held against itself.",
            ),
            ("answer_days", not 1 <= wanted.answer_days <= 180, "Choose from 1 to 180 days."),
            ("reason", not wanted.reason.strip(), "Say why the chart is designed like this."),
            (
                "owner",
                not monitoring.may_own(site, today).filter(pk=wanted.owner.pk).exists(),
                "The owner has to be somebody who may settle signals at this site.",
            ),
        )
        if wrong
    ]


def _definition_of(site: Site, wanted: Wanted) -> str:
    one = watched.WATCHED[wanted.watched]
    if one.definition_id != watched.ITS_OWN:
        return one.definition_id
    # Nothing is watched by a definition that the site has not chosen: this says so.
    return cohorts.definition_for(CohortRule(endpoint=one.endpoint, site=site.code), {site.code}).id


def _baseline(
    site: Site, wanted: Wanted, definition_id: str, frames: Frames
) -> tuple[Basis, Sequence[float]]:
    """Estimate the expected risk from the settled cases of the baseline period."""
    found, data = monitoring.states_of(
        frames, site, wanted.construct_type, definition_id, wanted.horizon
    )
    inside = found["performed_on"].between(
        pd.Timestamp(wanted.baseline_from), pd.Timestamp(wanted.baseline_to)
    )
    settled = watched.in_order(found.loc[inside])
    cases = data.cases.loc[settled.index]
    try:
        basis = risks.fit(cases, settled["event"].tolist(), wanted.covariates)
    except ValueError as fault:
        said = str(fault)
        raise BadInput({"baseline_to": f"{said[0].upper()}{said[1:]}."}) from fault
    return basis, risks.expected(basis, cases).tolist()


def _superseded(site: Site, wanted: Wanted, expected_version: int) -> int:
    """Set the present design of the same chart aside; return its version, 0 where there is none."""
    # The lock makes two who fix a design at once come one after the other.
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)
    same = ChartDesign.objects.filter(
        site=site, watched=wanted.watched, construct_type=wanted.construct_type
    )
    present = same.filter(superseded=False).first()
    version = present.version if present is not None else 0
    if present is not None and expected_version == 0:
        raise BadInput(
            {"watched": "This is watched already; open that chart to change its design."}
        )
    if version != expected_version:
        what = f"The chart of {present or site}"
        raise StaleVersion(what, expected=expected_version, current=version)
    same.filter(superseded=False).update(superseded=True)
    return version
