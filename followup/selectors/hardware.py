"""Whose hardware needs a decision, loudest first, and why."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import (
    BooleanField,
    Case,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)

from followup.models.hardware import HardwareDecision, HardwareState, HardwareStep
from followup.models.scores import Score
from followup.rules import pain_course, prompts
from followup.rules.prompts import ACT_AFTER_DAYS, ASK_AFTER_DAYS, Loudness
from followup.selectors.films import current_readings
from followup.selectors.visible import visible
from registry.models.constructs import ConstructType
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure
from registry.selectors.visible import Viewer

JUDGED = ("none", "partial", "united")


@dataclass(frozen=True)
class HardwareLine:
    """One question in words, with the pain of its patient, oldest score first."""

    decision: HardwareDecision
    name: str
    sentence: str
    loudness: prompts.Loudness
    pain: tuple[pain_course.Pain, ...] = ()

    @property
    def pain_words(self) -> str:
        """Say the last pain scores."""
        return pain_course.in_words(self.pain)

    @property
    def loudness_words(self) -> str:
        """Say how much it insists."""
        return prompts.LOUDNESS_WORDS[self.loudness]


def open_decisions(user: Viewer, today: date, *, resting: bool = False) -> "QuerySet[Any]":
    """Return the open questions that a person may see, loudest first.

    Those resting until a day are left out unless asked for. Of equally loud ones, constructs that
    are meant to come out stand first, then what was asked for longest, then the longest in place.
    """
    rows = every_decision(user).filter(
        state__in=sorted(prompts.OPEN),
        procedure__injury__patient__status=PatientStatus.ACTIVE,
    )
    rows = placed(rows, today)
    if not resting:
        rows = rows.exclude(state=HardwareState.DEFERRED, deferred_until__gt=today)
    ordered: QuerySet[Any] = rows.order_by(
        "-loudness",
        # Spelled out, because databases disagree about where what has no construct stands.
        Case(
            When(procedure__construct__construct_type__planned_removal=True, then=Value(0)),
            default=Value(1),
        ),
        "waiting_since",
        "procedure__performed_on",
        "id",
    )
    return ordered


def every_decision(user: Viewer) -> "QuerySet[Any]":
    """Return all questions that a person may see, with the film that judged union last.

    An erased patient has no page: nothing is left that says who it was.
    """
    judged = current_readings().filter(union__in=JUDGED)
    union = judged.filter(film__injury=OuterRef("procedure__injury")).order_by(
        "-film__taken_on", "-id"
    )
    rows: QuerySet[Any] = (
        visible(user, HardwareDecision, "see_hardware")
        .filter(procedure__injury__patient__identity__isnull=False)
        .annotate(
            union=Subquery(union.values("union")[:1]),
            union_on=Subquery(union.values("film__taken_on")[:1]),
            union_film=Subquery(union.values("film_id")[:1]),
        )
        .select_related(
            "procedure__construct__construct_type", "procedure__injury__patient__identity"
        )
    )
    return rows


def placed(rows: "QuerySet[Any]", today: date) -> "QuerySet[Any]":
    """Give each question its loudness, and whether its construct is past its removal time.

    The CASE expression copies `followup.rules.prompts.loudness`.
    """
    silent = ~Q(state__in=sorted(prompts.OPEN))
    rests = Q(state=HardwareState.DEFERRED, deferred_until__gt=today)
    arranged = Q(state=HardwareState.PLANNED, wish_on__gte=today)
    marked: QuerySet[Any] = rows.annotate(
        past_due=Case(
            When(_past_due(today), then=Value(True)),
            default=Value(False),
            output_field=BooleanField(),
        )
    ).annotate(
        loudness=Case(
            When(silent | rests, then=Value(int(Loudness.RESTING))),
            When(past_due=True, then=Value(int(Loudness.ACT))),
            When(arranged, then=Value(int(Loudness.NOTICE))),
            When(
                waiting_since__lte=today - timedelta(days=ACT_AFTER_DAYS),
                then=Value(int(Loudness.ACT)),
            ),
            When(
                waiting_since__lte=today - timedelta(days=ASK_AFTER_DAYS),
                then=Value(int(Loudness.ASK)),
            ),
            default=Value(int(Loudness.NOTICE)),
            output_field=IntegerField(),
        )
    )
    return marked


def lines(decisions: list[Any], today: date) -> list[HardwareLine]:
    """Return the lines of one page; one query for the pain of all of them."""
    pain = _pain(decision.procedure.injury_id for decision in decisions)
    return [
        line_of(decision, today, pain.get(decision.procedure.injury_id, ()))
        for decision in decisions
    ]


def line_of(decision: Any, today: date, pain: tuple[pain_course.Pain, ...] = ()) -> HardwareLine:
    """Say of one question why it is open and how much it insists."""
    construct = getattr(decision.procedure, "construct", None)
    kind = construct.construct_type if construct is not None else None
    done = decision.state == HardwareState.DONE
    facts = prompts.PromptFacts(
        # How long it was in, and whether it was late, is told as on the day it came out.
        today=decision.decided_on if done else today,
        performed_on=decision.procedure.performed_on,
        state=decision.state,
        waiting_since=decision.waiting_since,
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
        pain=pain,
    )


def pain_of(injury_id: int) -> tuple[pain_course.Pain, ...]:
    """Return the pain scores of one injury, oldest first."""
    return _pain([injury_id]).get(injury_id, ())


def history(procedure: Procedure) -> list[HardwareStep]:
    """Return every step about an operation's hardware, oldest first, with who took it."""
    steps = HardwareStep.objects.filter(decision__procedure=procedure)
    return list(steps.select_related("recorded_by", "decision__removal").order_by("id"))


def _pain(injuries: Iterable[int]) -> dict[int, tuple[pain_course.Pain, ...]]:
    rows = Score.objects.filter(
        injury_id__in=list(injuries), instrument="pain_nrs", value__isnull=False
    ).order_by("taken_on", "id")
    found: dict[int, list[pain_course.Pain]] = {}
    for row in rows:
        one = pain_course.Pain(row.taken_on, float(row.value), row.hardware_in_place != "no")
        found.setdefault(row.injury_id, []).append(one)
    return {injury_id: tuple(course) for injury_id, course in found.items()}


def _past_due(today: date) -> Q:
    """Say which constructs are past their removal time; one term for each such time, in weeks."""
    weeks = "procedure__construct__construct_type__removal_due_weeks"
    times = ConstructType.objects.filter(removal_due_weeks__isnull=False).order_by()
    past = Q(pk__in=[])
    for due in times.values_list("removal_due_weeks", flat=True).distinct():
        past |= Q(**{weeks: due}, procedure__performed_on__lt=today - timedelta(weeks=due or 0))
    return past
