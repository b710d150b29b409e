"""What 'Is anything drifting?' shows of a cohort: the checks of its data, and its funnels."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, timedelta

import pandas as pd

from analytics.answers import checks, funnels, watched
from analytics.answers.checks import Checks
from analytics.answers.funnels import Funnel
from analytics.answers.horizons import Horizon
from analytics.answers.watched import WatchedEndpoint
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.models.monitoring import ChartDesign
from analytics.selectors import cohorts, monitoring
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.frames import Frames
from analytics.selectors.outcomes import Given
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import Viewer, site_ids

# Where an address names no first day, the last year is held against all that came before it.
LAST = timedelta(days=365)
YOU = "you"


@dataclass(frozen=True)
class Watching:
    """A cohort under what is watched: each case as it stands, and the definition that says so."""

    given: Given
    endpoint: WatchedEndpoint
    definition: EndpointDefinition
    horizon: Horizon
    states: pd.DataFrame


@dataclass(frozen=True)
class Period:
    """The days of operation that are checked, and those before, which they are held against."""

    since: date
    until: date


def watching(given: Given, endpoint: WatchedEndpoint) -> Watching:
    """Judge the cohort of a view by what is watched, at the horizon of the view."""
    own = endpoint.definition_id == watched.ITS_OWN
    definition = given.definition if own else watched.definition_of(endpoint.definition_id)
    horizon = watched.horizon_of(given.rule.horizon)
    later = cohorts.reoperations_of(given.frames, given.data)
    return Watching(
        given=replace(given, resolved=definition),
        endpoint=endpoint,
        definition=definition,
        horizon=horizon,
        states=watched.states(given.data, later, definition, horizon),
    )


def needs_definition(given: Given, endpoint: WatchedEndpoint) -> bool:
    """Say whether what is watched waits for a definition that the sites of a view have not chosen."""
    return endpoint.definition_id == watched.ITS_OWN and given.unchosen is not None


def sites_funnel(view: Watching, sites: Collection[Site]) -> Funnel:
    """Return the funnel of some sites."""
    names: dict[object, str] = {site.code: str(site) for site in sites}
    groups = view.given.data.cases["site"].astype(object)
    return funnels.funnel(view.states, groups, names, view.definition, view.horizon, "sites")


def surgeons_funnel(view: Watching, user: Viewer, sites: Collection[Site]) -> Funnel | None:
    """Return the funnel of the surgeons of sites whose policy has it on; None where none has.

    Whoever may not see surgeons at every one of these sites gets the own point and the limits.
    """
    policies = monitoring.in_force(sites)
    on = [site for site in sites if site.pk in policies and policies[site.pk].surgeons]
    if not on:
        return None
    cases = view.given.data.cases
    here = cases["site"].isin([site.code for site in on])
    groups = cases.loc[here, "surgeon_id"].astype(object)
    whole = {site.pk for site in on} <= set(site_ids(user, "see_surgeons"))
    names: dict[object, str] = surgeon_names(groups) if whole else {user.pk: YOU}
    found = funnels.funnel(
        view.states.loc[here], groups, names, view.definition, view.horizon, "surgeons"
    )
    return found if whole else funnels.only(found, YOU)


def surgeon_names(groups: "pd.Series[int]") -> dict[object, str]:
    """Return what surgeons are called, by key; two of one name are told apart by their user names."""
    rows = list(Person.objects.filter(pk__in=[int(key) for key in set(groups.dropna())]))
    shown = [str(row) for row in rows]
    return {
        row.pk: str(row) if shown.count(str(row)) == 1 else f"{row} ({row.username})"
        for row in rows
    }


def period_of(view: Watching) -> Period:
    """Return the days of operation whose data are checked."""
    rule, cutoff = view.given.rule, view.given.frames.cutoff
    until = min(rule.operated_to or cutoff, cutoff)
    return Period(rule.operated_from or until - LAST, until)


def checks_of(view: Watching, sites: Collection[Site]) -> Checks:
    """Return the checks of a view's data in its period against all that came before."""
    period, codes = period_of(view), {site.code for site in sites}
    rule, frames = view.given.rule, view.given.frames
    now = replace(rule, operated_from=period.since, operated_to=period.until)
    before = replace(rule, operated_from=None, operated_to=period.since - timedelta(days=1))
    data = cohorts.cut(frames, now, codes)
    return _checks(
        frames, data, cohorts.cut(frames, before, codes).cases, view.definition, view.horizon
    )


def checks_of_site(
    site: Site, frames: Frames, since: date, until: date, definition_id: str = ""
) -> Checks:
    """Return the checks of one site's operations of some days against all before them.

    Completeness is that of lost reductions at the usual horizon, by the definition named or the
    site's own. Raises Unchosen where there is neither.
    """
    endpoint = watched.WATCHED["loss"]
    rule = CohortRule(
        definition_id=definition_id,
        site=site.code,
        operated_from=since,
        operated_to=until,
        horizon=endpoint.horizons[0],
    )
    definition = cohorts.definition_for(rule, {site.code})
    before = replace(rule, operated_from=None, operated_to=since - timedelta(days=1))
    data = cohorts.cut(frames, rule, {site.code})
    baseline = cohorts.cut(frames, before, {site.code}).cases
    return _checks(frames, data, baseline, definition, watched.horizon_of(rule.horizon))


def checks_of_chart(design: ChartDesign, frames: Frames) -> Checks:
    """Return the checks of a chart: the cases since it began against those of its baseline."""
    data, _ = monitoring.cases_of(frames, design.site, design.construct_type)
    operated = data.cases["performed_on"]
    since = _only(data, operated >= pd.Timestamp(design.starts_on))
    inside = operated.between(pd.Timestamp(design.baseline_from), pd.Timestamp(design.baseline_to))
    definition = watched.definition_of(design.definition_id)
    horizon = watched.horizon_of(design.horizon)
    return _checks(frames, since, data.cases.loc[inside], definition, horizon)


def _checks(
    frames: Frames,
    data: Data,
    baseline: pd.DataFrame,
    definition: EndpointDefinition,
    horizon: Horizon,
) -> Checks:
    later = cohorts.reoperations_of(frames, data)
    states = watched.states(data, later, definition, horizon)
    return checks.checks(states, data.cases, data.complications, data.readings, baseline)


def _only(data: Data, keep: "pd.Series[bool]") -> Data:
    cases = data.cases.loc[keep]

    def of(frame: pd.DataFrame) -> pd.DataFrame:
        return frame.loc[frame["procedure_id"].isin(cases.index)]

    return Data(cases, of(data.readings), of(data.complications), data.cutoff)
