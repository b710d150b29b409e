from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from followup.forms.due_bulk import ClinicDayForm, NoChoiceForm, ReasonForm, keys_of, wishes_of
from followup.selectors import due_bulk as selector
from followup.selectors.due_bulk import Planned
from followup.services import bulk
from followup.services.bulk import Outcome, Wish
from registry.errors import BadInput
from registry.selectors.visible import require

Rows = dict[int, Any]


@dataclass(frozen=True)
class Act:
    """One thing done to several reviews: what is asked, shown before, and done."""

    action: str
    heading: str
    button: str
    form: Any
    preview: Callable[[Any, Sequence[Any]], tuple[list[Planned], str]]
    do: Callable[[Any, Rows, list[Wish]], list[Outcome]]


@require_POST
def book(request: HttpRequest) -> HttpResponse:
    require(request.user, "book")
    today = timezone.localdate()
    chosen = "clinic" in request.POST
    form = ClinicDayForm(
        request.POST if chosen else None, clinics=selector.clinics_for(request.user)
    )

    def preview(cleaned: Any, rows: Sequence[Any]) -> tuple[list[Planned], str]:
        return selector.clinic_day(rows, cleaned["clinic"], cleaned["day"], today)

    def do(cleaned: Any, rows: Rows, wishes: list[Wish]) -> list[Outcome]:
        return bulk.book_list(
            rows=rows,
            wishes=wishes,
            clinic=cleaned["clinic"],
            on=cleaned["day"],
            by=request.user,
            now=timezone.now(),
            today=today,
        )

    act = Act("book", "Book a clinic list", "Book them", form, preview, do)
    return _several(request, act)


@require_POST
def remind(request: HttpRequest) -> HttpResponse:
    require(request.user, "record_contact")
    today = timezone.localdate()

    def preview(cleaned: Any, rows: Sequence[Any]) -> tuple[list[Planned], str]:
        return selector.reminders_of(rows, today), ""

    def do(cleaned: Any, rows: Rows, wishes: list[Wish]) -> list[Outcome]:
        return bulk.remind_several(
            rows=rows, wishes=wishes, by=request.user, now=timezone.now(), today=today
        )

    form = NoChoiceForm(request.POST)
    return _several(
        request, Act("record_contact", "Send reminders", "Send them", form, preview, do)
    )


@require_POST
def not_needed(request: HttpRequest) -> HttpResponse:
    require(request.user, "end_review")
    form = ReasonForm(request.POST if "reason" in request.POST else None)

    def preview(cleaned: Any, rows: Sequence[Any]) -> tuple[list[Planned], str]:
        return selector.endings_of(rows), ""

    def do(cleaned: Any, rows: Rows, wishes: list[Wish]) -> list[Outcome]:
        return bulk.end_several(
            rows=rows,
            wishes=wishes,
            reason=cleaned["reason"],
            by=request.user,
            now=timezone.now(),
        )

    act = Act("end_review", "Not needed", "Mark them as not needed", form, preview, do)
    return _several(request, act)


def _several(request: HttpRequest, act: Act) -> HttpResponse:
    """Ask what is needed, show what would become of each, and do it when that was confirmed."""
    every = request.POST.get("every") == "yes"
    keys = keys_of(request.POST.getlist("shown" if every else "row"))
    wishes = wishes_of(request.POST.getlist("wish"))
    confirmed = "confirm" in request.POST and bool(wishes)
    reviews = selector.ticked(
        request.user,
        act.action,
        [one.key for one in wishes] if confirmed else keys,
        timezone.localdate(),
    )
    if not reviews:
        messages.warning(request, "Tick the rows that are meant first.")
        return redirect("due")
    context: dict[str, Any] = {"act": act, "form": act.form, "reviews": reviews}
    if act.form.is_valid():
        if confirmed:
            return _done(request, act, {one.pk: one for one in reviews}, wishes)
        planned, refusal = act.preview(act.form.cleaned_data, reviews)
        context |= {"planned": planned, "refusal": refusal}
        context["ready"] = sum(bool(one.value) for one in planned)
    return render(request, "followup/due_several.html", context)


def _done(request: HttpRequest, act: Act, rows: Rows, wishes: list[Wish]) -> HttpResponse:
    try:
        outcomes = act.do(act.form.cleaned_data, rows, wishes)
    except BadInput as fault:
        messages.error(request, str(fault))
        return redirect("due")
    done = sum(one.done for one in outcomes)
    context = {"act": act, "outcomes": outcomes, "done": done, "refused": len(outcomes) - done}
    return render(request, "followup/due_several_done.html", context)
