from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.visit import VisitForm
from followup.models import HardwareDecision, Review
from followup.rules import prompts, requirements
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import answers, drafts, visit_page
from followup.selectors import clinic as selector
from followup.services import completion, visits
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.selectors.visible import require, site_ids
from registry.services import audit, construct_checks

# The form's own names where the rows call them otherwise.
NAMES = {
    "taken_on": "film_taken_on",
    "detected_on": "visited_on",
    "examined_on": "visited_on",
    "view": "film_view",
    "wish_on": "decision_wish_on",
    "deferred_until": "decision_deferred_until",
    "reason": "decision_reason",
    "state": "decision_state",
}
# Instruments of more than one answer, which can be entered by the numbers of their items.
BY_ITEM = [(code, row.name) for code, row in INSTRUMENTS.items() if len(row.items) > 1]


@require_http_methods(["GET", "POST"])
def visit(request: HttpRequest, review_id: int) -> HttpResponse:
    review = selector.open_review(request.user, review_id)
    if review is None:
        require(request.user, "see_clinic")
        raise Http404
    if request.method == "POST":
        require(request.user, "record_visit", review.site_id)
    injury = review.procedure.injury
    may_record = review.site_id in site_ids(request.user, "record_visit")
    earlier = selector.earlier_of(injury)
    draft = drafts.draft_of(request.user, review) if may_record else None
    form = _form(request, review, earlier, draft)
    conflict: dict[str, Any] | None = None
    if request.method == "POST" and form.is_valid():
        try:
            _save(request, review, form)
            messages.success(request, f"Saved: {injury.patient.identity}, {review.step}.")
            return redirect("patient", key=injury.patient.key)
        except StaleVersion as fault:
            review.refresh_from_db()
            earlier = selector.earlier_of(injury)
            conflict = _conflict(fault, review, form, _open_question(review, earlier))
        except BadInput as fault:
            form.refuse(BadInput({NAMES.get(n, n): text for n, text in fault.faults.items()}))
        except HoldfastError as fault:
            form.add_error(None, str(fault))
    if request.method == "GET":
        audit.record_read(by=request.user, patient=injury.patient, now=timezone.now(), page="visit")
    context = {
        **_about(review),
        **visit_page.built(review.procedure, earlier),
        **visit_page.before(review, earlier, timezone.localdate()),
        **_fields(form),
        "form": form,
        "conflict": conflict,
        "draft": draft if request.method == "GET" else None,
        "answered": answers.of_injuries(request.user, [injury.pk]),
        "may_record": may_record,
        "may_see_films": review.site_id in site_ids(request.user, "see_films"),
        "may_see_case": review.site_id in site_ids(request.user, "see_cases"),
    }
    return render(request, "followup/visit.html", context, status=409 if conflict else 200)


def _form(request: HttpRequest, review: Review, earlier: selector.Earlier, draft: Any) -> VisitForm:
    today = timezone.localdate()
    typed = draft.typed if draft is not None else {}
    wanted = completion.wanted_by(review)
    question = _open_question(review, earlier)
    may_decide = review.site_id in site_ids(request.user, "decide_hardware")
    possible = None
    if question is not None and may_decide:
        possible = (prompts.NEXT[question.state], question.version)
    return VisitForm(
        request.POST or None,
        initial={"visited_on": today, **typed, "version": review.version},
        wanted=requirements.items(wanted),
        free_items=wanted.free_items,
        last=selector.last_values(earlier, review.procedure.injury.side),
        today=today,
        operated_on=review.procedure.performed_on,
        decision=possible,
    )


def _open_question(review: Review, earlier: selector.Earlier) -> HardwareDecision | None:
    """Return the open question about what this review's operation put in."""
    mine = (one for one in earlier.decisions if one.procedure_id == review.procedure_id)
    return next((one for one in mine if one.state in prompts.OPEN), None)


def _save(request: HttpRequest, review: Review, form: VisitForm) -> None:
    visits.save_visit(
        review=review,
        visited_on=form.cleaned_data["visited_on"],
        findings=form.findings(review.procedure.injury.side),
        expected_version=form.cleaned_data["version"],
        by=request.user,
        now=timezone.now(),
        today=timezone.localdate(),
    )


def _conflict(
    fault: StaleVersion, review: Review, form: VisitForm, question: HardwareDecision | None
) -> dict[str, Any]:
    """Show what is saved now beside what was typed, and take the newer version for the next try."""
    form.data = form.data.copy()
    form.data["version"] = str(review.version)
    if question is not None:
        form.data["decision_version"] = str(question.version)
    hardware = "no open question" if question is None else str(question)
    given = form.cleaned_data
    differences = [
        {"label": "State", "theirs": review.get_state_display(), "yours": "Attended"},
        {
            "label": "Day of the visit",
            "theirs": review.attended_on or "none",
            "yours": given["visited_on"],
        },
        {
            "label": "What next",
            "theirs": review.next_step_note or "none",
            "yours": given["next_step_note"] or "none",
        },
        {
            "label": "Hardware",
            "theirs": hardware,
            "yours": given.get("decision_state") or "no decision",
        },
        {
            "label": "Saved by",
            "theirs": f"{review.changed_by}, {timezone.localtime(review.changed_at):%H:%M}",
            "yours": "not saved",
        },
    ]
    return {"message": str(fault), "differences": differences}


def _about(review: Review) -> dict[str, Any]:
    construct = getattr(review.procedure, "construct", None)
    checks = (
        construct_checks.results_of(construct, review.procedure) if construct is not None else ()
    )
    return {
        "review": review,
        "injury": review.procedure.injury,
        "departures": [check for check in checks if check.verdict == "departure"],
    }


def _fields(form: VisitForm) -> dict[str, Any]:
    """Group the fields for the page; a folded part with something in it is open."""
    groups = {name: [form[field] for field in fields] for name, fields in form.groups().items()}
    opened = {f"{name}_open": any(map(_is_filled, found)) for name, found in groups.items()}
    lines = [[form[name] for name in names] for names in form.more_harms()]
    return {
        **groups,
        **opened,
        "harm_lines": [(line, any(map(_is_filled, line))) for line in lines],
        "by_item": BY_ITEM,
    }


def _is_filled(field: Any) -> bool:
    """Say whether a folded field must be in sight: it holds what was typed, or a refusal."""
    return bool(field.errors) or field.value() not in ("", None, False, field.initial)
