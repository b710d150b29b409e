"""Of whom nothing was heard for longer than their site keeps records: the list that a person decides on."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Exists, OuterRef, QuerySet

from followup.models.complications import Complication
from followup.models.contacts import ContactAttempt
from followup.models.films import Film
from followup.models.hardware import HardwareDecision
from followup.models.motion import MotionExam
from followup.models.questionnaires import Answer
from followup.models.replies import Reply
from followup.models.reviews import Appointment, Review
from followup.models.scores import Score
from registry.models.injuries import Injury
from registry.models.patients import Patient, PatientSite
from registry.models.procedures import Procedure
from registry.models.retention import RetentionHold, RetentionKind, RetentionRule
from registry.models.sites import Site
from registry.rules import retention as rules
from registry.selectors import retention as selector
from registry.selectors.visible import Viewer, site_ids, visible

ACTION = "settle_retention"
PER_PAGE = 50
PATIENTS = rules.KINDS[RetentionKind.PATIENTS]
# What shows that somebody was heard of, or is still followed: the rows, their way to the patient, the day.
# Anything planned for later counts as well.
HEARD: tuple[tuple[Any, str, str], ...] = (
    (Procedure.objects, "injury__patient", "performed_on__gte"),
    (Injury.objects, "patient", "recorded_at__date__gte"),
    (Review.objects, "procedure__injury__patient", "due_on__gte"),
    (Review.objects, "procedure__injury__patient", "attended_on__gte"),
    (ContactAttempt.objects, "patient", "tried_at__date__gte"),
    (Answer.objects, "invitation__review__procedure__injury__patient", "changed_at__date__gte"),
    (Reply.objects, "patients", "received_at__date__gte"),
    (Film.objects, "injury__patient", "taken_on__gte"),
    (Score.objects, "injury__patient", "taken_on__gte"),
    (MotionExam.objects, "injury__patient", "examined_on__gte"),
    (Complication.objects, "procedure__injury__patient", "detected_on__gte"),
    (HardwareDecision.objects, "procedure__injury__patient", "decided_on__gte"),
    (Appointment.objects, "review__procedure__injury__patient", "on__gte"),
)


@dataclass(frozen=True)
class Past:
    """A site whose rule says so, and the day before which its patients are past their time."""

    site: Site
    rule: RetentionRule
    before: date


def sites_past(user: Viewer, today: date) -> list[Past]:
    """Return the sites at which a person decides, with the rule about patients of each that has one."""
    ruled = selector.in_force(RetentionKind.PATIENTS)
    return [
        Past(ruled[key].site, ruled[key], rules.before(PATIENTS, ruled[key].keep, today))
        for key in site_ids(user, ACTION)
        if key in ruled
    ]


def past_their_time(user: Viewer, past: Past, today: date) -> QuerySet[Any]:
    """Return the patients of a site whose records are past their time, those held left out.

    Heard of anywhere counts. Who is at another site too is listed only where the person decides there
    as well, and under the site that keeps longest: no site erases what another has to keep.
    """
    ruled = selector.in_force(RetentionKind.PATIENTS)
    mine = set(site_ids(user, ACTION))
    shorter = [key for key, rule in ruled.items() if key in mine and rule.keep <= past.rule.keep]
    elsewhere = PatientSite.objects.filter(patient=OuterRef("pk")).exclude(site_id__in=shorter)
    rows = visible(user, Patient, ACTION).filter(
        pk__in=PatientSite.objects.filter(site=past.site).values("patient_id"),
        recorded_at__date__lt=past.before,
        identity__isnull=False,
    )
    rows = rows.filter(~Exists(elsewhere)).exclude(pk__in=selector.held_patients(today))
    for heard, way, since in HEARD:
        said = heard.filter(**{way: OuterRef("pk"), since: past.before})
        rows = rows.filter(~Exists(said))
    return rows.order_by("recorded_at", "pk")


def page_of(rows: QuerySet[Any], number: str | None) -> "Page[Any]":
    """Return one page of a list."""
    return Paginator(rows, PER_PAGE).get_page(number)


def holds(user: Viewer, today: date) -> QuerySet[Any]:
    """Return what is held at the sites at which a person decides, that which ends first on top."""
    here = site_ids(user, ACTION)
    rows = selector.standing_holds(today).filter(site__in=here)
    found: QuerySet[Any] = rows.select_related("patient", "made_by", "site")
    return found.order_by("until", "pk")


def hold_on(patient: Patient, today: date) -> RetentionHold | None:
    """Return what keeps a patient's records in spite of the rule, None where nothing does."""
    found: RetentionHold | None = selector.standing_holds(today).filter(patient=patient).first()
    return found


def decides_for(user: Viewer, patient: Patient) -> Collection[int]:
    """Return the sites of a patient at which a person does not decide."""
    held = set(patient.at_sites.values_list("site_id", flat=True)) | {patient.site_id}
    return held - set(site_ids(user, ACTION))
