"""Which construct does better? Contrasts with a chosen group, as they are and adjusted."""

from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import comparison, outcomes
from analytics.answers.comparison import Comparison, Model
from analytics.answers.covariates import COVARIATES
from analytics.answers.outside import compared
from analytics.endpoints.catalogue import ON_FILMS, definitions_of
from analytics.figures.contrasts import differences, ratio_text, ratio_words, ratios
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.kept import kept
from analytics.selectors.outcomes import Given
from analytics.views.asked import ask_endpoint, choices, given
from analytics.views.strips import interval
from analytics.views.tables import table_file

NAME = "comparison"


@dataclass(frozen=True)
class Wish:
    """What the address asks of the comparison beside its cohort."""

    against: str
    adjust: tuple[str, ...]
    fault: str = ""


@require_GET
def compare(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    if view.rule.endpoint not in ON_FILMS:
        return ask_endpoint(request, view, ON_FILMS)
    wish = _wish(request, view)
    found, wish = _found(view, wish)
    return render(
        request,
        "analytics/compare.html",
        {
            **choices(request, view),
            "definitions": definitions_of(view.rule.endpoint),
            "definition": view.definition,
            "found": found,
            "wish": wish,
            "query": _query(view.rule, wish),
            "covariates": [one for one in COVARIATES.values() if one.code != view.rule.by],
            "adjusted": [COVARIATES[name].words for name in wish.adjust],
            "lines": [_line(one, found, view.rule) for one in found.contrasts],
            "reference": _counts(found.reference, view.rule),
            "differences": differences(found),
            "models": [_model(one, found) for one in found.models],
            "message": "; ".join(one for one in (message, wish.fault) if one),
        },
    )


@require_GET
def compare_csv(request: HttpRequest) -> HttpResponse:
    view, message = given(request)
    if view.rule.endpoint not in ON_FILMS:
        raise Http404
    wish = _wish(request, view)
    found, wish = _found(view, wish)
    name = f"comparison-{view.rule.endpoint}-{view.rule.horizon}.csv"
    if view.outside:
        rows = outcomes.to_rows(selector.outcome_answer(view))
        beside = [found.against, *(one.group for one in found.contrasts)]
        return table_file(rows, view, message or wish.fault, name, compared(beside))
    return table_file(comparison.to_rows(found), view, message or wish.fault, name)


def _wish(request: HttpRequest, view: Given) -> Wish:
    asked = tuple(dict.fromkeys(request.GET.getlist("adjust")))
    unknown = [name for name in asked if name not in COVARIATES]
    fault = f"adjust: '{unknown[0]}' is not one of {', '.join(COVARIATES)}" if unknown else ""
    known = tuple(name for name in asked if name in COVARIATES and name != view.rule.by)
    return Wish(request.GET.get("against", ""), known, fault)


def _found(view: Given, wish: Wish) -> tuple[Comparison, Wish]:
    """Return the comparison; where the group to compare with is none of them, with the largest."""

    def make(against: str) -> Comparison:
        def once() -> Comparison:
            return selector.compare_answer(view, against, wish.adjust)

        return kept(view, NAME, once, against, *wish.adjust)

    try:
        return make(wish.against), wish
    except ValueError as fault:
        found = make("")
        return found, Wish("", wish.adjust, f"against: {fault}")


def _query(rule: CohortRule, wish: Wish) -> str:
    more = "".join(f"&adjust={name}" for name in wish.adjust)
    return rule.address(**({"against": wish.against} if wish.against else {})) + more


def _counts(tally: Any, rule: CohortRule) -> dict[str, Any]:
    return {
        "group": tally.group,
        "events": tally.events,
        "evaluable": tally.evaluable,
        "eligible": tally.eligible,
        "rate": interval(tally.rate),
        "links": {
            which: rule.address(group=tally.group, which=which)
            for which in ("events", "evaluable", "eligible")
        },
    }


def _line(one: comparison.Contrast, found: Comparison, rule: CohortRule) -> dict[str, Any]:
    gap = one.difference
    return {
        **_counts(one.own, rule),
        "difference": f"{gap.estimate * 100:+.1f} ({gap.low * 100:+.1f} to {gap.high * 100:+.1f})",
        "ratio": ratio_text(one.ratio),
    }


def _model(model: Model, found: Comparison) -> dict[str, Any]:
    return {
        "name": "odds" if model.kind == comparison.LOGISTIC else "hazard",
        "kind": model.kind,
        "used": model.used,
        "events": model.events,
        "refused": model.refused,
        "note": model.note,
        "figure": None if model.refused else ratios(model, found.against),
        "words": ratio_words(model),
        "rows": [
            {
                "term": effect.term,
                "unadjusted": ratio_text(effect.unadjusted) if effect.unadjusted else "",
                "adjusted": ratio_text(effect.adjusted),
            }
            for effect in (*model.groups, *model.others)
        ],
    }
