from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.due import AttemptForm, BookForm, ConfirmForm, NotNeededForm
from followup.models import Clinic, Review
from followup.selectors import due as selector
from followup.selectors import due_lines, slots
from followup.selectors.sums import review_sums
from followup.selectors.visible import visible
from followup.services import contacts, reviews
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models.people import Person
from registry.selectors.visible import require, site_ids

PER_PAGE = 50
LONGEST_NUMBER = 18


@require_GET
def due(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    today = timezone.localdate()
    wanted = _filter(request)
    rows = selector.due_reviews(request.user, today, wanted)
    page = Paginator(selector.with_details(rows), PER_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "followup/due.html",
        {
            "page": page,
            "lines": due_lines.lines(list(page.object_list), today),
            "wanted": wanted,
            "shows": selector.SHOWS,
            "clinics": visible(request.user, Clinic, "see_due").filter(is_active=True),
            "surgeons": Person.objects.filter(
                memberships__role="surgeon",
                memberships__site__in=site_ids(request.user, "see_due"),
            ).distinct(),
            "query": _query_without_page(request),
            "today": today,
            "sums": review_sums(request.user),
            "may_book_at": site_ids(request.user, "book"),
            "may_note_at": site_ids(request.user, "record_contact"),
            "may_end_at": site_ids(request.user, "end_review"),
        },
    )


def _filter(request: HttpRequest) -> selector.DueFilter:
    def number(name: str) -> int | None:
        text = request.GET.get(name, "")
        return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else None

    show = request.GET.get("show", "all")
    return selector.DueFilter(
        show=show if show in selector.SHOWS else "all",
        week_of=_week(request.GET.get("week", "")),
        clinic_id=number("clinic"),
        surgeon_id=number("surgeon"),
    )


def _week(text: str) -> date | None:
    try:
        first = date.fromisoformat(text)
        return first if first + timedelta(days=6) else None
    except (ValueError, OverflowError):
        return None


def _query_without_page(request: HttpRequest) -> str:
    query = request.GET.copy()
    query.pop("page", None)
    return f"{query.urlencode()}&" if query else ""


def _review(request: HttpRequest, review_id: int, action: str) -> Review:
    require(request.user, action)
    rows = visible(request.user, Review, action).select_related(
        "step", "site", "procedure__injury__patient__identity"
    )
    # An erased patient cannot be acted for: nothing is left that says who it was.
    review: Review = get_object_or_404(
        rows, pk=review_id, procedure__injury__patient__identity__isnull=False
    )
    return review


def _act(
    request: HttpRequest,
    review: Review,
    form: Any,
    heading: str,
    button: str,
    do: Callable[[Any, int], str],
) -> HttpResponse:
    """Show one act on a review as a page or, to htmx, as a part; do it when it is sent."""
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, do(form.cleaned_data, form.version))
            return _back(request)
        except HoldfastError as fault:
            # What was tried is undone; the next try is over what is saved now.
            review.refresh_from_db()
            _refuse(form, fault, review)
    part = bool(getattr(request, "htmx", False))
    template = "followup/_review_act.html" if part else "followup/review_act.html"
    context = {
        "form": form,
        "review": review,
        "heading": heading,
        "button": button,
        "back": request.GET.get("back", ""),
    }
    return render(request, template, context)


def _refuse(form: Any, fault: HoldfastError, review: Review) -> None:
    if isinstance(fault, BadInput):
        form.refuse(fault)
    elif isinstance(fault, StaleVersion):
        form.add_error(None, f"{fault} It is now {review.get_state_display().lower()}.")
    else:
        form.add_error(None, str(fault))


def _back(request: HttpRequest) -> HttpResponse:
    """Return to the list as it was; to htmx, by a full load, so that counts and order are fresh."""
    answer = redirect("due")
    if getattr(request, "htmx", False):
        htmx = HttpResponse(status=204)
        htmx["HX-Refresh"] = "true"
        return htmx
    return answer


@require_http_methods(["GET", "POST"])
def book(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id, "book")
    today = timezone.localdate()
    form = BookForm(request.POST or None, slots=slots.free_slots(review, today))

    def do(cleaned: Any, version: int) -> str:
        clinic_id, on, at = cleaned["slot"]
        clinic = get_object_or_404(visible(request.user, Clinic, "book"), pk=clinic_id)
        slot = reviews.book(
            review=review,
            clinic=clinic,
            on=on,
            at=at,
            expected_version=version,
            by=request.user,
            now=timezone.now(),
            today=today,
        )
        return f"Booked: {review.procedure.injury.patient.identity}, {slot}."

    return _act(request, review, form, f"Book: {review.step}", "Book", do)


@require_http_methods(["GET", "POST"])
def attempt(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id, "record_contact")
    form = AttemptForm(request.POST or None)

    def do(cleaned: Any, version: int) -> str:
        contacts.record_attempt(review=review, by=request.user, now=timezone.now(), **cleaned)
        return f"Noted for {review.procedure.injury.patient.identity}."

    return _act(request, review, form, "A try at reaching the patient", "Note it", do)


@require_http_methods(["GET", "POST"])
def not_needed(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id, "end_review")
    form = NotNeededForm(request.POST or None)

    def do(cleaned: Any, version: int) -> str:
        reviews.mark_not_needed(
            review=review,
            reason=cleaned["reason"],
            expected_version=version,
            by=request.user,
            now=timezone.now(),
        )
        return f"{review.step} is marked as not needed."

    return _act(request, review, form, f"Not needed: {review.step}", "Mark as not needed", do)


@require_http_methods(["GET", "POST"])
def did_not_come(request: HttpRequest, review_id: int) -> HttpResponse:
    review = _review(request, review_id, "record_contact")
    form = ConfirmForm(request.POST or None)

    def do(cleaned: Any, version: int) -> str:
        reviews.miss(review=review, expected_version=version, by=request.user, now=timezone.now())
        return f"Noted: {review.procedure.injury.patient.identity} did not come."

    return _act(request, review, form, f"Did not come: {review.step}", "Did not come", do)
