"""What each site watches: its policy in force, its charts by their designs, and the cases of each."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd
from django.db.models import Count, Max, Q, QuerySet

from analytics.answers import running, watched
from analytics.answers.running import Reading
from analytics.endpoints.definition import Data
from analytics.figures.charts import ChartFacts
from analytics.models.monitoring import ChartCase, ChartDesign, MonitoringPolicy
from analytics.selectors import cohorts
from analytics.selectors.cases import withdrawn
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.frames import Frames
from analytics.selectors.visible import sites_of, visible
from registry.models.people import Person
from registry.models.sites import Membership, Site
from registry.rules.roles import roles_with
from registry.selectors.visible import Viewer

# The number of no operation: what a place of a chart has whose case was withdrawn.
NOBODY = 0


@dataclass(frozen=True)
class SitePolicy:
    """A site with the policy in force, if any, and those that came before it."""

    site: Site
    current: MonitoringPolicy | None
    earlier: tuple[MonitoringPolicy, ...]

    @property
    def version(self) -> int:
        """How many policies there were; a form sends it back, so that a newer one is noticed."""
        return len(self.earlier) + (self.current is not None)


def policies(user: Viewer) -> list[SitePolicy]:
    """Return the policies of every site that a person sets up."""
    rows = list(
        visible(user, MonitoringPolicy, "set_up").select_related("switched_on_by", "ended_by")
    )
    return [_site_policy(site, rows) for site in sites_of(user, "set_up")]


def site_policy(site: Site) -> SitePolicy:
    """Return the policies of one site."""
    rows = MonitoringPolicy.objects.filter(site=site).select_related("switched_on_by", "ended_by")
    return _site_policy(site, list(rows))


def in_force(sites: Collection[Site]) -> dict[int, MonitoringPolicy]:
    """Return the policy in force of each site that has one, by the site's key."""
    rows = MonitoringPolicy.objects.filter(site__in=sites, ended_at__isnull=True)
    return {row.site_id: row for row in rows.select_related("site")}


def _site_policy(site: Site, rows: Sequence[MonitoringPolicy]) -> SitePolicy:
    own = [row for row in rows if row.site_id == site.pk]
    current = [row for row in own if row.ended_at is None]
    return SitePolicy(
        site=site,
        current=current[0] if current else None,
        earlier=tuple(row for row in own if row.ended_at is not None),
    )


def may_own(site: Site, today: date) -> QuerySet[Person]:
    """Return the people who may own a signal of a site today."""
    there = Membership.objects.filter(
        Q(ends_on__isnull=True) | Q(ends_on__gte=today),
        site=site,
        role__in=roles_with("settle_signals"),
        starts_on__lte=today,
    )
    return Person.objects.filter(pk__in=there.values("person_id"), is_active=True)


def designs(user: Viewer, sites: Collection[Site]) -> "QuerySet[ChartDesign]":
    """Return the current charts of some sites whose policies have them switched on."""
    on = [key for key, policy in in_force(sites).items() if policy.charts]
    rows: QuerySet[ChartDesign] = visible(user, ChartDesign, "see_signals").filter(
        superseded=False, site_id__in=on
    )
    return rows.select_related("site", "owner").annotate(
        taken_in=Count("cases", filter=~Q(cases__case_id__in=withdrawn())),
        last_on=Max("cases__performed_on"),
    )


def versions(design: ChartDesign) -> "QuerySet[ChartDesign]":
    """Return the other designs of the same chart, the newest first."""
    same = ChartDesign.objects.filter(
        site=design.site, watched=design.watched, construct_type=design.construct_type
    )
    return same.exclude(pk=design.pk).order_by("-version")


def current(design: ChartDesign) -> ChartDesign:
    """Return the design in use of the same chart."""
    return ChartDesign.objects.select_related("owner").get(
        site=design.site,
        watched=design.watched,
        construct_type=design.construct_type,
        superseded=False,
    )


def provenance(design: ChartDesign) -> dict[str, object]:
    """Return what reproduces a chart: its design, whole."""
    return {
        "chart": f"{design}, version {design.version}",
        "definition": f"{design.definition_id}, version {design.definition_version}",
        "horizon": design.horizon,
        "odds_ratio": design.odds_ratio,
        "limit": design.limit,
        "cases_to_a_false_alarm": design.false_alarm,
        "cases_to_a_true_one": design.delay,
        "baseline": f"{design.baseline_from} to {design.baseline_to}",
        "expected": design.basis["words"],
        "starts_on": design.starts_on,
        "fixed_at": design.fixed_at.isoformat(timespec="seconds"),
        "caution": "a signal is no verdict: the data are looked at first",
    }


def rows_of(design: ChartDesign) -> list[ChartCase]:
    """Return the cases of a chart in their order; the place of a withdrawn one stands empty."""
    return _emptied(design.cases.order_by("position"))


def _emptied(found: "QuerySet[ChartCase]") -> list[ChartCase]:
    """Take away what a patient lets count no more: the place stays, and adds nothing to the sum.

    So every other case keeps its number, and a signal the place at which it was raised.
    """
    rows = list(found)
    gone = set(found.filter(case_id__in=withdrawn()).values_list("pk", flat=True)) if rows else ()
    for place, row in enumerate(rows):
        if row.pk in gone:
            row.case_id, row.outcome, row.expected = NOBODY, False, 0.0
            # Its day would tell whose it was; the case before stands in.
            row.performed_on = rows[place - 1].performed_on if place else row.design.starts_on
    return rows


def read(design: ChartDesign, rows: Sequence[ChartCase]) -> Reading:
    """Read a chart through the cases that it has taken in."""
    return running.read(
        [row.outcome for row in rows],
        [row.expected for row in rows],
        design.odds_ratio,
        design.limit,
    )


def facts_of(design: ChartDesign, rows: Sequence[ChartCase]) -> ChartFacts:
    """Return what is printed on a chart."""
    return ChartFacts(
        title=f"{design}, version {design.version}",
        odds_ratio=design.odds_ratio,
        limit=design.limit,
        false_alarm=design.false_alarm,
        delay=design.delay,
        days=[row.performed_on for row in rows],
        outcomes=[None if row.case_id == NOBODY else row.outcome for row in rows],
    )


def case_lines(rows: Sequence[ChartCase], reading: Reading) -> list[dict[str, object]]:
    """Return the cases of a chart as they are taken away."""
    crossed = {one.position for one in reading.crossings}
    return [
        {
            "case": row.position + 1,
            "procedure": row.case_id,
            "operated_on": row.performed_on,
            "event": row.outcome,
            "expected_risk": row.expected,
            "sum": value,
            "reached_limit": place in crossed,
        }
        for place, (row, value) in enumerate(zip(rows, reading.path, strict=True))
        if row.case_id != NOBODY
    ]


def read_all(rows: Collection[ChartDesign]) -> dict[int, Reading]:
    """Read several charts with one query; by the key of the design."""
    taken: dict[int, list[ChartCase]] = {row.pk: [] for row in rows}
    cases = ChartCase.objects.filter(design__in=rows).order_by("design", "position")
    for case in _emptied(cases):
        taken[case.design_id].append(case)
    return {row.pk: read(row, taken[row.pk]) for row in rows}


def cases_of(frames: Frames, site: Site, construct_type: str = "") -> tuple[Data, pd.DataFrame]:
    """Return the data and later operations of a site's cases, of one construct type or of all."""
    data = cohorts.cut(frames, CohortRule(site=site.code), {site.code})
    if construct_type:
        cases = data.cases.loc[data.cases["construct_type"] == construct_type]
        data = Data(
            cases=cases,
            readings=data.readings.loc[data.readings["procedure_id"].isin(cases.index)],
            complications=data.complications.loc[
                data.complications["procedure_id"].isin(cases.index)
            ],
            cutoff=data.cutoff,
        )
    return data, cohorts.reoperations_of(frames, data)


@dataclass(frozen=True)
class Outside:
    """How many operations since a chart began are not in it: too recent, or not to be judged."""

    operated: int
    recent: int
    unjudged: int


def outside(design: ChartDesign, frames: Frames) -> Outside:
    """Count the operations since a chart began that it has not taken in, by why."""
    found, _ = states_of(
        frames, design.site, design.construct_type, design.definition_id, design.horizon
    )
    since = found.loc[found["performed_on"] >= pd.Timestamp(design.starts_on)]
    unjudged = int((since["state"] == "not_evaluable").sum())
    settled = int(since["settled"].sum())
    return Outside(len(since), len(since) - unjudged - settled, unjudged)


def states_of(
    frames: Frames, site: Site, construct_type: str, definition_id: str, horizon: str
) -> tuple[pd.DataFrame, Data]:
    """Return how each case of a site stands under what a chart watches, and the data themselves."""
    data, reoperations = cases_of(frames, site, construct_type)
    definition = watched.definition_of(definition_id)
    return watched.states(data, reoperations, definition, watched.horizon_of(horizon)), data


def is_outdated(design: ChartDesign) -> bool:
    """Say whether the definition of a chart ships in another version by now."""
    return watched.definition_of(design.definition_id).version != design.definition_version
