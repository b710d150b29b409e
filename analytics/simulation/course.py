"""What becomes of a simulated case up to a day, drawn in the order in which it comes to light."""

from dataclasses import replace
from datetime import date, timedelta

from analytics.simulation import attendance, films, later, mishaps, setting, visits
from analytics.simulation.attendance import FIXATION_STEPS, Attendance
from analytics.simulation.draws import Draws
from analytics.simulation.mishaps import FILM_BEFORE_DAYS, HOOK_OPENS_DAYS, Fate
from analytics.simulation.records import SimBooking, SimCase, SimDecision, SimVisit
from analytics.simulation.span import Span, span_of
from analytics.simulation.truth import TRUTH
from analytics.simulation.visits import Course

SYMPTOMS_NOTED_AT = ("3m", "6m", "12m")


def course_of(rng: Draws, case: SimCase, until: date, *, stays: bool, a_year: float) -> SimCase:
    """Return the case with everything that happened to it up to a day.

    Somebody who `stays` neither dies nor leaves; `a_year` is how many operations its site does.
    """
    truth = TRUTH[case.construct_type]
    fracture = case.injury["kind"] == "lateral_clavicle"
    whole = films.shoulder(
        rng,
        union_share=truth.union,
        is_fracture=fracture,
        reduction_quality=case.operation["reduction_quality"],
    )
    nonunion = fracture and whole.union_day is None
    what = mishaps.fate(
        rng, case.construct_type, nonunion=nonunion, stays=stays, union_day=whole.union_day
    )
    span = span_of(what, case.performed_on, until)
    course = Course(
        operated=case.performed_on,
        side=case.injury["side"],
        sex=case.identity["sex"],
        shoulder=replace(whole, loss_day=what.loss_day),
        hardware_out_day=span.removal,
    )
    came, seen = _seen(rng, course, span)
    has_ended = what.ending_day is not None and what.ending_day <= span.elapsed
    case = replace(
        case,
        visits=seen,
        status=what.ending if has_ended else "active",
        status_on=course.on(span.ended) if has_ended else None,
        true_loss_day=what.loss_day,
        true_complication_day=what.first_complication_day(),
        true_union_day=whole.union_day,
    )
    case = _mishaps(rng, case, course, what, span, until)
    return _questions(rng, case, what, came, span, until, a_year)


def _seen(rng: Draws, course: Course, span: Span) -> tuple[Attendance, tuple[SimVisit, ...]]:
    taken = set() if span.removal is None else {span.removal}
    unplanned = []
    for operated_again in (span.removal, span.revision):
        if operated_again is not None:
            day = operated_again - FILM_BEFORE_DAYS
            taken.add(day)
            unplanned.append(visits.unplanned_film(rng, course, course.on(day)))
    came = attendance.attended(rng, FIXATION_STEPS, span.stops, frozenset(taken))
    planned = [visits.visit(rng, course, step, course.on(day)) for step, day in came.came]
    return came, tuple(sorted(planned + unplanned, key=lambda one: one.on))


def _mishaps(
    rng: Draws, case: SimCase, course: Course, what: Fate, span: Span, until: date
) -> SimCase:
    events = mishaps.complications(
        rng,
        what,
        course.operated,
        seen=[(visit.on - course.operated).days for visit in case.visits],
        revised=span.revision is not None,
        last=case.status_on or until,
    )
    operations = later.washouts(rng, events, course.on(min(span.elapsed, span.ended) - 1))
    if span.removal is not None:
        operations.append(later.removal(rng, case, course, span, span.removal))
    if span.revision is not None:
        operations.append(later.revision(rng, case, course, span, span.revision))
    return replace(
        case,
        complications=events,
        later=tuple(sorted(operations, key=lambda one: one.on)),
    )


def _questions(
    rng: Draws,
    case: SimCase,
    what: Fate,
    came: Attendance,
    span: Span,
    until: date,
    a_year: float,
) -> SimCase:
    operated, symptomatic_on = case.performed_on, _symptomatic_on(case, what)
    bookings: tuple[SimBooking, ...] = ()
    if span.is_followed:
        bookings = attendance.bookings(
            rng,
            FIXATION_STEPS,
            came,
            operated,
            until,
            weekdays=setting.clinic_weekdays(case.site),
            a_year=a_year,
        )
    return replace(
        case,
        symptomatic_on=symptomatic_on,
        decision=_decision(rng, case, symptomatic_on, until),
        missed=attendance.missed(rng, came, operated, span.stops),
        attempts=attendance.attempts(
            rng, came, operated, span.stops, has_phone=bool(case.identity["phone"])
        ),
        bookings=bookings,
    )


def _symptomatic_on(case: SimCase, what: Fate) -> date | None:
    """Symptoms are noted at a visit from three months on, while the implant is in."""
    seen = [
        one.on for one in case.visits if one.step in SYMPTOMS_NOTED_AT and one.hardware_in_place
    ]
    return seen[0] if seen and what.symptomatic else None


def _decision(
    rng: Draws, case: SimCase, symptomatic_on: date | None, until: date
) -> SimDecision | None:
    planned = TRUTH[case.construct_type].planned_removal > 0
    opens = case.performed_on + timedelta(days=HOOK_OPENS_DAYS)
    removal = case.first_later("implant_removal")
    is_over = case.status != "active" or case.first_later("revision_fixation") is not None
    if removal is None and is_over:
        # With the patient or the implant gone there is nothing left to decide.
        return None
    return mishaps.decision(
        rng,
        planned=planned,
        raised_on=opens if planned else symptomatic_on,
        removed_on=removal.on if removal else None,
        until=until,
    )
