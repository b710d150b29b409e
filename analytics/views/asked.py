"""What an address asks for, and what the chooser on top of each page of the quality meeting offers."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import HARM_KINDS, ON_FILMS
from analytics.models.snapshots import Snapshot
from analytics.rules.ages import age_words
from analytics.selectors import cases as case_selector
from analytics.selectors import outcomes as selector
from analytics.selectors import signals
from analytics.selectors.cohorts import (
    CODES,
    GROUPS,
    Unchosen,
    refuse_foreign_site,
    refuse_other_surgeon,
    rule_from,
)
from analytics.selectors.definitions import words
from analytics.selectors.outcomes import Given
from analytics.selectors.visible import sites_of
from analytics.services import snapshots
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import may, require, site_ids

# Kinds of file in which a table is taken away, and for whom: small numbers stay in the team.
KINDS = ("csv", "xlsx")
OUTSIDE = "outside"
AUDIENCES = ("team", OUTSIDE)
# What a browser says of a request that another page made (Fetch Metadata, W3C): no such one fills the ledger.
FOREIGN = ("cross-site", "same-site")


def given(request: HttpRequest, *, action: str = "see_outcomes", **fixed: str) -> tuple[Given, str]:
    """Read the address; where a part cannot be read, show the default and say what was wrong.

    `action` is the right that chooses the sites, `fixed` what the address may not say.
    """
    require(request.user, action)
    message = ""
    sites = sites_of(request.user, action)
    try:
        rule = rule_from({**request.GET.dict(), **fixed})
        refuse_foreign_site(rule, sites)
        refuse_other_surgeon(rule, request.user, sites)
        snapshot = _snapshot(rule.snapshot)
    except BadInput as fault:
        rule, message = rule_from(fixed), str(fault)
        snapshot = _snapshot("")
    view = selector.given(rule, sites, snapshot, snapshots.frames_of(snapshot))
    kind, audience = request.GET.get("file", "csv"), request.GET.get("audience", "team")
    if kind not in KINDS or audience not in AUDIENCES:
        wanted = f"file: {' or '.join(KINDS)}; audience: {' or '.join(AUDIENCES)}"
        return view, message or wanted
    if audience == OUTSIDE and request.headers.get("Sec-Fetch-Site") in FOREIGN:
        return (
            view,
            message or "Open this file from its page: what goes outside is entered in the ledger.",
        )
    whose = {"outside": audience == OUTSIDE, "asked_by": request.user}
    return replace(view, file_kind=kind, **whose), message


def _snapshot(prefix: str) -> Snapshot:
    """Return the snapshot that an address names, or the one to show now.

    Raises BadInput when none that is kept has that name.
    """
    if prefix:
        return snapshots.named(prefix)
    return snapshots.current(now=timezone.now(), today=timezone.localdate())


def choices(request: HttpRequest, view: Given) -> dict[str, Any]:
    """Return what the chooser on top of a page offers."""
    sites = sites_of(request.user)
    return {
        "rule": view.rule,
        "horizons": HORIZONS.values(),
        "groups": GROUPS,
        "sites": sites,
        "surgeons": _surgeons(request.user, sites),
        "neer_codes": CODES["neer"],
        "rockwood_codes": CODES["rockwood"],
        "provenance": selector.provenance(view),
        "opted_out": view.opted_out,
        "may_open": may(request.user, "see_cases"),
        "unchosen": view.unchosen,
        "on_films": ON_FILMS,
        **_age(view),
        "group_words": _group_words(view),
        "late_signals": signals.late(request.user, timezone.localdate()),
    }


def _age(view: Given) -> dict[str, Any]:
    """Say how old the snapshot is, whether data changed since, and what else its figures rest on."""
    then = view.snapshot.definitions.get(view.definition.id) if view.unchosen is None else None
    return {
        "fresh": snapshots.is_fresh(view.snapshot, timezone.localdate()),
        "age": age_words(timezone.now() - view.snapshot.taken_at),
        "snapshot": view.snapshot,
        "from_this": view.rule.address(snapshot=view.snapshot.content_hash[:12]),
        "from_newest": view.rule.address(snapshot=""),
        "definition_then": then if then and then != view.definition.version else None,
    }


def ask(request: HttpRequest, none: Unchosen) -> HttpResponse:
    """Ask which definition is meant, where a page needs one and the sites in view chose none."""
    if "." in request.path.rsplit("/", 1)[-1]:
        return HttpResponse(str(none), status=400, content_type="text/plain; charset=utf-8")
    asked = request.GET.dict()
    offered = [
        (one, urlencode({**asked, "endpoint": none.endpoint, "definition": one.id}))
        for one in none.definitions
    ]
    return render(request, "analytics/choose.html", {"state": none.state, "offered": offered})


def ask_endpoint(request: HttpRequest, view: Given, shown: Iterable[str]) -> HttpResponse:
    """Say that a page is not about the endpoint of its address, and offer those that it is about.

    The status is 404: nothing is there. A complication is offered on the page that counts it.
    """
    asked = view.rule.endpoint
    offered = [
        (
            ON_FILMS.get(one) or HARM_KINDS.get(one) or words(one),
            view.rule.address(endpoint=one, definition=""),
        )
        for one in shown
    ]
    address = view.rule.address(endpoint="", definition="")
    context = {
        "asked": asked,
        "harm": HARM_KINDS.get(asked, ""),
        "harm_address": f"{address}&{urlencode({'harm': asked})}",
        "offered": offered,
    }
    return render(request, "analytics/no_endpoint.html", context, status=404)


def _surgeons(user: Any, sites: list[Site]) -> Any:
    """Return the surgeons that may be chosen: all, or where one may not see them all, oneself."""
    rows = Person.objects.filter(memberships__role="surgeon", memberships__site__in=sites)
    if not {site.pk for site in sites} <= set(site_ids(user, "see_surgeons")):
        rows = rows.filter(pk=user.pk)
    return rows.distinct()


def _group_words(view: Given) -> str:
    """Say what the codes of construct types stand for; other groups speak for themselves."""
    if view.rule.by != "construct_type":
        return ""
    names = case_selector.construct_names(set(view.data.cases["construct_type"].dropna().unique()))
    return "; ".join(f"{code}: {name}" for code, name in sorted(names.items()))
