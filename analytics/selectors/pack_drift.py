"""The sections of a pack about drift: the checks of the data, the funnels, and the running charts."""

from collections.abc import Iterator
from dataclasses import replace

from analytics.answers import risks, watched
from analytics.answers.funnels import Funnel
from analytics.answers.watched import WATCHED, WatchedEndpoint
from analytics.endpoints.catalogue import LOSS
from analytics.figures import section_charts, section_checks, section_funnels
from analytics.figures.section_charts import Watched
from analytics.figures.sections import About, Section
from analytics.models.monitoring import ChartDesign
from analytics.selectors import drift, monitoring, outcomes
from analytics.selectors.cohorts import Unchosen
from analytics.selectors.drift import Watching
from analytics.selectors.pack_asked import Asked
from registry.models.sites import Site
from registry.selectors.visible import site_ids


def checks(asked: Asked) -> Section:
    """Completeness, coding and case mix of the last operations against those before."""
    key, title = "checks", "Are the data sound?"
    try:
        # What was operated in the last year is judged at the earliest horizon that is asked for.
        view = _watching(asked, WATCHED["loss"], WATCHED["loss"].horizons[0])
    except Unchosen as none:
        return Section(key, title, f"{none.state} It is chosen under Setup.")
    period = drift.period_of(view)
    return section_checks.section(
        key,
        title,
        drift.checks_of(view, _sites(asked)),
        (period.since, period.until),
        view.definition.label,
        _about(asked, view),
    )


def funnels(asked: Asked) -> Section:
    """Sites, and surgeons by the rights of whoever asked, inside the limits of chance."""
    key, title = "funnels", "Does anybody stand apart?"
    try:
        views = [_watching(asked, endpoint) for endpoint in WATCHED.values()]
    except Unchosen as none:
        return Section(key, title, f"{none.state} It is chosen under Setup.")
    found = [one for view in views for one in _both(asked, view)]
    return section_funnels.section(key, title, found, _about(asked, views[0]))


def charts(asked: Asked) -> Section:
    """The running charts of the sites, with the cases that had come in by the snapshot's cut-off."""
    sites = _sites(asked)
    policies = monitoring.in_force(sites)
    off = [str(site) for site in sites if not (site.pk in policies and policies[site.pk].charts)]
    found = [_chart(asked, design) for design in monitoring.designs(asked.by, sites)]
    title = "What do the running charts say?"
    return section_charts.section("charts", title, found, off, asked.snapshot.cutoff)


def _watching(asked: Asked, endpoint: WatchedEndpoint, horizon: str = "") -> Watching:
    """Judge the cohort by what is watched, all surgeons together, at a horizon that it can be asked at.

    Raises Unchosen where the sites have no one definition of a lost reduction.
    """
    rule = asked.rule
    asked_at = horizon or rule.horizon
    at = asked_at if asked_at in endpoint.horizons else endpoint.horizons[0]
    named = rule.definition_id if rule.endpoint == endpoint.endpoint == LOSS else ""
    rule = replace(rule, endpoint=LOSS, definition_id=named, horizon=at, by="site", surgeon_id=None)
    given = outcomes.given(rule, _sites(asked), asked.snapshot, asked.frames)
    return drift.watching(given, endpoint)


def _both(asked: Asked, view: Watching) -> Iterator[Funnel]:
    sites = _sites(asked)
    yield drift.sites_funnel(view, sites)
    surgeons = drift.surgeons_funnel(view, asked.by, sites)
    if surgeons is not None:
        yield surgeons


def _about(asked: Asked, view: Watching) -> About:
    return replace(asked.about, cohort=view.given.rule.words(), by="site")


def _sites(asked: Asked) -> list[Site]:
    own = set(site_ids(asked.by, "see_signals"))
    return [site for site in asked.sites if site.pk in own]


def _chart(asked: Asked, design: ChartDesign) -> Watched:
    # What came in after the cut-off belongs to the next snapshot's pack.
    until = asked.snapshot.cutoff
    rows = [row for row in monitoring.rows_of(design) if row.entered_on <= until]
    reading = monitoring.read(design, rows)
    basis = risks.from_plain(design.basis)
    return Watched(
        name=str(design),
        facts=monitoring.facts_of(design, rows),
        reading=reading,
        definition=watched.definition_of(design.definition_id).label,
        basis=basis.words,
        expected=[row.expected for row in rows],
        rows=monitoring.case_lines(rows, reading),
    )
