from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import balance
from analytics.answers.attendance import BY, PLANNED, WAYS, Line, code
from analytics.answers.balance import Comparison
from analytics.answers.completeness import GroupRow
from analytics.answers.flow import Flow, Part
from analytics.answers.outcomes import ALL, percent
from analytics.answers.responding import Response
from analytics.answers.tipping import GroupTipping, TippingAnswer
from analytics.endpoints.catalogue import definitions_of
from analytics.figures.attendance import bar_words, bars
from analytics.figures.balance import dot_words, dots
from analytics.figures.flow import Box, boxes, flow_words, withdrew_words
from analytics.figures.tipping import tipping, tipping_words
from analytics.selectors.following import Following, for_outside, tables
from analytics.selectors.kept import HOUR_SECONDS
from analytics.selectors.kept import kept as once
from analytics.selectors.outcomes import Given
from analytics.views.asked import choices, given
from analytics.views.opened import case_page
from analytics.views.tables import table_file
from analytics.views.typed import also, kept, share
from registry.selectors.visible import may, require

ALWAYS = ("done_in_window", "done_outside", "missed", "lapsed", "open")
TARGET = "The rate that would be too much"


@require_GET
def following(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    if view.data.cases.empty:
        return render(
            request, "analytics/following.html", {**choices(request, view), "message": message}
        )
    target, fault = _target(request)
    shown = once(
        view,
        "following",
        lambda: _shown(view, target),
        str(target),
        # Who withdrew is in no table of the snapshot, and so not in its hash.
        str(view.opted_out),
        seconds=HOUR_SECONDS,
    )
    return render(
        request,
        "analytics/following.html",
        {
            **choices(request, view),
            **shown,
            "definitions": definitions_of(view.rule.endpoint),
            "definition": view.definition,
            "message": message,
            "fault": fault,
            "kept": kept(view.rule),
            "also": also(request, "target"),
            "target": request.GET.get("target", ""),
            "open": view.rule.address(),
            "may_see_responses": may(request.user, "see_responses"),
        },
    )


def _shown(view: Given, target: float | None) -> dict[str, Any]:
    """Return what the page shows of the cohort: numbers, words and figures, without the keys behind."""
    found = Following(view)
    flows, lines = found.flows(), found.attendance()
    whole = flows[ALL]
    ways = _columns(lines["step"][-1])
    return {
        "result": {
            "total": {"operated": found.result.total.operated},
            "horizon": {"name": found.result.horizon.name},
        },
        "boxes": [_box(one) for one in boxes(whole)],
        "flow": {"ends": [_part(one) for one in whole.ends]},
        "flow_words": flow_words(whole),
        "withdrew": withdrew_words(whole),
        "flow_rows": [_flow_row(name, one) for name, one in flows.items()],
        **_completeness(found.completeness()),
        "ways": [WAYS[way] for way in ways],
        "lines": [
            {"by": BY[by], "rows": [_line(line, by, ways) for line in some]}
            for by, some in lines.items()
        ],
        "bars": bars(lines["step"]),
        "bar_words": bar_words(lines["step"]),
        "responses": [_response(one) for one in found.responses],
        "balances": [_balance(name, one) for name, one in found.balances().items()],
        "line_source": balance.LINE_SOURCE,
        **_tipping(found.tipping(target)),
    }


@require_GET
def following_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_outcomes")
    view, message = given(request)
    target, fault = _target(request)
    found = Following(view)
    rows = tables(found, target)
    name = request.GET.get("table", "completeness")
    if name not in rows:
        raise Http404
    told = for_outside(found) if view.outside else {}
    plain, shape = told.get(name, (rows[name], None))
    named = f"following-{name}-{view.rule.horizon}"
    return table_file(plain, view, message or fault, named, shape)


@require_GET
def following_cases(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_cases")
    view, message = given(request)
    found, group = Following(view), request.GET.get("group", "")
    behind = found.behind(request.GET.get("which", "operated"), group)
    if behind is None:
        raise Http404
    return case_page(
        request,
        view,
        found.result,
        behind.cases,
        what=behind.words,
        group=group or "all groups",
        message=message,
        back_url="following",
    )


def _target(request: HttpRequest) -> tuple[float | None, str]:
    faults: list[str] = []
    return share(request, "target", TARGET, faults), "; ".join(faults)


def _part(part: Part) -> dict[str, Any]:
    return {"code": part.code, "words": part.words, "number": part.number}


def _box(box: Box) -> dict[str, Any]:
    left = [_part(one) for one in box.left]
    return {"part": _part(box.part), "share": box.share, "left": left, "gone": box.gone}


def _flow_row(group: str, flow: Flow) -> dict[str, Any]:
    return {
        "group": group,
        "link": "" if group == ALL else group,
        "stages": [_part(stage.part) for stage in flow.stages],
    }


def _response(one: Response) -> dict[str, Any]:
    return {
        "horizon": one.horizon,
        "name": one.name,
        "wanted": one.share.of,
        "answered": one.share.number,
        "silent": len(one.silent),
        "words": one.words,
        "few": one.few,
    }


def _completeness(rows: tuple[GroupRow, ...]) -> dict[str, Any]:
    return {
        "steps": list(rows[-1].reviewed),
        "rows": [
            {
                "group": row.group,
                "link": "" if row.group == ALL else row.group,
                "operated": row.operated,
                "reviewed": [
                    (step, _percent(one.number, one.of), one.number, one.of)
                    for step, one in row.reviewed.items()
                ],
                "observed": f"{row.person_time.observed_years:.1f}",
                "potential": f"{row.person_time.potential_years:.1f}",
                "person_time": _share(row.person_time.share),
                "lost": row.lost,
                "failures": row.failures,
                "quotient": "" if row.quotient is None else f"{row.quotient:.2f}",
                "more_lost": row.more_lost_than_failed,
            }
            for row in rows
        ],
    }


def _percent(number: int, of: int) -> str:
    return f"{100 * number / of:.0f}%" if of else ""


def _share(value: float | None) -> str:
    return "" if value is None else percent(value)


def _columns(total: Line) -> list[str]:
    """Return the ways that get a column: those always asked after, and those that occurred."""
    return [way for way in WAYS if way in ALWAYS or total.counts[way]]


def _line(line: Line, by: str, shown: list[str]) -> dict[str, Any]:
    return {
        "label": line.label,
        "planned": line.planned,
        "opens": code(by, line.label, PLANNED),
        "counts": [
            {
                "words": words,
                "number": line.counts[way],
                "which": code(by, line.label, way),
            }
            for way, words in WAYS.items()
            if way in shown
        ],
        "late": f"{line.late.median:z.0f}" if line.late else "",
        "entered": f"{line.entered.median:z.0f}" if line.entered else "",
        "difference": line.difference,
    }


def _balance(name: str, found: Comparison) -> dict[str, Any]:
    return {
        "name": name,
        "found": found,
        "title": "Followed against lost" if name == "lost" else "Who answers, and who does not",
        "figure": dots(found, f"{found.one.capitalize()} against {found.two}"),
        "words": dot_words(found),
        "traits": [
            {
                "trait": trait,
                "difference": "" if trait.difference is None else f"{trait.difference:+.2f}",
            }
            for trait in found.traits
        ],
    }


def _tipping(found: TippingAnswer) -> dict[str, Any]:
    return {
        "tipping": tipping(found),
        "tipping_words": tipping_words(found),
        "has_target": found.target is not None,
        "target_words": _share(found.target),
        "suppositions": [
            {
                "words": one.words,
                "more": one.more,
                "rate": percent(one.rate),
                "exceeds": one.exceeds,
            }
            for one in found.suppositions
        ],
        "tipping_rows": [_tipping_row(one, found.target) for one in found.groups],
    }


def _tipping_row(one: GroupTipping, target: float | None) -> dict[str, Any]:
    found = one.found
    row: dict[str, Any] = {
        "group": one.group,
        "link": "" if one.group == ALL else one.group,
        "eligible": one.eligible,
        "rate": _share(one.rate),
    }
    if found is None:
        return row
    return row | {
        "events": found.events,
        "evaluable": found.evaluable,
        "unseen": found.unseen,
        "low": percent(found.bounds.low),
        "high": percent(found.bounds.high),
        "at": "" if target is None else _at(found.at, found.unseen),
    }


def _at(at: int | None, unseen: int) -> str:
    if at is None:
        return "never"
    return "already" if at == 0 else f"{at} of {unseen}"
