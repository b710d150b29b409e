from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.answers import risks, watched
from analytics.figures.charts import chart_figure, chart_words
from analytics.forms.monitoring import DesignForm
from analytics.models.monitoring import ChartDesign
from analytics.selectors import cases as case_selector
from analytics.selectors import cohorts, monitoring
from analytics.selectors.visible import visible
from analytics.services import charts as service
from analytics.services import snapshots
from analytics.services.charts import Wanted
from analytics.views.tables import written
from registry.models.sites import Site
from registry.selectors.visible import may, require
from registry.views.conflicts import try_to_save

PER_PAGE = 50


@require_GET
def chart(request: HttpRequest, design_id: int) -> HttpResponse:
    require(request.user, "see_signals")
    design = _design(request, design_id)
    rows = monitoring.rows_of(design)
    reading = monitoring.read(design, rows)
    facts = monitoring.facts_of(design, rows)
    policy = monitoring.in_force([design.site]).get(design.site_id)
    there = [n for n, row in enumerate(rows) if row.case_id != monitoring.NOBODY]
    page = Paginator(there[::-1], PER_PAGE).get_page(request.GET.get("page"))
    keys = case_selector.patient_keys(request.user, [rows[n].case_id for n in page.object_list])
    return render(
        request,
        "analytics/signals_chart.html",
        {
            "design": design,
            "basis": risks.from_plain(design.basis),
            "definition": watched.definition_of(design.definition_id),
            "horizon": watched.horizon_of(design.horizon),
            "is_outdated": monitoring.is_outdated(design),
            "is_on": policy is not None and policy.charts,
            "figure": chart_figure(reading, facts),
            "words": chart_words(reading, facts),
            "looked_back": sum(rows[n].performed_on < design.fixed_at.date() for n in there),
            "withdrawn": len(rows) - len(there),
            "outside": monitoring.outside(design, _frames()),
            "signals": design.signals.select_related("owner").order_by("position"),
            "page": page,
            "lines": [
                (rows[n], reading.path[n], keys.get(rows[n].case_id, "")) for n in page.object_list
            ],
            "others": monitoring.versions(design),
            "may_open": may(request.user, "see_patient"),
            "may_design": visible(request.user, Site, "settle_signals")
            .filter(pk=design.site_id)
            .exists(),
            "query": "",
        },
    )


@require_GET
def chart_csv(request: HttpRequest, design_id: int) -> HttpResponse:
    require(request.user, "see_signals")
    design = _design(request, design_id)
    rows = monitoring.rows_of(design)
    reading = monitoring.read(design, rows)
    head = ["case", "procedure", "operated_on", "event", "expected_risk", "sum", "reached_limit"]
    lines = [list(line.values()) for line in monitoring.case_lines(rows, reading)]
    kind = "xlsx" if request.GET.get("file") == "xlsx" else "csv"
    return written(kind, f"chart-{design.pk}", monitoring.provenance(design), head, lines)


@require_http_methods(["GET", "POST"])
def design_add(request: HttpRequest, site_id: int) -> HttpResponse:
    require(request.user, "settle_signals")
    site = get_object_or_404(visible(request.user, Site, "settle_signals"), pk=site_id)
    return _design_page(request, site, None)


@require_http_methods(["GET", "POST"])
def design_change(request: HttpRequest, design_id: int) -> HttpResponse:
    require(request.user, "settle_signals")
    design = _design(request, design_id, "settle_signals")
    return _design_page(request, design.site, design)


def _design_page(request: HttpRequest, site: Site, present: ChartDesign | None) -> HttpResponse:
    types = _types(site)
    form = DesignForm(
        request.POST or None,
        initial=_now(present),
        owners=monitoring.may_own(site, timezone.localdate()),
        types=types,
        fixed=present is not None,
    )
    conflict = None
    if request.method == "POST" and form.is_valid():
        made: list[ChartDesign] = []

        def save() -> str:
            made.append(_fix(request, site, form))
            return (
                f"Fixed: {made[0]}, version {made[0].version}. It takes its first cases in tonight."
            )

        def saved_now() -> dict[str, Any]:
            return _now(monitoring.current(present) if present is not None else None)

        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect("signals-chart", made[0].pk)
    return render(
        request,
        "analytics/signals_form.html",
        {
            "form": form,
            "heading": f"Change the design: {present}" if present else f"A running chart of {site}",
            "lead": (
                "A design is fixed before anybody looks. The expected risk and the limit are worked "
                "out from the baseline and kept; a change makes another chart beside the old one."
            ),
            "conflict": conflict,
            "back": reverse("signals-chart", args=[present.pk]) if present else reverse("signals"),
        },
        status=409 if conflict else 200,
    )


def _fix(request: HttpRequest, site: Site, form: DesignForm) -> ChartDesign:
    cleaned = dict(form.cleaned_data)
    version = cleaned.pop("version")
    cleaned["covariates"] = tuple(cleaned["covariates"])
    return service.fix_design(
        site=site,
        wanted=Wanted(**cleaned),
        frames=_frames(),
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
        expected_version=version,
    )


def _now(design: ChartDesign | None) -> dict[str, Any]:
    if design is None:
        return {}
    names = (
        *("version", "watched", "construct_type", "horizon", "odds_ratio", "run_length"),
        *("baseline_from", "baseline_to", "starts_on", "owner", "answer_days"),
    )
    return {
        **{name: getattr(design, name) for name in names},
        "covariates": [term["code"] for term in design.basis["terms"]],
    }


def _types(site: Site) -> list[tuple[str, str]]:
    """Return the construct types that a site has used, so that only these are offered."""
    cases = cohorts.cut(_frames(), cohorts.CohortRule(site=site.code), {site.code}).cases
    codes = sorted(set(cases["construct_type"].dropna()))
    names = case_selector.construct_names(codes)
    return [(code, f"{code}: {names.get(code, code)}") for code in codes]


def _design(request: HttpRequest, design_id: int, action: str = "see_signals") -> ChartDesign:
    rows = visible(request.user, ChartDesign, action).select_related("site", "owner", "fixed_by")
    return get_object_or_404(rows, pk=design_id)


def _frames() -> Any:
    return snapshots.frames_of(snapshots.current(now=timezone.now(), today=timezone.localdate()))
