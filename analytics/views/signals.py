from collections.abc import Collection
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from analytics.answers import checks as check_answers
from analytics.answers import funnels, watched
from analytics.answers.funnels import Funnel
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import percent
from analytics.answers.watched import WATCHED, WatchedEndpoint
from analytics.endpoints.catalogue import LOSS, definitions_of
from analytics.figures.funnels import funnel_figure
from analytics.models.signals import Signal
from analytics.rules import signals as rules
from analytics.selectors import drift, monitoring
from analytics.selectors import signals as selector
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.drift import Watching
from analytics.selectors.outcomes import Given
from analytics.selectors.visible import sites_of
from analytics.views.asked import choices, given
from analytics.views.tables import csv_file
from registry.models.sites import Site
from registry.selectors.visible import may, require, site_ids

PER_PAGE = 50


@require_GET
def signals(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_signals")
    asked, endpoint, message = _asked(request)
    sites = _sites(request, asked.rule)
    held_up = drift.needs_definition(asked, endpoint)
    view = None if held_up else drift.watching(asked, endpoint)
    context = {
        **choices(request, view.given if view else asked),
        "message": message,
        "watched": WATCHED.values(),
        "endpoint": endpoint,
        "definitions": definitions_of(LOSS),
        "horizon": watched.horizon_of(asked.rule.horizon),
        "horizons": [HORIZONS[code] for code in endpoint.horizons],
        "address": _address(asked.rule, endpoint),
        **_open(request, sites, _address(asked.rule, endpoint)),
        **_charts(request, sites),
    }
    if view:
        context |= _drawn(request, view, sites)
    return render(request, "analytics/signals.html", context)


def _drawn(request: HttpRequest, view: Watching, sites: list[Site]) -> dict[str, Any]:
    """Return what hangs on a definition: the checks of the data, and the funnels."""
    found = drift.checks_of(view, sites)
    surgeons = drift.surgeons_funnel(view, request.user, sites)
    drawn = ((drift.sites_funnel(view, sites), "sites"), (surgeons, "surgeons"))
    return {
        "definition": view.definition,
        "period": drift.period_of(view),
        "checks": found,
        "mix": _mix(found),
        "looks": selector.last_looks(request.user, sites),
        "look_at": [site for site in sites if site.pk in _settled_at(request)],
        "funnels": [_funnel(one, name) for one, name in drawn if one is not None],
        "surgeons_off": surgeons is None,
        "convention": funnels.CONVENTION,
    }


def _charts(request: HttpRequest, sites: list[Site]) -> dict[str, Any]:
    """Return the running charts; each has the definition of its own design."""
    designs = list(monitoring.designs(request.user, sites))
    readings = monitoring.read_all(designs)
    return {
        "charts": [(row, readings[row.pk], monitoring.is_outdated(row)) for row in designs],
        "charts_off": _charts_off(sites),
        "may_design": [site for site in sites if site.pk in _settled_at(request)],
    }


@require_GET
def signals_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_signals")
    asked, endpoint, message = _asked(request)
    view, sites = drift.watching(asked, endpoint), _sites(request, asked.rule)
    both = (drift.sites_funnel(view, sites), drift.surgeons_funnel(view, request.user, sites))
    rows = [row for one in both if one is not None for row in funnels.to_rows(one)]
    name = f"funnels-{view.endpoint.code}-{view.horizon.code}.csv"
    return csv_file(rows, view.given, message, name)


@require_GET
def history(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_signals")
    rows = selector.signals(request.user).order_by("-raised_at", "-id")
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    page.object_list = _lines(page.object_list)
    return render(request, "analytics/signals_history.html", {"page": page, "query": ""})


def _open(request: HttpRequest, sites: list[Site], address: str) -> dict[str, Any]:
    """Return one page of what is open at some sites."""
    rows = selector.open_signals(request.user, sites)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    return {"page": page, "lines": _lines(page.object_list), "query": f"{address}&"}


def _asked(request: HttpRequest) -> tuple[Given, WatchedEndpoint, str]:
    """Read the cohort and what is watched; surgeons are not chosen here, and nothing is sorted."""
    endpoint = WATCHED.get(request.GET.get("watched", ""), WATCHED["loss"])
    horizon = request.GET.get("horizon", "")
    horizon = horizon if horizon in endpoint.horizons else endpoint.horizons[0]
    view, message = given(
        request, endpoint=LOSS, horizon=horizon, by="site", surgeon="", **_own(request, endpoint)
    )
    return view, endpoint, message


def _own(request: HttpRequest, endpoint: WatchedEndpoint) -> dict[str, str]:
    """Take a chosen definition for a lost reduction only."""
    return {} if endpoint.endpoint == LOSS else {"definition": ""}


def _address(rule: CohortRule, endpoint: WatchedEndpoint) -> str:
    return f"{rule.address()}&watched={endpoint.code}"


def _sites(request: HttpRequest, rule: CohortRule) -> list[Site]:
    """Return the sites of the cohort: those of which one may see both outcomes and signals."""
    chosen = rule.site
    sites = sites_of(request.user, "see_signals")
    return [site for site in sites if chosen in ("", site.code)]


def _settled_at(request: HttpRequest) -> Collection[int]:
    return site_ids(request.user, "settle_signals")


def _lines(rows: Any) -> list[dict[str, Any]]:
    today = timezone.localdate()
    return [
        {
            "signal": row,
            "state": rules.WORDS[row.state],
            "late": rules.days_late(row.due_on, today) if row.state != rules.CLOSED else 0,
            "due": rules.late_words(row.due_on, today),
            "is_open": row.state != rules.CLOSED,
            "said": said_of(row),
        }
        for row in rows
    ]


def said_of(row: Signal) -> str:
    """Say what the chart counted up to a signal."""
    return (
        f"{row.events} in {row.cases} case{'' if row.cases == 1 else 's'}, "
        f"{row.expected_events:.1f} expected"
    )


def _mix(found: check_answers.Checks) -> list[dict[str, Any]]:
    return [
        {
            "words": row.words,
            "before": row.before,
            "since": row.since,
            "number": check_answers.number(row.standardised),
            "marked": row.marked,
        }
        for row in found.mix
    ]


def _funnel(found: Funnel, name: str) -> dict[str, Any]:
    return {
        "name": f"funnel-{name}",
        "of": found.of,
        "figure": funnel_figure(found),
        "words": funnels.sentence(found),
        "refused": found.refused,
        "rows": [
            {
                "unit": unit,
                "rate": (
                    f"{percent(unit.rate.estimate)} ({percent(unit.rate.low)} to "
                    f"{percent(unit.rate.high)})"
                    if unit.rate
                    else ""
                ),
                "limits": f"{percent(unit.low_alert)} to {percent(unit.high_alert)}",
                "outer": f"{percent(unit.low_alarm)} to {percent(unit.high_alarm)}",
                "place": funnels.PLACES[unit.place],
            }
            for unit in found.units
        ],
    }


def _charts_off(sites: list[Site]) -> list[Site]:
    policies = monitoring.in_force(sites)
    return [site for site in sites if not (site.pk in policies and policies[site.pk].charts)]


def may_settle(request: HttpRequest, signal: Signal) -> bool:
    """Say whether whoever asks may take a signal further."""
    return may(request.user, "settle_signals") and signal.site_id in _settled_at(request)
