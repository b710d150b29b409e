"""Do the readers agree? Films that two have read, neither led by the other."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from analytics.answers import agreement as answers
from analytics.answers import outside
from analytics.answers.agreement import FEWEST_PAIRS, MEASUREMENTS, Measurement, Row
from analytics.answers.double_readings import LEFT_OUT
from analytics.answers.outcomes import ALL
from analytics.estimators.results import Estimate
from analytics.figures.agreement import apart, apart_words
from analytics.selectors import agreement as selector
from analytics.selectors.cases import patient_keys
from analytics.selectors.outcomes import Given, provenance
from analytics.selectors.visible import sites_of
from analytics.views.asked import given
from analytics.views.tables import table_file
from registry.errors import BadInput
from registry.models.sites import Site
from registry.selectors.visible import may, require

PER_PAGE = 50
SEE = "see_agreement"
# What a cohort's address can say that this page does not ask.
UNASKED = ("endpoint", "definition", "definition_text", "definition_source", "primary", "horizon")
# Only of the CC distance does a site assume a detectable change.
ASSUMED_OF = "ccd_injured_mm"


@require_GET
def agreement(request: HttpRequest) -> HttpResponse:
    view, sites, message = _given(request)
    measurement, fault = _measurement(request)
    found = selector.agreeing(view, request.user, sites)
    rows = found.answer.of_measurement(measurement.code)
    whole = found.answer.whole(measurement.code)
    assumed = selector.assumed_change(sites)
    made = provenance(view)
    context = {
        "rule": view.rule,
        "sites": sites_of(request.user, SEE),
        "message": "; ".join(one for one in (message, fault) if one),
        "measurements": MEASUREMENTS.values(),
        "measurement": measurement,
        "films": found.answer.films,
        "left_out": [
            (LEFT_OUT[name], number) for name, number in found.answer.left_out.items() if number
        ],
        "fewest": FEWEST_PAIRS,
        "sentence": answers.sentence(whole),
        "numbers": [_line(found.answer.whole(one.code)) for one in _of_kind(numbers=True)],
        "judged": [_line(found.answer.whole(one.code)) for one in _of_kind(numbers=False)],
        "groups": [_line(row) for row in rows if row.of != ALL],
        "assumed": assumed,
        "own_change": found.answer.whole(ASSUMED_OF).change,
        "own_pairs": found.answer.whole(ASSUMED_OF).pairs,
        "may_open": may(request.user, "see_cases"),
        "may_set_up": may(request.user, "set_up"),
        "provenance": {name: said for name, said in made.items() if name not in UNASKED},
        "opted_out": view.opted_out,
        "address": _address(request),
    }
    if measurement.is_number:
        shown = assumed if measurement.code == ASSUMED_OF else None
        context |= {
            "figure": apart(whole, answers.differences(found.pairs, measurement), shown),
            "words": apart_words(whole),
        }
    return render(request, "analytics/agreement.html", context)


@require_GET
def agreement_csv(request: HttpRequest) -> HttpResponse:
    view, sites, message = _given(request)
    rows = answers.to_rows(selector.agreeing(view, request.user, sites).answer)
    if view.outside:
        rows = [row for row in rows if row["of"] in (ALL, answers.SITE)]
    return table_file(rows, view, message, "agreement.csv", outside.AGREEMENT)


@require_GET
def agreement_films(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_cases")
    view, _, message = _given(request, "see_cases")
    measurement, fault = _measurement(request)
    if fault or not measurement.is_number:
        raise Http404
    films = selector.apart_films(view, measurement, request.user).to_dict("records")
    page: Page[Any] = Paginator(films, PER_PAGE).get_page(request.GET.get("page"))
    keys = patient_keys(request.user, [row["procedure_id"] for row in page.object_list])
    address = _address(request)
    return render(
        request,
        "analytics/agreement_films.html",
        {
            "page": page,
            "lines": [
                {**row, "key": keys.get(row["procedure_id"], "")} for row in page.object_list
            ],
            "measurement": measurement,
            "message": message,
            "may_open": may(request.user, "see_patient"),
            "query": f"{address}&" if address else "",
            "address": address,
        },
    )


def _given(request: HttpRequest, action: str = SEE) -> tuple[Given, list[Site], str]:
    view, message = given(request, action=action, endpoint="", definition="", horizon="", by="")
    sites = [site for site in sites_of(request.user, action) if view.rule.site in ("", site.code)]
    return view, sites, message


def _measurement(request: HttpRequest) -> tuple[Measurement, str]:
    try:
        return selector.measurement_of(request.GET.get("measurement", "")), ""
    except BadInput as fault:
        return selector.measurement_of(""), str(fault)


def _of_kind(*, numbers: bool) -> list[Measurement]:
    return [one for one in MEASUREMENTS.values() if one.is_number is numbers]


def _address(request: HttpRequest) -> str:
    query = request.GET.copy()
    for name in ("page", "file", "audience"):
        query.pop(name, None)
    return query.urlencode()


def _line(row: Row) -> dict[str, Any]:
    unit = row.measurement.unit
    limits = row.limits
    return {
        "name": row.measurement.name,
        "code": row.measurement.code,
        "of": row.of,
        "group": row.group,
        "pairs": row.pairs,
        "one_said": row.one_said,
        "shift": row.shift,
        "too_few": row.is_too_few,
        "agreement": _share(row.agreement),
        "consistency": _share(row.consistency),
        "difference": _signed(limits.mean, unit) if limits else "",
        "lower": _signed(limits.lower, unit) if limits else "",
        "upper": _signed(limits.upper, unit) if limits else "",
        "sem": f"{row.change.std_error_of_measurement:.2f} {unit}" if row.change else "",
        "change": _plain(row.change, unit),
        "kappa": _share(row.kappa),
        "same": f"{row.kappa.observed * 100:.0f}%" if row.kappa else "",
    }


def _share(found: Estimate | None) -> str:
    if found is None:
        return ""
    # All alike: what is compared with nothing has no coefficient.
    if found.estimate != found.estimate:
        return "not defined: all films are alike"
    if found.low != found.low:
        return f"{found.estimate:.2f} (no interval)"
    return f"{found.estimate:.2f} ({found.low:.2f} to {found.high:.2f})"


def _signed(found: Estimate, unit: str) -> str:
    return f"{found.estimate:+.2f} {unit} ({found.low:+.2f} to {found.high:+.2f})"


def _plain(found: Estimate | None, unit: str) -> str:
    if found is None:
        return ""
    return f"{found.estimate:.2f} {unit} ({found.low:.2f} to {found.high:.2f})"
