from collections.abc import Callable
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from followup.forms.due import AttemptForm, BookForm, ConfirmForm, NotNeededForm
from followup.forms.due_filters import wanted_of
from followup.models import Clinic, Review, SavedFilter
from followup.rules.contact import NextTry, in_words
from followup.selectors import due as selector
from followup.selectors import due_lines, slots
from followup.selectors.contacts import for_reviews
from followup.selectors.sums import last_night
from followup.selectors.tasks import open_tasks
from followup.selectors.visible import visible
from followup.services import contacts, reviews
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models.people import Person
from registry.selectors.visible import require, site_ids
from registry.views.patients import log_list, log_read

PER_PAGE = 50


@require_GET
def due(request: HttpRequest) -> HttpResponse:
    require(request.user, "see_due")
    own = list(SavedFilter.objects.filter(person=request.user.pk))
    start = next((one for one in own if one.is_start), None)
    if start is not None and not request.GET:
        return redirect(f"{reverse('due')}?{start.query}")
    today = timezone.localdate()
    wanted = wanted_of(request.GET)
    found = selector.due_list(request.user, today, wanted)
    shown_in_all, left_out = found.numbers()
    pages = Paginator(found.rows.values_list("pk", flat=True), PER_PAGE)
    pages.count = shown_in_all
    page = pages.get_page(request.GET.get("page"))
    shown = list(selector.page_of(found.rows, list(page.object_list)))
    log_list(request, [review.procedure.injury.patient for review in shown])
    return render(
        request,
        "followup/due.html",
        {
            "page": page,
            "lines": due_lines.lines(shown, today),
            "left_out": left_out,
            "lost": replace(wanted, show="unreachable").address(),
            "wanted": wanted,
            "shows": selector.SHOWS,
            "clinics": visible(request.user, Clinic, "see_due").filter(is_active=True),
            "surgeons": surgeons_of(request.user),
            "query": _query_without_page(request),
            "filters": own,
            "here": wanted.address(),
            "tasks_open": open_tasks(request.user).count(),
            "night": last_night(request.user),
            "may_book_at": site_ids(request.user, "book"),
            "may_note_at": site_ids(request.user, "record_contact"),
            "may_end_at": site_ids(request.user, "end_review"),
        },
    )


def surgeons_of(user: Any) -> Any:
    return Person.objects.filter(
        memberships__role="surgeon", memberships__site__in=site_ids(user, "see_due")
    ).distinct()


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
    **more: Any,
) -> HttpResponse:
    """Show one act on a review as a page or, to htmx, as a part; do it when it is sent."""
    log_read(request, review.procedure.injury.patient)
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
        "back": _address(request),
        **more,
    }
    return render(request, template, context)


def _refuse(form: Any, fault: HoldfastError, review: Review) -> None:
    if isinstance(fault, BadInput):
        form.refuse(fault)
    elif isinstance(fault, StaleVersion):
        form.add_error(None, f"{fault} It is now {review.get_state_display().lower()}.")
    else:
        form.add_error(None, str(fault))


def _address(request: HttpRequest) -> str:
    """Return the view of the list from which somebody came."""
    return wanted_of(QueryDict(request.GET.get("back", "")[:300])).address()


def _back(request: HttpRequest) -> HttpResponse:
    """Return to the list as it was; to htmx, by a full load, so that counts and order are fresh."""
    if getattr(request, "htmx", False):
        htmx = HttpResponse(status=204)
        htmx["HX-Refresh"] = "true"
        return htmx
    came_from = "back" in request.GET
    return redirect(f"{reverse('due')}?{_address(request)}" if came_from else reverse("due"))


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
    known, proposal = _next_try(review)
    form = AttemptForm(request.POST or None, initial={"means": proposal.means or None})

    def do(cleaned: Any, version: int) -> str:
        contacts.record_attempt(review=review, by=request.user, now=timezone.now(), **cleaned)
        _, after = _next_try(review)
        return f"Noted for {review.procedure.injury.patient.identity}. {in_words(after)}."

    heading = "A try at reaching the patient"
    more = {"contacts": known, "next_try": in_words(proposal)}
    return _act(request, review, form, heading, "Note it", do, **more)


def _next_try(review: Review) -> tuple[Any, NextTry]:
    known, proposals = for_reviews([review], timezone.localdate())
    return known[review.pk], proposals[review.pk]


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
