"""Whose hardware needs a decision, loudest first, and why."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery

from followup.models.hardware import HardwareDecision
from followup.rules import prompts
from followup.selectors.films import current_readings
from followup.selectors.visible import visible
from registry.models.patients import PatientStatus
from registry.selectors.visible import Viewer

JUDGED = ("none", "partial", "united")


@dataclass(frozen=True)
class HardwareLine:
    """One open question in words."""

    decision: HardwareDecision
    name: str
    sentence: str
    loudness: prompts.Loudness


def open_decisions(user: Viewer, today: date, *, resting: bool = False) -> "QuerySet[Any]":
    """Return the open questions that a person may see; those resting until a day only on request."""
    judged = current_readings().filter(union__in=JUDGED)
    union = judged.filter(film__injury=OuterRef("procedure__injury")).order_by(
        "-film__taken_on", "-id"
    )
    rows = (
        visible(user, HardwareDecision, "see_hardware")
        .filter(
            state__in=sorted(prompts.OPEN),
            procedure__injury__patient__status=PatientStatus.ACTIVE,
        )
        .annotate(
            union=Subquery(union.values("union")[:1]),
            union_on=Subquery(union.values("film__taken_on")[:1]),
        )
        .select_related(
            "procedure__construct__construct_type", "procedure__injury__patient__identity"
        )
    )
    if not resting:
        rows = rows.exclude(Q(state="deferred", deferred_until__gt=today))
    # Constructs that are meant to come out stand first, the longest in place before the others.
    ordered: QuerySet[Any] = rows.order_by(
        "-procedure__construct__construct_type__planned_removal",
        "procedure__performed_on",
        "id",
    )
    return ordered


def lines(decisions: list[Any], today: date) -> list[HardwareLine]:
    """Return the lines of one page."""
    return [line_of(decision, today) for decision in decisions]


def line_of(decision: Any, today: date) -> HardwareLine:
    """Say of one question why it is open and how much it insists."""
    construct = getattr(decision.procedure, "construct", None)
    kind = construct.construct_type if construct is not None else None
    facts = prompts.PromptFacts(
        today=today,
        performed_on=decision.procedure.performed_on,
        state=decision.state,
        raised_on=decision.raised_on,
        opens_weeks=kind.removal_opens_weeks if kind else None,
        due_weeks=kind.removal_due_weeks if kind else None,
        deferred_until=decision.deferred_until,
        wish_on=decision.wish_on,
    )
    return HardwareLine(
        decision=decision,
        name=str(decision.procedure.injury.patient.identity),
        sentence=prompts.sentence(
            facts,
            because=decision.get_raised_because_display(),
            union=decision.union,
            union_on=decision.union_on,
        ),
        loudness=prompts.loudness(facts),
    )
