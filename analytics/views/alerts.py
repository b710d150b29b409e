from datetime import timedelta
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.forms.alerts import MailForm, PlanForm
from analytics.models.alerts import AlertState, LossAlert
from analytics.rules.alert_plans import PLANS
from analytics.selectors import alert_mails
from analytics.selectors import alerts as selector
from analytics.services import alert_mails as mail_service
from analytics.services.alert_plans import acknowledge
from registry.selectors.visible import may, require
from registry.views.conflicts import try_to_save

PER_PAGE = 10
OFFERED = "observe"


@require_GET
def alerts(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_losses")
    now, today = timezone.now(), timezone.localdate()
    whole_site = request.GET.get("whose") == "site"
    rows = selector.waiting(request.user, today, whole_site=whole_site)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "analytics/alerts.html",
        {
            "page": page,
            "lines": selector.lines(list(page.object_list), now, today),
            "settled": selector.settled(request.user, today, now, whole_site=whole_site)[:PER_PAGE],
            "whole_site": whole_site,
            "query": "whose=site&" if whole_site else "",
            "may_see_films": may(request.user, "see_films"),
            "mails_not_gone": alert_mails.not_gone(request.user, now),
        },
    )


@require_http_methods(["GET", "POST"])
def alert(request: HttpRequest, alert_id: int) -> HttpResponse:
    require(request.user, "see_losses")
    row = get_object_or_404(selector.alerts(request.user), pk=alert_id)
    now, today = timezone.now(), timezone.localdate()
    offered = row.plan or OFFERED
    initial = {
        "version": row.version,
        "plan": row.plan,
        "due_on": row.due_on or today + timedelta(days=PLANS[offered].days_ahead),
    }
    form = PlanForm(request.POST or None, initial=initial)
    conflict = None

    def save() -> str:
        cleaned = form.cleaned_data
        acknowledge(
            alert=row,
            plan=cleaned["plan"],
            due_on=cleaned["due_on"],
            note=cleaned["note"],
            by=request.user,
            now=now,
            today=today,
            expected_version=cleaned["version"],
        )
        return f"{row.procedure.injury.patient.key}: {PLANS[cleaned['plan']].name.lower()}."

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, lambda: _saved_now(row))
        if done:
            return redirect("films-lost")
    (line,) = selector.lines([row], now, today)
    context = {
        "line": line,
        "form": form,
        "conflict": conflict,
        "steps": row.steps.select_related("by"),
        "may_plan": row.state != AlertState.TAKEN_BACK,
        "may_see_films": may(request.user, "see_films"),
    }
    return render(request, "analytics/alert.html", context, status=409 if conflict else 200)


def _saved_now(row: LossAlert) -> dict[str, Any]:
    now = LossAlert.objects.get(pk=row.pk)
    return {"version": now.version, "plan": now.plan, "due_on": now.due_on}


@require_http_methods(["GET", "POST"])
def mails(request: HttpRequest) -> HttpResponse:
    """Let a person say how often they are told by e-mail."""
    require(request.user, "see_losses")
    chosen = _choice(request)
    form = MailForm(request.POST or None, initial=chosen)
    conflict = None

    def save() -> str:
        mail_service.choose(
            person=request.user,
            choice=form.cleaned_data["choice"],
            expected_version=form.cleaned_data["version"],
        )
        return "Saved."

    if request.method == "POST" and form.is_valid():
        done, conflict = try_to_save(request, form, save, lambda: _choice(request))
        if done:
            return redirect("films-lost")
    lead = (
        "No patient is named in an e-mail; it counts and leads to the list. Nothing is told twice, "
        "nothing goes in the quiet hours of your site, and the list stays whatever you choose."
    )
    context = {
        "form": form,
        "heading": "How are you told?",
        "lead": lead,
        "conflict": conflict,
        "back": reverse("films-lost"),
    }
    return render(request, "analytics/signals_form.html", context, status=409 if conflict else 200)


def _choice(request: HttpRequest) -> dict[str, Any]:
    found = alert_mails.choice_of(request.user)
    return {"version": found.version, "choice": found.choice}
