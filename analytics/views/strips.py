"""The same rate under every definition that ships."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from analytics.answers import outside, sensitivity
from analytics.answers.outcomes import percent
from analytics.answers.sensitivity import Strip, Tally
from analytics.endpoints.catalogue import definitions_of
from analytics.estimators.results import Bounds, Estimate
from analytics.figures.strips import strip
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.kept import is_kept, kept
from analytics.selectors.outcomes import Given
from analytics.views.asked import given
from analytics.views.tables import table_file

NAME = "strip"
# Of this many index procedures on, the definitions are gone through when somebody asks for it.
SMALL = 5000


@require_GET
def strip_csv(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    found = kept(view, NAME, lambda: selector.strip_answer(view))
    rows = sensitivity.to_rows(found)
    name = f"definitions-{view.rule.endpoint}-{view.rule.horizon}"
    return table_file(rows, view, message, name, outside.STRIP)


def strip_context(request: HttpRequest, view: Given) -> dict[str, Any] | None:
    """Return figure and table of the strip; None where they take long and nobody asked for them.

    Where one definition ships there is nothing to set side by side.
    """
    if len(definitions_of(view.rule.endpoint)) == 1:
        return {"alone": True}
    asked = request.GET.get("show") == "definitions"
    if len(view.data.cases) >= SMALL and not asked and not is_kept(view, NAME):
        return None
    found = kept(view, NAME, lambda: selector.strip_answer(view))
    own = "" if view.unchosen else view.definition.id
    return {
        "figure": strip(found, own),
        "sentence": found.sentence,
        "lines": _lines(found, view.rule, own),
        "groups": _by_group(found, view.rule),
        "heads": [tally.group for tally in found.lines[0].groups] if found.lines else [],
    }


def _lines(found: Strip, rule: CohortRule, own: str) -> list[dict[str, Any]]:
    return [
        {
            "name": line.definition.name,
            "id": line.definition.id,
            "is_own": line.definition.id == own,
            "use": rule.address(definition=line.definition.id),
            "counts": _counts(line.total, rule, line.definition.id),
            "rate": interval(line.total.rate),
            "bounds": both(line.total.bounds),
        }
        for line in found.lines
    ]


def _counts(tally: Tally, rule: CohortRule, definition: str) -> list[dict[str, Any]]:
    numbers = {
        "eligible": ("Eligible", tally.eligible),
        "evaluable": ("Evaluable", tally.evaluable),
        "events": ("Events", tally.events),
    }
    return [
        {"label": label, "number": number, "link": rule.address(definition=definition, which=which)}
        for which, (label, number) in numbers.items()
    ]


def _by_group(found: Strip, rule: CohortRule) -> list[dict[str, Any]]:
    return [
        {
            "name": line.definition.name,
            "cells": [
                {
                    "group": tally.group,
                    "share": f"{tally.events}/{tally.evaluable}",
                    "rate": interval(tally.rate),
                    "link": rule.address(
                        definition=line.definition.id, group=tally.group, which="events"
                    )
                    if tally.events
                    else "",
                }
                for tally in line.groups
            ],
        }
        for line in found.lines
    ]


def interval(estimate: Estimate | None) -> str:
    """Write a share with its interval as percentages."""
    if estimate is None:
        return ""
    return f"{percent(estimate.estimate)} ({percent(estimate.low)} to {percent(estimate.high)})"


def both(bounds: Bounds | None) -> str:
    """Write the two ends of what the missing could change."""
    return f"{percent(bounds.low)} to {percent(bounds.high)}" if bounds else ""
