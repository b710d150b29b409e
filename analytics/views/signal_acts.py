from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from analytics.answers import checks as check_answers
from analytics.endpoints.catalogue import LOSS, definitions_of
from analytics.forms import signals as forms
from analytics.models.signals import Signal
from analytics.rules import signals as rules
from analytics.selectors import drift, monitoring
from analytics.selectors import signals as selector
from analytics.selectors.visible import visible
from analytics.services import signals as service
from analytics.services import snapshots
from analytics.views.signals import may_settle, said_of
from registry.models.sites import Site
from registry.selectors.visible import require
from registry.views.conflicts import try_to_save


@dataclass(frozen=True)
class Act:
    """One thing that can be done with a signal: its words, its form and the service that does it."""

    words: str
    lead: str
    form: Any
    do: Callable[..., Any]
    has_day: bool = False
    days_ahead: int = 28


ACTS = {
    "review": Act(
        "Begin the review of cases",
        "Say who goes through which cases, and how. All three checks come first.",
        forms.StepForm,
        service.begin_review,
    ),
    "finding": Act(
        "Write down the finding",
        "Say what was found in words that somebody understands who was not there. A finding is about "
        "data, patients, implants or care; the chart itself says nothing about anybody.",
        forms.FindingForm,
        service.write_finding,
    ),
    "action": Act(
        "Agree on an action",
        "Say what is done about it, and by which day it is looked at again.",
        forms.DayForm,
        service.agree_action,
        has_day=True,
    ),
    "close": Act(
        "Close the signal",
        "Say what came of it. It is kept with its whole history.",
        forms.StepForm,
        service.close,
    ),
    "reopen": Act(
        "Open it again",
        "Say why it was closed too early. Another finding will be needed to close it.",
        forms.DayForm,
        service.reopen,
        has_day=True,
        days_ahead=14,
    ),
    "owner": Act("Give it to another owner", "Say why.", forms.OwnerForm, service.hand_over),
    "due": Act("Put it off", "Say why.", forms.DayForm, service.put_off, has_day=True),
}
# The acts by the names of the rules that permit them.
OFFERED = {
    "begin_review": "review",
    "write_finding": "finding",
    "agree_action": "action",
    "close": "close",
    "reopen": "reopen",
}
TODAY_TOO = {service.agree_action, service.reopen, service.hand_over, service.put_off}


@require_GET
def signal(request: HttpRequest, signal_id: int) -> HttpResponse:
    require(request.user, "see_signals")
    row = _signal(request, signal_id, "see_signals")
    course = selector.course(row)
    today, settles = timezone.localdate(), may_settle(request, row)
    is_open = row.state != rules.CLOSED
    acts = [OFFERED[name] for name in course.acts] + (["owner", "due"] if is_open else [])
    return render(
        request,
        "analytics/signal.html",
        {
            "signal": row,
            "state": rules.WORDS[row.state],
            "said": said_of(row),
            "due": rules.late_words(row.due_on, today),
            "is_open": is_open,
            "is_late": is_open and rules.days_late(row.due_on, today) > 0,
            "checks": [
                {"subject": subject, "words": words, "done": course.checks.get(subject)}
                for subject, words in rules.SUBJECTS.items()
            ],
            "checked": set(rules.SUBJECTS) <= set(course.checks),
            "takes_checks": settles and row.state in (rules.RAISED, rules.CHECKS, rules.REVIEW),
            "steps": course.steps,
            "ways": [(name, ACTS[name].words) for name in acts] if settles else [],
        },
    )


@require_http_methods(["GET", "POST"])
def act(request: HttpRequest, signal_id: int, act: str) -> HttpResponse:
    require(request.user, "settle_signals")
    row = _signal(request, signal_id, "settle_signals")
    if act not in ACTS:
        raise Http404
    one, today = ACTS[act], timezone.localdate()
    initial: dict[str, Any] = {"version": row.version}
    if one.has_day:
        initial["due_on"] = today + timedelta(days=one.days_ahead)
    more = {"owners": monitoring.may_own(row.site, today)} if act == "owner" else {}
    form = one.form(request.POST or None, initial=initial, **more)

    def save() -> str:
        cleaned = dict(form.cleaned_data)
        dated = {"today": today} if one.do in TODAY_TOO else {}
        one.do(
            signal=row,
            by=request.user,
            now=timezone.now(),
            expected_version=cleaned.pop("version"),
            **cleaned,
            **dated,
        )
        return f"{row}: {rules.WORDS[row.state]}."

    return _form(request, row, form, one.words, one.lead, save)


@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, signal_id: int, subject: str) -> HttpResponse:
    require(request.user, "settle_signals")
    row = _signal(request, signal_id, "settle_signals")
    if subject not in rules.SUBJECTS:
        raise Http404
    facts = check_answers.to_facts(drift.checks_of_chart(row.design, _frames()), subject)
    form = forms.CheckForm(request.POST or None, initial={"version": row.version})

    def save() -> str:
        service.record_check(
            signal=row,
            subject=subject,
            verdict=form.cleaned_data["verdict"],
            finding=form.cleaned_data["finding"],
            facts=facts,
            by=request.user,
            now=timezone.now(),
            expected_version=form.cleaned_data["version"] or 0,
        )
        return "Recorded."

    lead = (
        f"The cases since {row.design.starts_on:%d %b %Y}, for case mix against the baseline of "
        f"{row.design.baseline_from:%d %b %Y} to {row.design.baseline_to:%d %b %Y}. The numbers are "
        "kept with what you find."
    )
    return _form(request, row, form, rules.SUBJECTS[subject], lead, save, facts)


@require_http_methods(["GET", "POST"])
def look(request: HttpRequest, site_id: int, subject: str) -> HttpResponse:
    """Record that the data of a site were looked at, without a signal."""
    require(request.user, "settle_signals")
    site = get_object_or_404(visible(request.user, Site, "settle_signals"), pk=site_id)
    if subject not in rules.SUBJECTS:
        raise Http404
    until = timezone.localdate()
    since = until - drift.LAST
    named = request.GET.get("definition", "")
    named = named if named in {one.id for one in definitions_of(LOSS)} else ""
    facts = check_answers.to_facts(
        drift.checks_of_site(site, _frames(), since, until, named), subject
    )
    form = forms.CheckForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def save() -> str:
            service.look_at_data(
                site=site,
                subject=subject,
                verdict=form.cleaned_data["verdict"],
                finding=form.cleaned_data["finding"],
                facts=facts,
                operated_from=since,
                operated_to=until,
                by=request.user,
                now=timezone.now(),
            )
            return f"Recorded for {site}."

        if try_to_save(request, form, save, dict)[0]:
            return redirect("signals")
    context = {
        "form": form,
        "heading": rules.SUBJECTS[subject],
        "lead": f"{site}, operated from {since:%d %b %Y} to {until:%d %b %Y}.",
        "facts": facts,
        "back": reverse("signals"),
    }
    return render(request, "analytics/signals_form.html", context)


def _form(
    request: HttpRequest,
    row: Signal,
    form: Any,
    heading: str,
    lead: str,
    save: Callable[[], str],
    facts: dict[str, str] | None = None,
) -> HttpResponse:
    """Show the form of one step; save it when it is sent, and show both where somebody was quicker."""
    conflict = None
    if request.method == "POST" and form.is_valid():

        def saved_now() -> dict[str, Any]:
            now = Signal.objects.select_related("owner").get(pk=row.pk)
            return {"version": now.version, "owner": now.owner, "due_on": now.due_on}

        done, conflict = try_to_save(request, form, save, saved_now)
        if done:
            return redirect("signals-one", row.pk)
    context = {
        "form": form,
        "heading": heading,
        "lead": lead,
        "of": f"{row}. {said_of(row)}.",
        "facts": facts,
        "conflict": conflict,
        "back": reverse("signals-one", args=[row.pk]),
    }
    return render(request, "analytics/signals_form.html", context, status=409 if conflict else 200)


def _signal(request: HttpRequest, signal_id: int, action: str) -> Signal:
    found: Signal = get_object_or_404(selector.signals(request.user, action), pk=signal_id)
    return found


def _frames() -> Any:
    return snapshots.frames_of(snapshots.current(now=timezone.now(), today=timezone.localdate()))
