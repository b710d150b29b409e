from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.hardware import DecisionForm
from followup.models import HardwareDecision
from followup.rules import pain_course, prompts
from followup.rules.decision_times import AT_DAYS, FEW, Times
from followup.selectors import decision_times
from followup.selectors import hardware as selector
from followup.services import hardware as service
from registry.exchange import sheets
from registry.selectors.visible import require, site_ids
from registry.views.conflicts import try_to_save
from registry.views.patients import log_list, log_read

PER_PAGE = 50
SHOWN_BESIDE = ("state", "wish_on", "deferred_until", "reason")
MEASURES = {"to_decision": "from raised to decided", "to_removal": "from raised to removed"}

CSV_HEAD = (
    *("measure", "construct", "raised", "answered", "declined", "open", "follow_up_ended"),
    *("days_quarter", "days_half", "days_three_quarters"),
    *(f"share_by_{days}_days" for days in AT_DAYS),
    *("open_days_middle", "open_days_longest", "note"),
)


@require_GET
def hardware(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_hardware")
    today = timezone.localdate()
    resting = request.GET.get("resting") == "yes"
    rows = selector.open_decisions(request.user, today, resting=resting)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    log_list(request, [one.procedure.injury.patient for one in page])
    return render(
        request,
        "followup/hardware.html",
        {
            "page": page,
            "lines": selector.lines(list(page.object_list), today),
            "resting": resting,
            "may_decide_at": site_ids(request.user, "decide_hardware"),
            "query": "resting=yes&" if resting else "",
        },
    )


@require_http_methods(["GET", "POST"])
def decide(request: HttpRequest, decision_id: int) -> HttpResponse:
    require(request.user, "decide_hardware" if request.method == "POST" else "see_hardware")
    today = timezone.localdate()
    decision = selector.every_decision(request.user).filter(pk=decision_id).first()
    if decision is None:
        raise Http404
    if request.method == "POST":
        require(request.user, "decide_hardware", decision.site_id)
    form = DecisionForm(
        request.POST or None,
        initial={"version": decision.version},
        possible=prompts.NEXT[decision.state],
    )
    conflict = None
    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(
            request, form, lambda: _save(request, decision, form), lambda: _now(decision)
        )
        if done:
            return redirect("hardware")
        # What was tried is undone; the page speaks of what is saved.
        decision.refresh_from_db()
    log_read(request, decision.procedure.injury.patient)
    pain = selector.pain_of(decision.procedure.injury_id)
    may_decide = decision.site_id in site_ids(request.user, "decide_hardware")
    return render(
        request,
        "followup/hardware_decide.html",
        {
            "line": selector.line_of(decision, today, pain),
            "drawing": pain_course.drawing(pain),
            "steps": selector.history(decision.procedure),
            "may_decide": may_decide and bool(prompts.NEXT[decision.state]),
            "may_see_film": decision.site_id in site_ids(request.user, "see_films"),
            "is_open": decision.state in prompts.OPEN,
            "form": form,
            "conflict": conflict,
        },
        status=409 if conflict else 200,
    )


@require_GET
def times(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_hardware")
    rows = decision_times.by_construct_type(request.user, timezone.localdate())
    tables = [
        (name, title, [(row.name, getattr(row, name)) for row in rows])
        for name, title in MEASURES.items()
    ]
    return render(
        request,
        "followup/hardware_times.html",
        {"tables": tables, "weeks": [days // 7 for days in AT_DAYS], "few": FEW},
    )


@require_GET
def times_csv(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_hardware")
    today = timezone.localdate()
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="removal-times-{today}.csv"'
    rows = [
        [title, row.name, *_cells(getattr(row, name))]
        for row in decision_times.by_construct_type(request.user, today)
        for name, title in MEASURES.items()
    ]
    answer.writelines(sheets.csv_lines(CSV_HEAD, rows))
    return answer


def _cells(found: Times) -> list[Any]:
    counts = [found.raised, found.answered, found.otherwise, found.open, found.left]
    few = [""] * (len(found.quartiles) + len(found.shares))
    known = [*found.quartiles, *(f"{share:.3f}" for share in found.shares)]
    note = f"fewer than {FEW} questions: no shares and no medians" if found.too_few else ""
    return [
        *counts,
        *(few if found.too_few else known),
        found.middle_open,
        found.longest_open,
        note,
    ]


def _save(request: HttpRequest, decision: HardwareDecision, form: DecisionForm) -> str:
    service.decide(
        decision=decision,
        state=form.cleaned_data["state"],
        values=form.cleaned_data,
        expected_version=form.cleaned_data["version"],
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
    )
    return "The decision is recorded."


def _now(decision: HardwareDecision) -> dict[str, Any]:
    decision.refresh_from_db()
    return {name: getattr(decision, name) for name in SHOWN_BESIDE}
