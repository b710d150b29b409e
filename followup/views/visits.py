from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from followup.forms.visit import VisitForm
from followup.models import Review
from followup.rules import requirements
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import answers, milestones
from followup.selectors import clinic as selector
from followup.services import completion, visits
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models import Construct, Injury
from registry.models.injuries import InjuryKind
from registry.rules import construct_drawing
from registry.rules.construct_words import in_words
from registry.selectors.visible import require, site_ids
from registry.services import audit, construct_checks


@require_http_methods(["GET", "POST"])
def visit(request: HttpRequest, review_id: int) -> HttpResponse:
    review = selector.open_review(request.user, review_id)
    if review is None:
        require(request.user, "see_clinic")
        raise Http404
    if request.method == "POST":
        require(request.user, "record_visit", review.site_id)
    injury = review.procedure.injury
    earlier = selector.earlier_of(injury)
    wanted = completion.wanted_by(review)
    form = VisitForm(
        request.POST or None,
        initial={"version": review.version, "visited_on": timezone.localdate()},
        wanted=requirements.items(wanted),
        free_items=wanted.free_items,
        last=selector.last_values(earlier, injury.side),
    )
    conflict: dict[str, Any] | None = None
    if request.method == "POST" and form.is_valid():
        try:
            _save(request, review, form)
            messages.success(request, f"Saved: {injury.patient.identity}, {review.step}.")
            return redirect("patient", key=injury.patient.key)
        except StaleVersion as fault:
            review.refresh_from_db()
            conflict = _conflict(fault, review, form)
            earlier = selector.earlier_of(injury)
        except BadInput as fault:
            form.refuse(_by_field(fault))
        except HoldfastError as fault:
            form.add_error(None, str(fault))
    if request.method == "GET":
        audit.record_read(by=request.user, patient=injury.patient, now=timezone.now(), page="visit")
    status = 409 if conflict else 200
    context = _context(review, earlier, form, conflict)
    context["answered"] = answers.of_injuries(request.user, [injury.pk])
    context["may_record"] = review.site_id in site_ids(request.user, "record_visit")
    return render(request, "followup/visit.html", context, status=status)


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


def _by_field(fault: BadInput) -> BadInput:
    """Name the form's own fields where the rows call them otherwise."""
    names = {
        "taken_on": "film_taken_on",
        "detected_on": "visited_on",
        "examined_on": "visited_on",
        "view": "film_view",
    }
    return BadInput({names.get(name, name): text for name, text in fault.faults.items()})


def _conflict(fault: StaleVersion, review: Review, form: VisitForm) -> dict[str, Any]:
    """Show what is saved now beside what was typed, and take the newer version for the next try."""
    form.data = form.data.copy()
    form.data["version"] = str(review.version)
    differences = [
        {"label": "State", "theirs": review.get_state_display(), "yours": "Attended"},
        {
            "label": "Day of the visit",
            "theirs": review.attended_on or "none",
            "yours": form.cleaned_data["visited_on"],
        },
        {
            "label": "What next",
            "theirs": review.next_step_note or "none",
            "yours": form.cleaned_data["next_step_note"] or "none",
        },
        {
            "label": "Saved by",
            "theirs": f"{review.changed_by}, {timezone.localtime(review.changed_at):%H:%M}",
            "yours": "not saved",
        },
    ]
    return {"message": str(fault), "differences": differences}


def _context(
    review: Review, earlier: selector.Earlier, form: VisitForm, conflict: dict[str, Any] | None
) -> dict[str, Any]:
    construct = getattr(review.procedure, "construct", None)
    checks = (
        construct_checks.results_of(construct, review.procedure) if construct is not None else ()
    )
    other = [form[f"other_{name}"] for name in MOTION_FIELDS]
    passive = [form[f"passive_{name}"] for name in MOTION_FIELDS[:3]]
    reasons = [form[name] for name in form.fields if name.startswith("why_no_")]
    assessed = milestones.of_injury(review.procedure.injury, earlier.motion)
    return {
        "review": review,
        "injury": review.procedure.injury,
        "construct": construct,
        "built": "" if construct is None else in_words(construct),
        "drawing": None if construct is None else _drawn(construct, review.procedure.injury),
        "departures": [check for check in checks if check.verdict == "departure"],
        "earlier": earlier,
        "assessed_on": max(assessed, default=None),
        "assessments": milestones.latest(assessed),
        "differences": milestones.latest(
            milestones.against_other_side(review.procedure.injury, earlier.motion)
        ),
        "form": form,
        "conflict": conflict,
        "film_fields": [form[name] for name in form.fields if name in FILM_FIELDS],
        "motion_fields": [form[name] for name in MOTION_FIELDS],
        "other_motion_fields": other,
        "passive_fields": passive,
        "passive_open": any(_is_filled(field) for field in passive),
        "other_open": any(_is_filled(field) for field in other),
        "by_item": BY_ITEM,
        "score_fields": [form[code] for code in form.scores],
        "harm_fields": [
            form[name]
            for name in form.fields
            if name.startswith(("complication_", "asked_", "wound_"))
        ],
        "own_fields": [form[name] for name in form.fields if name.startswith("free_")],
        "reason_fields": reasons,
        "reasons_open": any(_is_filled(field) for field in reasons),
    }


def _drawn(construct: Construct, injury: Injury) -> construct_drawing.ConstructDrawing:
    return construct_drawing.drawing(
        construct,
        side=injury.side,
        family=construct.construct_type.family,
        fractured=injury.kind == InjuryKind.LATERAL_CLAVICLE,
    )


def _is_filled(field: Any) -> bool:
    """Say whether a folded field must be in sight: it holds what was typed, or a refusal."""
    return bool(field.errors or field.value())


# Instruments of more than one answer, which can be entered by the numbers of their items.
BY_ITEM = [(code, row.name) for code, row in INSTRUMENTS.items() if len(row.items) > 1]
FILM_FIELDS = (
    "film_view",
    "film_taken_on",
    "film_posture",
    "film_calibration",
    "film_both_sides",
    "ccd_injured_mm",
    "ccd_other_mm",
    "ccd_side_ratio_pct",
    "translation_pct",
    "union",
    "hardware",
)
MOTION_FIELDS = ("flexion_deg", "abduction_deg", "external_rotation_deg", "internal_rotation")
