from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.hardware import DecisionForm
from followup.rules import prompts
from followup.selectors import hardware as selector
from followup.services import hardware as service
from registry.errors import BadInput, HoldfastError
from registry.selectors.visible import may, require

PER_PAGE = 50


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
            "may_decide": may(request.user, "decide_hardware"),
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
    if request.method == "POST" and form.is_valid():
        try:
            service.decide(
                decision=decision,
                state=form.cleaned_data["state"],
                values=form.cleaned_data,
                expected_version=form.cleaned_data["version"],
                by=request.user,
                now=timezone.now(),
                today=today,
            )
            messages.success(request, "The decision is recorded.")
            return redirect("hardware")
        except BadInput as fault:
            form.refuse(fault)
        except HoldfastError as fault:
            form.add_error(None, str(fault))
    return render(
        request,
        "followup/hardware_decide.html",
        {"line": selector.line_of(decision, today), "form": form},
    )
