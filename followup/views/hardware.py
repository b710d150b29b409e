from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.hardware import DecisionForm
from followup.models import HardwareDecision
from followup.rules import prompts
from followup.selectors import hardware as selector
from followup.services import hardware as service
from registry.selectors.visible import require, site_ids
from registry.views.conflicts import try_to_save

PER_PAGE = 50
SHOWN_BESIDE = ("state", "wish_on", "deferred_until", "reason")


@require_GET
def hardware(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_hardware")
    today = timezone.localdate()
    resting = request.GET.get("resting") == "yes"
    rows = selector.open_decisions(request.user, today, resting=resting)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
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
    require(request.user, "decide_hardware")
    today = timezone.localdate()
    rows = selector.open_decisions(request.user, today, resting=True)
    decision = rows.filter(pk=decision_id).first()
    if decision is None:
        raise Http404
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
    return render(
        request,
        "followup/hardware_decide.html",
        {"line": selector.line_of(decision, today), "form": form, "conflict": conflict},
        status=409 if conflict else 200,
    )


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
