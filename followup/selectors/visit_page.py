"""What the page of one visit shows beside its form: what was done, and what was found before."""

from datetime import date
from typing import Any

from followup.models.reviews import Review
from followup.selectors import film_strip, milestones, visit_courses
from followup.selectors.clinic import Earlier
from registry.models.constructs import Construct
from registry.models.injuries import Injury, InjuryKind
from registry.models.procedures import Procedure, ProcedureKind
from registry.rules.construct_drawing import ConstructDrawing, drawing
from registry.rules.construct_words import in_words

FIXATION = ProcedureKind.FIXATION
TAKING_OUT = (ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION)


def built(procedure: Procedure, earlier: Earlier) -> dict[str, Any]:
    """Return what was implanted in words and as a drawing; nothing where it is not recorded.

    A review after a removal is about what was taken out: it shows that. No query.
    """
    by_id = {one.pk: one for one in earlier.procedures}
    whose = by_id.get(procedure.pk, procedure)
    if procedure.kind == ProcedureKind.IMPLANT_REMOVAL:
        whose = by_id.get(procedure.revises_id or 0, whose)
    construct: Construct | None = getattr(whose, "construct", None)
    if construct is None:
        return {"construct": None, "built": "", "drawing": None}
    return {
        "construct": construct,
        "built": in_words(construct),
        "drawing": _drawn(construct, procedure.injury),
    }


def _drawn(construct: Construct, injury: Injury) -> ConstructDrawing:
    return drawing(
        construct,
        side=injury.side,
        family=construct.construct_type.family,
        fractured=injury.kind == InjuryKind.LATERAL_CLAVICLE,
    )


def before(review: Review, earlier: Earlier, today: date) -> dict[str, Any]:
    """Return what was found before, as pictures and in words; two queries more than `earlier`."""
    injury, operated_on = review.procedure.injury, review.procedure.performed_on
    reviews = milestones.reviews_of(injury)
    assessed = milestones.assessments(injury, earlier.motion, reviews)
    at: dict[str, Any] = {"operated_on": operated_on, "today": today}
    courses = visit_courses.scores_of(earlier.scores, **at)
    return {
        "earlier": earlier,
        "strip": film_strip.strip_of(
            earlier.films, operated_on, baseline_days=film_strip.baseline_days_of(review.site)
        ),
        "motion_courses": visit_courses.motion_of(injury, earlier.motion, reviews, **at),
        "rotation": visit_courses.rotation_of(injury, earlier.motion),
        "scores": [(*found, one) for found, one in zip(earlier.scores, courses, strict=True)],
        "assessed_on": max(assessed, default=None),
        "assessments": milestones.latest(assessed),
        "differences": milestones.latest(milestones.against_other_side(injury, earlier.motion)),
        "taken_out": _taken_out(review.procedure, earlier),
        "index_id": next((one.pk for one in earlier.procedures if one.kind == FIXATION), None),
    }


def _taken_out(procedure: Procedure, earlier: Earlier) -> Procedure | None:
    """Return the operation that took out what this one put in; a removal itself is that operation."""
    if procedure.kind == ProcedureKind.IMPLANT_REMOVAL:
        return procedure
    later = (one for one in earlier.procedures if one.revises_id == procedure.pk)
    return next((one for one in later if one.kind in TAKING_OUT), None)
