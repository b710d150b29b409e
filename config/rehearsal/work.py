"""What the coordinator and the surgeon of the rehearsal do on a day, from the lists that they see."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any

from config.rehearsal.lives import Life
from config.rehearsal.stage import Stage
from followup.models import Appointment, HardwareDecision, Review
from followup.models.hardware import HardwareState
from followup.models.reviews import AppointmentState, ReviewState
from followup.rules import prompts, requirements
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import due, slots
from followup.services import completion, contacts, hardware, reviews, visits
from followup.services.visits import FilmFound, VisitFindings
from registry.models.procedures import Procedure, ProcedureKind
from registry.services import enrolment

CALLS_A_DAY = 30
DAYS_BETWEEN_CALLS = 3
NOTICE_DAYS = 2
DEFER_DAYS = 42
Lives = Mapping[int, Life]


def ring_round(stage: Stage, lives: Lives, *, now: datetime, today: date) -> None:
    """Go down the Due list: ring, and book whoever answers."""
    rows = due.due_reviews(stage.coordinator, today, due.DueFilter(show="unbooked"))
    listed = rows.select_related("procedure__injury", "step", "site")
    for review in islice(list(listed), CALLS_A_DAY):
        life = lives[review.procedure.injury.patient_id]
        last = life.tried_on.get(review.pk)
        if last is not None and (today - last).days < DAYS_BETWEEN_CALLS:
            continue
        life.tried_on[review.pk] = today
        if _rung(review, life, stage, now) and not _book(review, stage, now=now, today=today):
            raise RuntimeError(f"no slot for {review} from {today} on")


def _rung(review: Review, life: Life, stage: Stage, now: datetime) -> bool:
    if life.wrong_number:
        outcome, answered = "wrong_contact", False
    else:
        answered = life.draws.chance(life.habits.answers_calls)
        outcome = "reached" if answered else "no_answer"
    contacts.record_attempt(
        review=review, means="phone", outcome=outcome, note="", by=stage.coordinator, now=now
    )
    return answered


def _book(review: Review, stage: Stage, *, now: datetime, today: date) -> bool:
    first = today + timedelta(days=NOTICE_DAYS)
    for slot in slots.free_slots(review, first):
        reviews.book(
            review=review,
            clinic=slot.clinic,
            on=slot.on,
            at=slot.at,
            expected_version=review.version,
            by=stage.coordinator,
            now=now,
            today=today,
        )
        return True
    return False


def hold_clinic(stage: Stage, lives: Lives, *, now: datetime, today: date) -> None:
    """See who came of those who are booked today, and note who did not."""
    booked = Appointment.objects.filter(
        site=stage.site, on=today, state=AppointmentState.BOOKED
    ).select_related("review__procedure__injury", "review__step", "review__site")
    for slot in booked.order_by("at", "pk"):
        life, review = lives[slot.review.procedure.injury.patient_id], slot.review
        if life.draws.chance(life.habits.keeps):
            see(review, stage, now=now, today=today)
        else:
            reviews.miss(
                review=review, expected_version=review.version, by=stage.coordinator, now=now
            )


def see_who_comes_late(
    stage: Stage, lives: Lives, *, now: datetime, today: date
) -> Iterator[Review]:
    """See those who come unbooked, days after they missed a slot or after its window has closed."""
    rows = Review.objects.filter(
        site=stage.site,
        state__in=[ReviewState.MISSED, ReviewState.LAPSED],
        missed_count__gte=1,
        closes_on__range=(today - timedelta(days=14), today + timedelta(days=60)),
        procedure__injury__patient__status="active",
    ).select_related("procedure__injury", "step", "site")
    for review in rows.order_by("pk"):
        life = lives[review.procedure.injury.patient_id]
        if life.draws.chance(life.habits.comes_late / 10):
            see(review, stage, now=now, today=today)
            if life.wrong_number:
                yield review


def see(review: Review, stage: Stage, *, now: datetime, today: date) -> None:
    """Save a visit at which everything was collected that its step asks for."""
    visits.save_visit(
        review=review,
        visited_on=today,
        findings=findings(review, today),
        expected_version=review.version,
        by=stage.surgeon,
        now=now,
        today=today,
    )


def findings(review: Review, today: date) -> VisitFindings:
    """Return findings that leave nothing of a step open; nothing in them is remarkable."""
    wanted, side = completion.wanted_by(review), review.procedure.injury.side
    both = set(wanted.other_side_views)
    films = [
        FilmFound(
            {
                "taken_on": today,
                "view": view,
                "posture": "upright",
                "weighted": "no",
                "calibration": "none",
                "shows_both_sides": view in both,
            }
        )
        for view in dict.fromkeys((*wanted.film_views, *wanted.other_side_views))
    ]
    exam = {"side": side, "mode": "active", "flexion_deg": 120, "abduction_deg": 110}
    return VisitFindings(
        films=films,
        motion=[exam] if wanted.motion else [],
        score_totals={code: INSTRUMENTS[code].best for code in wanted.scores},
        asked=[*requirements.ASKED, *map(requirements.free_item, wanted.free_items)],
    )


def answer_removals(stage: Stage, lives: Lives, *, now: datetime, today: date) -> None:
    """Decide what waits for a decision about hardware, as each patient and surgeon would."""
    waiting = HardwareDecision.objects.filter(
        site=stage.site, state__in=sorted(prompts.OPEN)
    ).select_related("procedure__injury__patient", "procedure__site")
    for decision in waiting.order_by("pk"):
        life = lives[decision.procedure.injury.patient_id]
        wanted = _wanted(decision, life, today)
        if not life.is_here or not wanted:
            continue
        if wanted == HardwareState.DONE:
            _remove(decision.procedure, stage, now, today)
            continue
        values: dict[str, Any] = {"reason": "rehearsed"}
        if wanted == HardwareState.DEFERRED:
            values["deferred_until"] = today + timedelta(days=DEFER_DAYS)
        hardware.decide(
            decision=decision,
            state=wanted,
            values=values,
            expected_version=decision.version,
            by=stage.surgeon,
            now=now,
            today=today,
        )


def _wanted(decision: HardwareDecision, life: Life, today: date) -> str:
    """Return what becomes of a question today, '' while it is left."""
    about, asked = life.habits.about_removal, (today - decision.raised_on).days
    if about == "ignored" or asked < life.habits.waits_days:
        return ""
    if decision.state == HardwareState.DEFERRED:
        # It is asked again on its day, and then the hardware comes out.
        over = decision.deferred_until is not None and decision.deferred_until <= today
        return HardwareState.DONE if over else ""
    if about == "deferred" and asked > DEFER_DAYS:
        return HardwareState.DONE
    return about if decision.state in (HardwareState.RAISED, HardwareState.DISCUSSED) else ""


def _remove(procedure: Procedure, stage: Stage, now: datetime, today: date) -> None:
    enrolment.record_procedure(
        injury=procedure.injury,
        values={
            "kind": ProcedureKind.IMPLANT_REMOVAL,
            "performed_on": today,
            "surgeon": stage.surgeon,
            "revises": procedure,
            "planned_removal": True,
        },
        by=stage.surgeon,
        now=now,
        today=today,
    )
