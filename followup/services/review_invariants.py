"""What must hold of reviews, slots and what is asked about hardware."""

from collections.abc import Iterator

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet

from followup.models.hardware import HardwareDecision, HardwareState, HardwareStep
from followup.models.hospital_slots import HospitalSlot
from followup.models.reviews import Appointment, AppointmentState, Review, ReviewState
from followup.rules import prompts
from followup.selectors import sums
from followup.services.hardware import STEP_OF
from followup.services.planning import PURPOSE
from registry.models.moves import RecordMove
from registry.services.invariants import AT_ONCE, Breach, Invariant, Looking, broken_by


def _states(looking: Looking) -> Iterator[Breach]:
    slots = Appointment.objects.filter(review=OuterRef("pk"))
    booked = Exists(slots.filter(state=AppointmentState.BOOKED))
    reviews = Review.objects.all()
    yield from broken_by(
        reviews.filter(~booked, state=ReviewState.BOOKED), "it is booked and has no slot"
    )
    yield from broken_by(
        reviews.filter(booked).exclude(state=ReviewState.BOOKED),
        "it is not booked and a slot is kept free for it",
    )
    yield from broken_by(
        reviews.filter(state=ReviewState.MISSED, missed_count=0),
        "it was missed and counts no time at which it was",
    )
    yield from broken_by(
        reviews.filter(complete=True).exclude(state=ReviewState.ATTENDED),
        "it is complete and was not attended",
    )
    yield from broken_by(
        Review.objects.filter(procedure__voided_at__isnull=False),
        "it stands and its operation is void",
    )


def _counted_once(looking: Looking) -> Iterator[Breach]:
    """Every review stands in exactly one of the ways in which the daily sums count it."""
    ways = [rule for _, rule in sums.WAYS.values()]
    everything = Review.objects.all()
    for number, rule in enumerate(ways):
        others = Q(pk__in=[])
        for other in ways[number + 1 :]:
            others |= other
        yield from broken_by(
            everything.filter(rule).filter(others), "it stands in two ways at once"
        )
    known = Q(pk__in=[])
    for rule in ways:
        known |= rule
    yield from broken_by(everything.exclude(known), "it stands in no way that is known")


def _schedules(looking: Looking) -> Iterator[Breach]:
    once = Review.objects.order_by().values("procedure", "step__code").annotate(many=Count("pk"))
    for row in once.filter(many__gt=1).iterator(chunk_size=AT_ONCE):
        where = f"registry_procedure {row['procedure']}"
        yield Breach(where, f"step '{row['step__code']}' was planned {row['many']} times")
    for kind, purpose in PURPOSE.items():
        rows = Review.objects.filter(procedure__kind=kind)
        yield from broken_by(
            rows.exclude(step__version__protocol__purpose=purpose),
            "it is of a protocol for another kind of operation",
        )
    foreign = Q(step__version__protocol__site__isnull=False)
    yield from broken_by(
        Review.objects.filter(foreign).exclude(step__version__protocol__site=F("site")),
        "it is of a protocol of another site",
    )


def _slots(looking: Looking) -> Iterator[Breach]:
    standing = Appointment.objects.filter(state=AppointmentState.BOOKED)
    yield from broken_by(
        standing.filter(review__voided_at__isnull=False), "it stands and its review is void"
    )
    told = HospitalSlot.objects.filter(appointment__isnull=False)
    injury = F("appointment__review__procedure__injury__patient")
    since = Exists(_moves_of(OuterRef("appointment__review__procedure__injury")))
    yield from broken_by(
        told.exclude(Q(patient=injury) | Q(patient__merged_into=injury)).filter(~since),
        "its slot is of another patient's review",
    )


def _moves_of(injury: OuterRef) -> "QuerySet[RecordMove]":
    return RecordMove.objects.filter(Q(injury=injury) | Q(procedure__injury=injury))


def _questions(looking: Looking) -> Iterator[Breach]:
    open_ones = HardwareDecision.objects.filter(state__in=sorted(prompts.OPEN)).order_by()
    twice = open_ones.values("procedure").annotate(many=Count("pk")).filter(many__gt=1)
    for row in twice.iterator(chunk_size=AT_ONCE):
        where = f"registry_procedure {row['procedure']}"
        yield Breach(where, f"{row['many']} questions about its hardware are open at once")
    done = HardwareDecision.objects.filter(state=HardwareState.DONE)
    yield from broken_by(
        done.exclude(removal__revises=F("procedure")),
        "it was settled by the removal of another construct",
    )
    yield from broken_by(
        done.filter(removal__voided_at__isnull=False), "it was settled by a removal that is void"
    )
    every = HardwareDecision.objects.all()
    steps = HardwareStep.objects.filter(decision=OuterRef("pk"))
    yield from broken_by(every.filter(~Exists(steps)), "no step says how it came to be asked")
    for state, kind in {**STEP_OF, HardwareState.DONE: "done"}.items():
        if state == HardwareState.RAISED:
            continue
        taken = Exists(steps.filter(kind=kind))
        yield from broken_by(every.filter(~taken, state=state), f"no step says that it is {state}")


INVARIANTS = (
    Invariant("review_states", "The state of a review fits its slots and its facts.", _states),
    Invariant("review_sums", "Each review stands in exactly one way.", _counted_once),
    Invariant("schedules", "A step of a protocol is planned once for an operation.", _schedules),
    Invariant("slots", "A slot that stands has a review that does, of its patient.", _slots),
    Invariant("hardware_questions", "One question a construct is open, by its steps.", _questions),
)
