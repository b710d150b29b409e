"""What went wrong? Complications, later operations, and the story of the hardware."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import burden, hardware, outcomes, outside
from analytics.answers import harms as answers
from analytics.answers.burden import Burden
from analytics.answers.hardware import NUMBERS, Story
from analytics.endpoints.catalogue import HARM_KINDS
from analytics.figures.curves import curves
from analytics.figures.forests import forest
from analytics.figures.section_burden import days, per_100
from analytics.figures.words import curve_words, forest_words
from analytics.rules.suppression import Shape
from analytics.selectors import outcomes as selector
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.kept import HOUR_SECONDS, kept
from analytics.selectors.outcomes import Given
from analytics.views.asked import choices, given
from analytics.views.rows import row_context
from analytics.views.strips import interval
from analytics.views.tables import table_file
from followup.rules.scores.catalogue import INSTRUMENTS

FIXED = {"endpoint": "any_complication", "definition": ""}


@require_GET
def harms(request: HttpRequest) -> HttpResponse:
    view, message = given(request, **FIXED)
    harm, fault = _harm(request)
    shown = kept(view, "harms", lambda: _shown(view, harm), harm, seconds=HOUR_SECONDS)
    return render(
        request,
        "analytics/harms.html",
        {
            **choices(request, view),
            **shown,
            "harm_kinds": HARM_KINDS,
            "message": "; ".join(one for one in (message, fault) if one),
        },
    )


def _shown(view: Given, harm: str) -> dict[str, Any]:
    """Return what the page shows of the cohort: numbers, words and figures, without the keys behind."""
    result = selector.harm_answer(view)
    drawn = selector.harm_of(view, harm) if harm else result.any_kind
    counted = selector.burden_answer(view)
    stories = selector.hardware_answer(view)
    whole = result.any_kind
    return {
        "rows": [row_context(row, view.rule) for row in (*whole.rows, whole.total)],
        "kinds": [_kind(one, view.rule) for one in result.kinds],
        "by_group": [_kind(one, view.rule) for one in result.by_group],
        "burden": [_burden(one, view.rule) for one in counted if one.group == outcomes.ALL],
        "burden_by_group": [
            _burden(one, view.rule) for one in counted if one.group != outcomes.ALL
        ],
        "later_heads": list(answers.LATER.values()),
        "reoperations": [_later(one, view.rule) for one in result.reoperations],
        "story_lines": [
            _story_line(name, label, stories, view.rule) for name, label in NUMBERS.items()
        ],
        "stories": [_story(one) for one in stories],
        "result": {
            "total": {"operated": whole.total.operated},
            "sentence": whole.sentence,
            "definition": {"text": whole.definition.text, "label": whole.definition.label},
            "horizon": {"name": whole.horizon.name, "last_day": whole.horizon.last_day},
        },
        "drawn": {"definition": {"endpoint": drawn.definition.endpoint}},
        "forest": forest(drawn),
        "forest_words": forest_words(drawn),
        "curves": curves(drawn),
        "curve_words": curve_words(drawn),
    }


def _harm(request: HttpRequest) -> tuple[str, str]:
    """Return the one kind of complication that the figures are to draw, '' for any, and a fault."""
    harm = request.GET.get("harm", "")
    if not harm or harm in HARM_KINDS:
        return harm, ""
    return "", f"harm: '{harm}' is not one of {', '.join(HARM_KINDS)}"


def _kind(one: answers.KindRow, rule: CohortRule) -> dict[str, Any]:
    return {"name": one.name, **row_context(one.row, of_kind(rule, one.kind))}


def of_kind(rule: CohortRule, kind: str) -> CohortRule:
    """Return the rule of the same cohort for one kind of complication."""
    return replace(rule, endpoint=kind, definition_id="")


def _burden(one: Burden, rule: CohortRule) -> dict[str, Any]:
    mine = rule if one.kind == burden.ANY else of_kind(rule, one.kind)
    group = "" if one.group == outcomes.ALL else one.group
    return {
        "name": one.name,
        "group": one.group,
        "operated": one.operated,
        "patients": one.patients,
        "link": mine.address(group=group, which="ever"),
        "events": one.events,
        "share": interval(one.share),
        "per_100": per_100(one.per_100),
        "per_100_years": per_100(one.per_100_years),
        "grades": "; ".join(f"{grade}: {number}" for grade, number in one.grades.items()),
        "time": days(one.quartiles),
    }


def _later(one: answers.Reoperations, rule: CohortRule) -> dict[str, Any]:
    return {
        "group": one.group,
        "operated": one.operated,
        "cells": [
            {
                "label": label,
                "number": one.counts[label],
                "share": interval(one.share[label]),
                "link": rule.address(
                    group="" if one.group == outcomes.ALL else one.group, which=f"later:{code}"
                ),
            }
            for code, label in answers.LATER.items()
        ],
    }


def _story_line(
    name: str, label: str, stories: tuple[Story, ...], rule: CohortRule
) -> dict[str, Any]:
    """Return one number of the story, group by group: it has more numbers than groups."""
    return {
        "label": label,
        "cells": [
            {
                "group": one.group,
                "number": one.count(name),
                "link": rule.address(
                    group="" if one.group == outcomes.ALL else one.group, which=f"hardware:{name}"
                ),
            }
            for one in stories
        ],
    }


def _story(one: Story) -> dict[str, Any]:
    return {
        "group": one.group,
        "operated": one.operated,
        "time": days(one.quartiles),
        "scores": [
            f"{INSTRUMENTS[name].name}: median change {change:+.1f} in {pairs} with a score before "
            f"and after ({INSTRUMENTS[name].direction}), better in {better}"
            for name, (pairs, change, better) in one.score_change.items()
        ],
    }


@require_GET
def harms_csv(request: HttpRequest) -> HttpResponse:
    return _file(
        request, "harms", lambda view: answers.to_rows(selector.harm_answer(view)), outside.HARMS
    )


@require_GET
def burden_csv(request: HttpRequest) -> HttpResponse:
    return _file(
        request, "burden", lambda view: burden.to_rows(selector.burden_answer(view)), outside.BURDEN
    )


@require_GET
def later_csv(request: HttpRequest) -> HttpResponse:
    return _file(
        request,
        "operations-afterwards",
        lambda view: answers.reoperation_rows(selector.harm_answer(view)),
        outside.LATER,
    )


@require_GET
def hardware_csv(request: HttpRequest) -> HttpResponse:
    return _file(
        request,
        "hardware",
        lambda view: hardware.to_rows(selector.hardware_answer(view)),
        outside.HARDWARE,
    )


def _file(
    request: HttpRequest,
    name: str,
    rows: Callable[[Given], list[dict[str, Any]]],
    shape: Shape | None = None,
) -> HttpResponse:
    view, message = given(request, **FIXED)
    made = [] if message else rows(view)
    return table_file(made, view, message, f"{name}-{view.rule.horizon}", shape)
