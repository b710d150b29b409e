"""The follow-up's rows as FHIR reads them: seen by one person, and when any part last changed."""

from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.db.models.functions import Coalesce, Greatest

from followup.models.complications import Complication
from followup.models.films import Film, Reading
from followup.models.findings import ReadingFinding
from followup.models.motion import MotionExam
from followup.models.questionnaires import Answer, Invitation
from followup.models.readings import WantedReading, WantedState
from followup.models.reviews import OPEN_STATES, Appointment, Review, ReviewState
from followup.models.scores import Score
from followup.models.tasks import Task
from registry.models.constructs import Part
from registry.models.procedures import Procedure
from registry.selectors.fhir_rows import Seer, clinical, latest, moment
from registry.selectors.visible import rows_at


def films(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return films, those too that somebody may only read."""
    sites = [*seer.facts, *seer.own_films]
    found: QuerySet[Any] = (
        rows_at(Film, sites, voided=voided)
        .annotate(updated=Greatest(moment(Film), "injury__changed_at"))
        .select_related("injury__patient")
    )
    return found


def readings(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return readings; those that another superseded only together with the voided.

    Who is to read a film blind is not shown what others read on it, unless a copy is taken.
    """
    seen = _readings_seen(seer, voided=voided)
    if not voided:
        # As in selectors/films.py: said as 'not superseded' for the sake of SQLite's index.
        seen = seen.exclude(superseded_by__isnull=False)
    found: QuerySet[Any] = seen.annotate(
        updated=Greatest(moment(Reading), "film__changed_at", "film__injury__changed_at")
    ).select_related("film__injury__patient", "reader", "calibration_used", "supersedes")
    return found


def findings(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return what readers looked for on films, kind by kind, of the readings that are seen."""
    rows = ReadingFinding.everything if voided else ReadingFinding.objects
    of = readings(seer, voided=voided).values("pk")
    return (
        rows.filter(reading__in=of)
        .annotate(
            updated=Greatest(
                *(moment(ReadingFinding), "reading__changed_at", "reading__film__changed_at"),
                "reading__film__injury__changed_at",
            )
        )
        .select_related("reading__film__injury__patient", "reading__reader")
    )


def motion_exams(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return examinations of motion."""
    return _of_injury(clinical(MotionExam, seer, voided=voided))


def scores(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return completed instruments."""
    return _of_injury(clinical(Score, seer, voided=voided))


def not_obtained(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return reviews of which something could not be had, with the reason."""
    rows = clinical(Review, seer, voided=voided).exclude(not_obtainable={})
    rows = rows.annotate(told_on=Coalesce("attended_on", "due_on"))
    return _of_operation(rows).select_related("step", "procedure__injury__patient")


def complications(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return unwanted events with the parts of the construct that they may come from."""
    return (
        _of_operation(clinical(Complication, seer, voided=voided))
        .select_related("procedure__injury__patient", "procedure__construct")
        .prefetch_related(Prefetch("procedure__construct__parts", queryset=Part.objects.all()))
    )


def appointments(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return booked slots, for those who see patients."""
    rows = clinical(Appointment, seer, voided=voided, personal=True)
    found: QuerySet[Any] = rows.annotate(
        updated=Greatest("changed_at", "review__procedure__injury__changed_at")
    ).select_related("review__procedure__injury__patient", "review__step", "clinic", "site")
    return found


def tasks(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return things to be done, for those who see patients."""
    rows = clinical(Task, seer, voided=voided, personal=True)
    found: QuerySet[Any] = rows.annotate(updated=moment(Task)).select_related("patient")
    return found


def schedules(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return operations that have reviews, with these."""
    ours = Review.objects.filter(procedure=OuterRef("pk"))
    planned = Review.objects.select_related("step__version__protocol").order_by("due_on", "pk")
    last = latest(Review, procedure=OuterRef("pk"))
    found: QuerySet[Any] = (
        clinical(Procedure, seer, voided=voided)
        .filter(Exists(ours))
        .annotate(
            updated=Greatest(moment(Procedure), "injury__changed_at", Coalesce(last, "changed_at"))
        )
        .select_related("injury__patient")
        .prefetch_related(Prefetch("reviews", queryset=planned, to_attr="planned"))
    )
    return found


def with_open_reviews() -> QuerySet[Any]:
    """Return the keys of the operations that have a review which still waits."""
    waiting = [*OPEN_STATES, ReviewState.MISSED]
    return Review.objects.filter(state__in=waiting).values("procedure_id")


def answered(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return invitations to answer at home that were answered at least in part."""
    given = Answer.objects.filter(invitation=OuterRef("pk"))
    answers = Answer.objects.exclude(value="").order_by("pk")
    last = latest(Answer, invitation=OuterRef("pk"))
    found: QuerySet[Any] = (
        rows_at(Invitation, list(seer.facts))
        .filter(Exists(given))
        .annotate(
            updated=Greatest(
                *("made_at", "review__procedure__injury__changed_at"),
                Coalesce(last, "made_at"),
                Coalesce("completed_at", "made_at"),
                Coalesce("revoked_at", "made_at"),
            )
        )
        .annotate(authored=Coalesce("completed_at", "updated"))
        .select_related("review__procedure__injury__patient", "review__step")
        .prefetch_related(Prefetch("answers", queryset=answers, to_attr="given"))
    )
    return found


def itemised_scores(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return instruments whose answers are kept item by item."""
    return scores(seer, voided=voided).exclude(items={})


def _readings_seen(seer: Seer, *, voided: bool) -> QuerySet[Any]:
    rows = clinical(Reading, seer, voided=voided)
    if seer.taking:
        return rows
    taken = WantedReading.objects.filter(
        film=OuterRef("film"), reader=seer.user, state=WantedState.WANTED
    )
    own = rows_at(Reading, list(seer.own_films), voided=voided).filter(reader=seer.user)
    return rows.filter(Q(reader=seer.user) | ~Exists(taken)) | own


def _of_injury(rows: QuerySet[Any]) -> QuerySet[Any]:
    found: QuerySet[Any] = rows.annotate(
        updated=Greatest(moment(rows.model), "injury__changed_at")
    ).select_related("injury__patient")
    return found


def _of_operation(rows: QuerySet[Any]) -> QuerySet[Any]:
    found: QuerySet[Any] = rows.annotate(
        updated=Greatest(moment(rows.model), "procedure__injury__changed_at")
    )
    return found
